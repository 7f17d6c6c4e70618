//! The office over TLS: what it is shown of devices and jobs, and what it does with them.

mod seat;
mod shop;

use evenwire_core::claim::{self, Parcel};
use evenwire_core::procedure::built_in;
use evenwire_core::record::{Details, Event, Hash, Sealed, SignedHead, SignedJob};
use evenwire_core::sync::{Change, Invitation, six_digits};
use reqwest::StatusCode;
use seat::begun;
use serde_json::json;
use shop::{Phone, Shop};
use uuid::Uuid;

fn anna() -> Details {
    Details { customer: "Anna Beispiel".into(), plate: "XX-AB 123".into(), ..Details::default() }
}

#[tokio::test]
async fn a_device_is_invited_taken_in_by_its_digits_and_put_out() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let other = owner.post("/v1/office/invitations", json!({})).await.body;
    let stranger = Phone::new(&shop, "Bench ?");
    let asked = stranger.pairing_ask(&Invitation::read(other["text"].as_str().unwrap()).unwrap());
    let asked = stranger.ask_pairing(&asked).await.unwrap();
    owner.done(&format!("/v1/office/pairings/{}", asked.pairing), json!({ "same": false })).await;
    let drawn = owner.post("/v1/office/invitations", json!({})).await.body;
    assert!(drawn["path"].as_str().unwrap().starts_with("M0 0h7v1h-7z"));
    let invitation = Invitation::read(drawn["text"].as_str().unwrap()).unwrap();
    assert_eq!(invitation.name, "Lötauge & Sohn");
    let mut phone = Phone::new(&shop, "Bench 2");
    phone.ask_pairing(&phone.pairing_ask(&invitation)).await.unwrap();
    let waiting = owner.get("/v1/office/devices").await["pairings"][0].clone();
    let digits = six_digits(invitation.hub, &invitation.authority().unwrap(), phone.id, &phone.key.public());
    assert_eq!((&waiting["name"], &waiting["digits"]), (&json!("Bench 2"), &json!(digits)));
    let path = format!("/v1/office/pairings/{}", waiting["pairing"].as_str().unwrap());
    owner.done(&path, json!({ "same": true })).await;
    assert_eq!(owner.post(&path, json!({ "same": true })).await.code(), "not-here", "it does not wait any more");

    phone.sign_in().await;
    let kept = phone.open_job("W-2041", &anna());
    phone.take_photo(kept.job, b"a picture");
    phone.push_from(1).await.unwrap();
    let device = owner.get("/v1/office/devices").await["devices"][0].clone();
    let missing = json!({ "photos": 1, "samples": 0, "details": 1, "people": 0 });
    assert_eq!((&device["stored_through"], &device["missing"]), (&json!(2), &missing));
    assert_eq!(device["fingerprint"], json!(phone.key.public().fingerprint()));
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    let device = owner.get("/v1/office/today").await["devices"][0].clone();
    assert_eq!(device["missing"], json!({ "photos": 1, "samples": 0, "details": 0, "people": 0 }));

    owner.done(&format!("/v1/office/devices/{}/revoke", phone.id), json!({})).await;
    assert_eq!(shop::code(phone.tail().await), "revoked");
    assert!(owner.get("/v1/office/devices").await["devices"][0]["revoked"].is_string());
    assert_eq!(owner.get("/v1/office/today").await["devices"], json!([]));
    let log = owner.get("/v1/office/access").await;
    let lines = log["lines"].as_array().unwrap().iter().rev();
    let of_devices: Vec<[&str; 2]> =
        lines.map(|line| [&line["what"], &line["about"]].map(|text| text.as_str().unwrap())).collect();
    let expected = [
        ["signed-in", ""],
        ["invited", ""],
        ["turned-away", "Bench ?"],
        ["invited", ""],
        ["paired", "Bench 2"],
        ["search", ""],
        ["revoked", "Bench 2"],
    ];
    assert_eq!(of_devices, expected);
}

/// A phone whose job with a photo is here whole.
async fn with_a_job(shop: &Shop) -> (Phone, Uuid, Hash) {
    let mut phone = shop.phone("Bench 2").await;
    let kept = phone.open_job("W-2041", &anna());
    let photo = phone.take_photo(kept.job, b"a picture");
    phone.push_from(1).await.unwrap();
    phone.put(photo, b"a picture").await.unwrap();
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    shop.settle().await;
    (phone, kept.job, photo)
}

#[tokio::test]
async fn a_job_is_found_read_and_erased_and_every_look_is_written_down() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (mut phone, job, photo) = with_a_job(&shop).await;
    for search in ["w-2041", "anna", "XX-AB", "XX-AB123", "xxab123", "test%20van"] {
        let found = owner.get(&format!("/v1/jobs?language=en&search={search}&open=true")).await;
        assert_eq!(found["jobs"][0]["line"]["job"], json!(job), "{search}");
        assert_eq!(found["jobs"][0]["devices"], json!(["Bench 2"]));
    }
    for search in ["search=bernd", "search=w-2041&verdict=fail"] {
        assert_eq!(owner.get(&format!("/v1/jobs?{search}")).await["jobs"], json!([]), "{search}");
    }
    let path = format!("/v1/jobs/{job}");
    let record = owner.get(&format!("{path}?language=de")).await;
    assert_eq!((&record["erasable"], &record["versions"][0]["entries"]), (&json!(false), &json!(2)));
    let report = record["versions"][0]["report"].to_string();
    assert!(report.contains("Anna Beispiel") && report.contains("Auftragsbericht"), "{report}");
    let pdf = owner.look(&format!("{path}/report.pdf?language=en")).await;
    assert_eq!((pdf.status, &pdf.bytes[..5]), (StatusCode::OK, &b"%PDF-"[..]));
    assert_eq!(pdf.headers["content-disposition"], "attachment; filename=\"W-2041.pdf\"");
    let shown = owner.look(&format!("{path}/photos/{photo}")).await;
    assert_eq!(
        (shown.bytes.as_slice(), &shown.headers["content-type"]),
        (&b"a picture"[..], &"image/jpeg".parse().unwrap())
    );
    let other = format!("/v1/jobs/{}/photos/{photo}", evenwire_hub::app::random_id());
    assert_eq!(owner.look(&other).await.code(), "not-here", "a photo is shown with its own job");

    assert_eq!(owner.post(&format!("{path}/erasure"), json!({})).await.code(), "not-closed");
    phone.write(Some(job), &Event::JobFinished {});
    phone.push_from(3).await.unwrap();
    owner.done(&format!("{path}/erasure"), json!({})).await;
    shop.settle().await;
    let record = owner.get(&path).await;
    assert_eq!((&record["erased"], &record["versions"][0]["entries"]), (&json!(true), &json!(3)));
    assert!(!record.to_string().contains("Anna"), "{record}");
    assert_eq!(owner.look(&format!("{path}/photos/{photo}")).await.code(), "not-here");
    assert_eq!(owner.get("/v1/jobs?search=anna").await["jobs"], json!([]));
    let changes = phone.changes(0).await.unwrap().changes;
    assert_eq!(changes.last().map(|last| last.change.clone()), Some(Change::DetailsErased { job }));

    let log = owner.get("/v1/office/access").await;
    let lines: Vec<String> =
        log["lines"].as_array().unwrap().iter().map(|line| format!("{} {}", line["what"], line["about"])).collect();
    let about = |what: &str| format!("\"{what}\" \"W-2041\"");
    let wanted = [
        about("record"),
        about("erased"),
        about("report"),
        about("record"),
        "\"search\" \"\"".into(),
        "\"signed-in\" \"\"".into(),
    ];
    assert_eq!(lines, wanted, "searching is written once, not with every letter");
    assert!(!log.to_string().contains("Anna"), "{log}");
}

#[tokio::test]
async fn a_claim_file_of_the_office_is_vouched_for_by_hub_and_device() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (mut phone, job, photo) = with_a_job(&shop).await;
    let path = format!("/v1/jobs/{job}/claim.zip?device={}", phone.id);
    let open = claim::verify(&owner.look(&path).await.bytes).expect("an open job is proved by the hub alone");
    assert_eq!((open.entries, open.heads, open.signers.len()), (2, 0, 0));

    phone.write(None, &Event::DeviceKeyed { key: phone.key.public() });
    phone.write(Some(job), &Event::JobFinished {});
    phone.push_from(3).await.unwrap();
    let own = phone.ledger.iter().filter(|sealed| sealed.entry().job == Some(job)).map(Sealed::hash);
    let signed = Some(SignedJob::of(job, own));
    let head = SignedHead { device: phone.id, sequence: 4, hash: phone.ledger[3].hash(), job: signed };
    phone.heads(vec![head.sign(&phone.key)]).await.unwrap();
    let came = owner.look(&path).await;
    assert_eq!(came.headers["content-disposition"], "attachment; filename=\"W-2041.zip\"");
    let proved = claim::verify(&came.bytes).expect("nothing was changed");
    assert_eq!((proved.job, proved.entries, proved.details, proved.made_by_device), (job, 3, true, false));
    assert_eq!(proved.signers, [(phone.key.public(), 3)].into());
    assert_eq!(proved.missing, Vec::<String>::new());
    let told = owner.get("/v1/office/devices").await["fingerprint"].clone();
    assert_eq!(told, json!(proved.key.fingerprint()), "the one that devices and insurers are told");
    let files = |bytes: &[u8]| -> Vec<String> {
        Parcel::read(bytes).unwrap().files().map(|(name, _)| name.to_owned()).collect()
    };
    for name in ["report.pdf", "readings.csv", "details.json", &format!("photos/{photo}.jpg")] {
        assert!(files(&came.bytes).contains(&name.to_owned()), "{name}");
    }

    let came = owner.look(&format!("{path}&impersonal=true")).await;
    assert_eq!(came.headers["content-disposition"], "attachment; filename=\"W-2041-without-names.zip\"");
    let bare = came.bytes;
    let proved = claim::verify(&bare).expect("it still proves");
    assert!(!proved.details && proved.missing == [format!("photos/{photo}.jpg")]);
    let text = String::from_utf8_lossy(&bare).into_owned();
    assert!(!text.contains("Anna") && !files(&bare).contains(&"report.pdf".to_owned()));

    owner.done(&format!("/v1/jobs/{job}/erasure"), json!({})).await;
    let erased = claim::verify(&owner.look(&path).await.bytes).expect("entries and signatures stay");
    assert_eq!((erased.details, erased.sealed, erased.missing.len()), (false, 3, 1));
    let log = owner.get("/v1/office/access").await.to_string();
    let taken = ["\"claim\"", "\"claim-without-names\""].map(|what| log.matches(what).count());
    assert_eq!(taken, [3, 1], "{log}");
}

#[tokio::test]
async fn what_was_erased_is_not_shown_while_its_files_still_lie_there() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (_phone, job, photo) = with_a_job(&shop).await;
    let app = &shop.hub().app;
    // Nobody wakes the work that takes files away.
    assert!(app.storage.erase_job(job, app.clock.now_ms()).await.unwrap());
    assert!(app.blobs.get(photo).await.unwrap().is_some());
    assert_eq!(owner.look(&format!("/v1/jobs/{job}/photos/{photo}")).await.code(), "not-here");
    let record = owner.get(&format!("/v1/jobs/{job}")).await.to_string();
    assert!(!record.contains("Anna") && !record.contains("XX-AB"), "{record}");
}

#[tokio::test]
async fn a_job_that_went_on_in_two_ledgers_is_told_in_two_versions() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (mut phone, job, _) = with_a_job(&shop).await;
    let mut copy = shop.phone("Tablet").await;
    copy.ledger = phone.ledger.clone();
    copy.head = phone.head.clone();
    copy.push_from(1).await.unwrap();
    shop.settle().await;
    let path = format!("/v1/jobs/{job}");
    assert_eq!(owner.get(&path).await["versions"].as_array().unwrap().len(), 1, "the same twice is one");
    phone.take_photo(job, b"another picture");
    phone.push_from(1).await.unwrap();
    assert_eq!(owner.get(&path).await["versions"][0]["entries"], json!(3), "the longer one counts");
    copy.write(Some(job), &Event::JobFinished {});
    copy.push_from(1).await.unwrap();
    shop.settle().await;
    let record = owner.get(&path).await;
    let versions: Vec<_> =
        record["versions"].as_array().unwrap().iter().map(|of| (&of["name"], &of["common"])).collect();
    assert_eq!(versions, [(&json!("Bench 2"), &json!(2)), (&json!("Tablet"), &json!(2))]);
    assert_eq!(record["erasable"], json!(false), "it is open in one of them");
    let found = owner.get("/v1/jobs?search=w-2041").await["jobs"].clone();
    assert_eq!((found.as_array().unwrap().len(), &found[0]["versions"]), (1, &json!(2)));
}

#[tokio::test]
async fn a_procedure_goes_to_the_devices_only_when_it_breaks_no_rule() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let phone = shop.phone("Bench 2").await;
    let (_, text) = built_in()[0];
    let wrong =
        owner.post("/v1/office/procedures", json!({ "text": text.replace("kind = \"wait\"", "kind = \"nap\"") })).await;
    assert_eq!((wrong.status, wrong.code()), (StatusCode::UNPROCESSABLE_ENTITY, "procedure-wrong"));
    assert!(wrong.body["mistakes"][0]["line"].as_u64().unwrap() > 1, "{}", wrong.body);
    assert_eq!(phone.changes(0).await.unwrap().changes, []);
    assert_eq!(owner.post("/v1/office/procedures?language=de", json!({ "text": text })).await.status, StatusCode::OK);
    let sent = phone.changes(0).await.unwrap().changes;
    assert_eq!(
        sent.iter().map(|sent| sent.change.clone()).collect::<Vec<_>>(),
        [Change::ProcedureSent { text: text.to_owned() }]
    );
    assert_eq!(owner.post("/v1/office/procedures", json!({ "text": text })).await.code(), "procedure-version");
    let listed = owner.get("/v1/office/procedures?language=de").await;
    assert_eq!((listed.as_array().unwrap().len(), &listed[0]["version"]), (1, &json!(1)));
}
