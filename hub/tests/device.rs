//! Devices and their hub over TLS, as they meet in a shop.

mod shop;

use evenwire_core::record::{Details, DeviceKey, Event, Head, Renewal, SignedHead, SignedJob};
use evenwire_core::sync::{Change, HeadsStored, MOST_BATCH_BYTES, MOST_BLOB_BYTES, PairingState, Stored};
use evenwire_hub::app::{Rates, random_id};
use evenwire_hub::storage::{From, NotStored, Wanted};
use evenwire_hub::tls::HOST;
use reqwest::Method;
use shop::{MINUTE, Phone, Shop, code, done, seal, trusting};

fn anna() -> Details {
    Details { customer: "Anna Beispiel".to_owned(), plate: "XX-AB 123".to_owned(), ..Details::default() }
}

#[tokio::test]
async fn a_phone_is_invited_taken_in_and_brings_its_ledger_and_what_stands_beside_it() {
    let shop = Shop::open().await;
    let mut phone = Phone::new(&shop, "Bench 2");
    let invitation = shop.hub().app.invite(None).await.unwrap();
    let view = phone.ask_pairing(&phone.pairing_ask(&invitation)).await.unwrap();
    assert_eq!(view.state, PairingState::Waiting);
    assert_eq!(code(phone.try_sign_in().await), "unknown-device", "nobody said yes yet");
    let app = &shop.hub().app;
    let waiting = app.storage.pairings_waiting(app.clock.now_ms()).await.unwrap();
    assert_eq!((waiting.len(), waiting[0].name.as_str()), (1, "Bench 2"));
    let authority = invitation.authority().unwrap();
    let digits = evenwire_core::sync::six_digits(invitation.hub, &authority, phone.id, &phone.key.public());
    assert_eq!(app.digits_of(&waiting[0]), digits);
    app.storage.decide_pairing(view.pairing, true, (None, app.clock.now_ms())).await.unwrap().unwrap();
    assert_eq!(phone.look(view.pairing).await.unwrap().state, PairingState::Accepted);
    phone.sign_in().await;

    let kept = phone.open_job("W-2041", &anna());
    let photo = phone.take_photo(kept.job, b"a picture");
    assert_eq!(phone.tail().await.unwrap().next_sequence, 1);
    let stored = phone.push_from(1).await.unwrap();
    assert_eq!(stored, Stored { stored_through: 2, hash: phone.ledger[1].hash() });
    assert_eq!(phone.push_from(1).await.unwrap(), stored, "the same once more");
    assert_eq!(phone.push_from(2).await.unwrap(), stored, "a part of it once more");
    let tail = phone.tail().await.unwrap();
    assert_eq!((tail.next_sequence, tail.hash, tail.missing), (3, stored.hash, 2));

    let nobodys = evenwire_core::record::Hash::of(b"nobody's");
    let asked = [photo, nobodys, kept.commitment(), photo];
    assert_eq!(phone.missing(&asked).await.unwrap(), [photo, kept.commitment()]);
    assert_eq!(code(phone.put(photo, b"another picture").await), "hash-differs");
    assert_eq!(code(phone.put(nobodys, b"nobody's").await), "not-wanted");
    phone.put(photo, b"a picture").await.unwrap();
    phone.put(photo, b"a picture").await.unwrap();
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    assert_eq!(phone.missing(&asked).await.unwrap(), []);
    assert_eq!(phone.tail().await.unwrap().missing, 0);
    assert_eq!(app.blobs.get(photo).await.unwrap().as_deref(), Some(&b"a picture"[..]));
    let device = app.storage.device(phone.id).await.unwrap().unwrap();
    assert_eq!(app.storage.entries(device.number, 1, 10).await.unwrap(), phone.ledger);
}

#[tokio::test]
async fn a_gap_and_a_fork_are_told_where_they_are_and_nothing_of_them_is_stored() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    for conductor in 0..5 {
        phone.write(None, &Event::ConductorChosen { conductor });
    }
    phone.push(&phone.batch(&phone.ledger[..2])).await.unwrap();
    let gap = phone.push_from(4).await.unwrap_err();
    assert_eq!((gap.code.as_str(), gap.expected, gap.status), ("gap", Some(3), 409));

    // A copy of the phone wrote something else as its second entry.
    let mut copy = Head { device: phone.id, sequence: 1, hash: phone.ledger[0].hash() };
    let (kind, body) = Event::ConductorChosen { conductor: 9 }.parts();
    let others = [phone.ledger[0].clone(), seal(&mut copy, None, (&kind, body))];
    let fork = phone.push(&phone.batch(&others)).await.unwrap_err();
    assert_eq!((fork.code.as_str(), fork.sequence, fork.status), ("fork", Some(2), 409));
    assert_eq!(code(phone.push(&phone.batch(&others)).await), "fork");
    let app = &shop.hub().app;
    let device = app.storage.device(phone.id).await.unwrap().unwrap();
    assert_eq!((device.forks, device.tail.sequence), (1, 2));
    let evidence = app.storage.forks(device.number).await.unwrap();
    assert_eq!((evidence[0].0, evidence[0].1.as_slice()), (2, others[1].bytes()));
    phone.push_from(3).await.unwrap();
    assert_eq!(app.storage.entries(device.number, 1, 10).await.unwrap(), phone.ledger);
}

#[tokio::test]
async fn a_batch_signed_by_another_or_for_another_is_not_taken() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let other = shop.phone("Bench 2").await;
    phone.write(None, &Event::JobFinished {});
    let mut ask = phone.batch(&phone.ledger);
    ask.head = other.batch(&phone.ledger).head;
    assert_eq!(code(phone.push(&ask).await), "signature");
    assert_eq!(code(other.push(&phone.batch(&phone.ledger)).await), "signature");
    phone.hub = random_id();
    assert_eq!(code(phone.push_from(1).await), "signature");
    assert_eq!(phone.tail().await.unwrap().next_sequence, 1);
}

#[tokio::test]
async fn whoever_has_no_good_token_is_told_so_at_every_door() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    phone.write(None, &Event::JobFinished {});
    let good = phone.token.clone();
    for (token, expected) in [("", "token"), ("nonsense", "token"), (good.as_str(), "")] {
        phone.token = token.to_owned();
        assert_eq!(at_every_door(&phone).await, expected, "{token}");
    }
    shop.pass(14 * MINUTE);
    assert_eq!(at_every_door(&phone).await, "");
    shop.pass(MINUTE);
    assert_eq!(at_every_door(&phone).await, "token", "fifteen minutes are over");
    phone.sign_in().await;
    let app = &shop.hub().app;
    assert!(app.storage.revoke(phone.id, app.clock.now_ms()).await.unwrap());
    assert_eq!(at_every_door(&phone).await, "revoked");
    assert_eq!(code(phone.try_sign_in().await), "revoked");
    // Invited again, it goes on where it was.
    assert_eq!(phone.pair(&shop, true).await, PairingState::Accepted);
    phone.sign_in().await;
    assert_eq!(at_every_door(&phone).await, "");
}

#[tokio::test]
async fn a_device_that_is_taken_off_while_it_sends_is_stopped_where_it_is() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let job = phone.open_job("W-1", &anna()).job;
    let photo = phone.take_photo(job, b"a plate");
    phone.push_from(1).await.unwrap();
    phone.write(Some(job), &Event::JobFinished {});
    let app = &shop.hub().app;
    let device = app.storage.device(phone.id).await.unwrap().unwrap();
    // Its token was looked at before; what it brings comes to the storage after it was taken off.
    app.storage.revoke(phone.id, app.clock.now_ms()).await.unwrap();
    let from = From { hub: app.hub, number: device.number, device: device.id, key: device.key, at_ms: 0 };
    let pushed = app.storage.push(from, serde_json::to_vec(&phone.batch(&phone.ledger)).unwrap()).await.unwrap();
    assert_eq!(pushed, Err(NotStored::Revoked));
    assert_eq!(app.storage.wants(device.number, photo).await.unwrap(), Wanted::Revoked);
    assert_eq!(app.storage.note_blob(device.number, (photo, 7), 0).await.unwrap(), Wanted::Revoked);
    assert_eq!(app.storage.put_heads(from, Vec::new()).await.unwrap(), None);
    let device = app.storage.device(phone.id).await.unwrap().unwrap();
    assert_eq!((device.tail.sequence, device.missing), (2, 2));
}

/// The code of the refusal that all doors give, or nothing when none does.
async fn at_every_door(phone: &Phone) -> String {
    let hash = phone.ledger[0].hash();
    let mut codes = vec![
        phone.tail().await.err().map(|problem| problem.code),
        phone.push_from(1).await.err().map(|problem| problem.code),
        phone.missing(&[hash]).await.err().map(|problem| problem.code),
        phone.changes(0).await.err().map(|problem| problem.code),
        phone.heads(Vec::new()).await.err().map(|problem| problem.code),
    ];
    // What no entry names is refused at the last door, whoever brings it.
    let put = phone.put(hash, b"").await.err().map(|problem| problem.code);
    codes.push(put.filter(|code| code != "not-wanted"));
    codes.dedup();
    assert_eq!(codes.len(), 1, "{codes:?}");
    codes[0].clone().unwrap_or_default()
}

#[tokio::test]
async fn an_assertion_is_taken_once_in_time_and_for_this_hub_alone() {
    let shop = Shop::open().await;
    let phone = shop.phone("Bench 1").await;
    let other = shop.phone("Bench 2").await;
    let now = shop.hub().app.clock.now_ms();
    let once = phone.assertion(now).sign(&phone.key);
    phone.ask_token(once.clone()).await.unwrap();
    assert_eq!(code(phone.ask_token(once).await), "signature");
    let mut long = phone.assertion(now);
    long.exp = now / 1000 + 5 * 60 + 30;
    assert_eq!(code(phone.ask_token(long.sign(&phone.key)).await), "signature");
    let mut over = phone.assertion(now);
    over.exp = now / 1000 - 1;
    assert_eq!(code(phone.ask_token(over.sign(&phone.key)).await), "signature");
    let mut elsewhere = phone.assertion(now);
    elsewhere.aud = random_id();
    assert_eq!(code(phone.ask_token(elsewhere.sign(&phone.key)).await), "signature");
    assert_eq!(code(phone.ask_token(phone.assertion(now).sign(&other.key)).await), "signature");
    let mut for_other = phone.assertion(now);
    for_other.sub = other.id;
    assert_eq!(code(phone.ask_token(for_other.sign(&phone.key)).await), "signature");
    assert_eq!(code(phone.ask_token("a.b.c".to_owned()).await), "signature");
}

#[tokio::test]
async fn an_invitation_is_for_one_device_and_for_ten_minutes() {
    let shop = Shop::open().await;
    let app = &shop.hub().app;
    let (phone, other) = (Phone::new(&shop, "Bench 1"), Phone::new(&shop, "Bench 2"));
    let invitation = app.invite(None).await.unwrap();
    let first = phone.ask_pairing(&phone.pairing_ask(&invitation)).await.unwrap();
    assert_eq!(phone.ask_pairing(&phone.pairing_ask(&invitation)).await.unwrap(), first, "the answer was lost");
    assert_eq!(code(other.ask_pairing(&other.pairing_ask(&invitation)).await), "code");
    let mut ask = other.pairing_ask(&invitation);
    ask.key = phone.key.public();
    assert_eq!(code(other.ask_pairing(&ask).await), "signature");
    shop.pass(10 * MINUTE);
    assert_eq!(phone.look(first.pairing).await.unwrap().state, PairingState::Over);
    let at = (None, app.clock.now_ms());
    assert!(app.storage.decide_pairing(first.pairing, true, at).await.unwrap().is_err(), "its time is over");
    let late = app.invite(None).await.unwrap();
    shop.pass(10 * MINUTE);
    assert_eq!(code(other.ask_pairing(&other.pairing_ask(&late)).await), "code");
    assert_eq!(code(phone.look(random_id()).await), "not-found");
    assert_eq!(phone.pair(&shop, false).await, PairingState::Refused);

    // Whoever comes with the id of a known device and another key is somebody else.
    assert_eq!(phone.pair(&shop, true).await, PairingState::Accepted);
    let mut stranger = Phone::new(&shop, "Bench 1");
    stranger.id = phone.id;
    let invitation = app.invite(None).await.unwrap();
    assert_eq!(code(stranger.ask_pairing(&stranger.pairing_ask(&invitation)).await), "other-key");
    let mut nameless = Phone::new(&shop, "   ");
    assert_eq!(code(nameless.ask_pairing(&nameless.pairing_ask(&invitation)).await), "unreadable");
    nameless.name = "n".repeat(61);
    assert_eq!(code(nameless.ask_pairing(&nameless.pairing_ask(&invitation)).await), "unreadable");
}

#[tokio::test]
async fn codes_and_tokens_cannot_be_tried_without_end() {
    let shop = Shop::open_with(Rates::a_minute(3, 2, 1)).await;
    let phone = Phone::new(&shop, "Bench 1");
    let mut invitation = shop.hub().app.invite(None).await.unwrap();
    invitation.code = "0000000000".to_owned();
    for _ in 0..3 {
        assert_eq!(code(phone.ask_pairing(&phone.pairing_ask(&invitation)).await), "code");
    }
    assert_eq!(code(phone.ask_pairing(&phone.pairing_ask(&invitation)).await), "too-often");
    for _ in 0..2 {
        assert_eq!(code(phone.ask_token("a.b.c".to_owned()).await), "signature");
    }
    assert_eq!(code(phone.ask_token("a.b.c".to_owned()).await), "too-often");
}

#[tokio::test]
async fn what_is_too_large_is_refused_and_the_largest_is_taken() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let job = phone.open_job("W-1", &Details::default()).job;
    let largest = vec![7; MOST_BLOB_BYTES];
    let photo = phone.take_photo(job, &largest);
    phone.push_from(1).await.unwrap();
    assert_eq!(code(phone.put(photo, &vec![7; MOST_BLOB_BYTES + 1]).await), "too-large");
    phone.put(photo, &largest).await.unwrap();
    let body = vec![b' '; MOST_BATCH_BYTES + 65 * 1024];
    let request = phone.request(Method::POST, "/v1/devices/me/entries").body(body);
    assert_eq!(code(done(request).await.map(drop)), "too-large");
    let body = vec![b' '; 65 * 1024];
    assert_eq!(code(done(phone.request(Method::POST, "/v1/pairings").body(body)).await.map(drop)), "too-large");
    let many = vec![photo; 501];
    assert_eq!(code(phone.missing(&many).await), "too-large");
    let start = phone.ledger.len() + 1;
    for _ in 0..501 {
        phone.write(None, &Event::JobFinished {});
    }
    assert_eq!(code(phone.push_from(start).await), "too-large");
    phone.push(&phone.batch(&phone.ledger[start - 1..start + 499])).await.unwrap();
    for text in ["", "{", r#"{"first_sequence":1,"entries":[],"head":""}"#] {
        let request = phone.request(Method::POST, "/v1/devices/me/entries").body(text);
        assert_eq!(code(done(request).await.map(drop)), "unreadable", "{text}");
    }
}

#[tokio::test]
async fn only_the_authority_of_the_invitation_is_believed() {
    let (shop, other) = (Shop::open().await, Shop::open().await);
    let client = trusting(other.hub().app.certificates.authority(), shop.hub().listens);
    let url = format!("https://{HOST}:{}/healthz", shop.hub().listens.port());
    let error = client.get(&url).send().await.unwrap_err();
    assert!(error.is_connect(), "{error:?}");
    assert_eq!(shop.client().get(&url).send().await.unwrap().text().await.unwrap(), "ok\n");
    let ready = url.replace("healthz", "readyz");
    assert_eq!(shop.client().get(&ready).send().await.unwrap().text().await.unwrap(), "ready\n");
}

#[tokio::test]
async fn a_hub_that_was_restarted_goes_on_where_it_was() {
    let mut shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let kept = phone.open_job("W-7", &anna());
    let stored = phone.push_from(1).await.unwrap();
    shop.restart().await;
    phone.move_to(&shop);
    let tail = phone.tail().await.unwrap();
    assert_eq!((tail.next_sequence, tail.hash, tail.missing), (2, stored.hash, 1), "with the token it had");
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    phone.write(Some(kept.job), &Event::JobFinished {});
    assert_eq!(phone.push_from(2).await.unwrap().stored_through, 2);
}

#[tokio::test]
async fn a_hub_that_lost_its_disk_is_another_one_and_gets_everything_once_more() {
    let mut shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    phone.open_job("W-7", &anna());
    phone.push_from(1).await.unwrap();
    let before = shop.hub().app.hub;
    shop.stop().await;
    shop.lose_everything();
    shop.begin_again().await;
    phone.move_to(&shop);
    assert_ne!(shop.hub().app.hub, before, "it is another hub");
    assert_eq!(code(phone.tail().await), "token");
    assert_eq!(code(phone.try_sign_in().await), "unknown-device");
    phone.token.clear();
    assert_eq!(phone.pair(&shop, true).await, PairingState::Accepted);
    phone.sign_in().await;
    assert_eq!(phone.tail().await.unwrap().next_sequence, 1);
    assert_eq!(phone.push_from(1).await.unwrap().stored_through, 1);
}

#[tokio::test]
async fn two_hubs_run_on_one_folder_only_where_their_rows_are_in_one_database() {
    let shop = Shop::open().await;
    assert_eq!(shop.try_another().await.is_ok(), shop.store.is_some());
}

#[tokio::test]
async fn the_office_reaches_one_device_or_all_of_them() {
    let shop = Shop::open().await;
    let (phone, other) = (shop.phone("Bench 1").await, shop.phone("Bench 2").await);
    let app = &shop.hub().app;
    let note = |text: &str| Change::Note { job: None, text: text.to_owned() };
    assert!(app.storage.tell(Some(phone.id), note("for one"), 0).await.unwrap());
    assert!(app.storage.tell(None, note("for all"), 0).await.unwrap());
    assert!(!app.storage.tell(Some(random_id()), note("for nobody"), 0).await.unwrap());
    let texts = |changes: &evenwire_core::sync::Changes| -> Vec<(u64, Change)> {
        changes.changes.iter().map(|one| (one.number, one.change.clone())).collect()
    };
    assert_eq!(texts(&phone.changes(0).await.unwrap()), [(1, note("for one")), (2, note("for all"))]);
    assert_eq!(texts(&other.changes(0).await.unwrap()), [(2, note("for all"))]);
    assert_eq!(texts(&phone.changes(2).await.unwrap()), []);
    for _ in 0..100 {
        app.storage.tell(None, note("more"), 0).await.unwrap();
    }
    let page = phone.changes(0).await.unwrap();
    assert_eq!((page.changes.len(), page.more), (100, true));
    let rest = phone.changes(page.changes[99].number).await.unwrap();
    assert_eq!((rest.changes.len(), rest.more), (2, false));
}

#[tokio::test]
async fn a_closed_job_is_proved_at_the_hub_by_its_signed_head() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let job = phone.open_job("W-1", &anna()).job;
    phone.write(None, &Event::ConductorChosen { conductor: 1 });
    phone.write(Some(job), &Event::JobFinished {});
    phone.push_from(1).await.unwrap();
    let of_job = [phone.ledger[0].hash(), phone.ledger[2].hash()];
    let head = SignedHead {
        device: phone.id,
        sequence: 3,
        hash: phone.ledger[2].hash(),
        job: Some(SignedJob::of(job, of_job)),
    };
    let good = head.sign(&phone.key);
    let wrong = [
        SignedHead { sequence: 2, hash: phone.ledger[1].hash(), ..head.clone() }.sign(&phone.key),
        SignedHead { hash: phone.ledger[1].hash(), ..head.clone() }.sign(&phone.key),
        SignedHead { job: Some(SignedJob::of(job, [of_job[0]])), ..head.clone() }.sign(&phone.key),
        SignedHead { job: None, ..head.clone() }.sign(&phone.key),
        SignedHead { device: random_id(), ..head.clone() }.sign(&phone.key),
        head.sign(&DeviceKey::from_seed([9; 32])),
        "a.b.c".to_owned(),
    ];
    let all = || wrong.iter().cloned().chain([good.clone()]).collect();
    assert_eq!(phone.heads(all()).await.unwrap(), HeadsStored { stored: 1, passed_over: 7 });
    assert_eq!(phone.heads(all()).await.unwrap(), HeadsStored { stored: 1, passed_over: 7 }, "once more");
    let storage = &shop.hub().app.storage;
    let number = storage.device(phone.id).await.unwrap().unwrap().number;
    assert_eq!(storage.heads_of(number, job).await.unwrap(), std::slice::from_ref(&good));
    assert_eq!(code(phone.heads(vec![good; 51]).await), "too-large");
}

#[tokio::test]
async fn a_head_signed_under_an_earlier_key_of_the_same_ledger_is_believed_if_the_ledger_names_that_key() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let earlier = (random_id(), DeviceKey::from_seed([9; 32]));
    phone.head = Head::empty(earlier.0);
    phone.write(None, &Event::DeviceKeyed { key: earlier.1.public() });
    let job = phone.open_job("W-1", &anna()).job;
    phone.write(Some(job), &Event::JobFinished {});
    let of_job = SignedJob::of(job, [phone.ledger[1].hash(), phone.ledger[2].hash()]);
    let hash = phone.ledger[2].hash();
    let renewed =
        Event::IdentityRenewed { from_device: earlier.0, from_sequence: 3, from_hash: hash, reason: Renewal::Restored };
    phone.head = Head { device: phone.id, sequence: 3, hash };
    phone.write(None, &renewed);
    phone.push_from(1).await.unwrap();
    let head = SignedHead { device: earlier.0, sequence: 3, hash, job: Some(of_job) };
    let heads = vec![head.sign(&phone.key), head.sign(&earlier.1)];
    assert_eq!(phone.heads(heads).await.unwrap(), HeadsStored { stored: 1, passed_over: 1 });
}
