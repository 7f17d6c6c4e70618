//! Devices that send at the same moment: what each of them brings is as if it had come alone.

mod shop;

use evenwire_core::record::{Event, Hash, Head};
use evenwire_core::sync::{Change, PushRefused};
use evenwire_hub::storage::{From, NotStored, Storage};
use shop::{Phone, Shop, done, seal};
use tokio::task::JoinSet;

/// Enough of them that several are written for at once.
const PHONES: usize = 8;

async fn phones(shop: &Shop) -> Vec<Phone> {
    let mut phones = Vec::new();
    for number in 0..PHONES {
        phones.push(shop.phone(&format!("Bench {number}")).await);
    }
    phones
}

#[tokio::test]
async fn forks_of_many_are_all_found_and_kept() {
    let shop = Shop::open().await;
    let mut phones = phones(&shop).await;
    let mut coming = JoinSet::new();
    for mut phone in phones.drain(..) {
        let mut copy = Head { device: phone.id, ..phone.head.clone() };
        phone.write(None, &Event::ConductorChosen { conductor: 1 });
        phone.push_from(1).await.unwrap();
        let (kind, body) = Event::ConductorChosen { conductor: 2 }.parts();
        let other = seal(&mut copy, None, (&kind, body));
        coming.spawn(async move {
            let fork = phone.push(&phone.batch(std::slice::from_ref(&other))).await.unwrap_err();
            (phone, other, fork)
        });
    }
    while let Some(came) = coming.join_next().await {
        let (phone, other, fork) = came.unwrap();
        assert_eq!((fork.code.as_str(), fork.sequence), ("fork", Some(1)));
        let storage = &shop.hub().app.storage;
        let device = storage.device(phone.id).await.unwrap().unwrap();
        let evidence = storage.forks(device.number).await.unwrap();
        let kept: Vec<&[u8]> = evidence.iter().map(|(_, bytes, _)| &bytes[..]).collect();
        assert_eq!(kept, [other.bytes()], "{}", phone.name);
    }
}

#[tokio::test]
async fn what_is_erased_while_others_name_it_is_wanted_by_nobody_and_all_are_told() {
    let shop = Shop::open().await;
    let elsewhere = Storage::open_at(&shop.hub_folder(), shop.store.as_ref()).unwrap();
    let mut phones = phones(&shop).await;
    for round in 0..30 {
        let kept = phones[0].open_job(&format!("W-{round}"), &Default::default());
        phones[0].push_from(phones[0].ledger.len()).await.unwrap();
        let by_office = round % 2 == 1;
        if !by_office {
            phones[0].write(Some(kept.job), &Event::DetailsErased {});
        }
        for (number, phone) in phones.iter_mut().enumerate().skip(1) {
            phone.take_photo(kept.job, format!("{round} {number}").as_bytes());
        }
        let mut coming = JoinSet::new();
        for phone in phones.drain(..) {
            coming.spawn(async move {
                phone.push_from(phone.ledger.len()).await.unwrap();
                phone
            });
        }
        if by_office {
            // At another hub over the same database.
            assert!(elsewhere.erase_job(kept.job, 1).await.unwrap());
        }
        while let Some(came) = coming.join_next().await {
            phones.push(came.unwrap());
        }
        phones.sort_by(|one, other| one.name.cmp(&other.name));
        for phone in &phones[1..] {
            assert_eq!(phone.tail().await.unwrap().missing, 0, "{} in round {round}", phone.name);
            let told = phone.changes(0).await.unwrap().changes;
            let times = told.iter().filter(|told| told.change == Change::DetailsErased { job: kept.job }).count();
            assert_eq!(times, 1, "{} in round {round}", phone.name);
        }
    }
}

#[tokio::test]
async fn a_batch_that_comes_by_several_ways_is_there_once_and_each_is_told_so() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    for round in 0..20 {
        let had = phone.ledger.len();
        for conductor in 0..20 {
            phone.write(None, &Event::ConductorChosen { conductor });
        }
        let mut coming = JoinSet::new();
        for end in [had + 20, had + 20, had + 10, had + 20] {
            let body = serde_json::to_vec(&phone.batch(&phone.ledger[had..end])).unwrap();
            let asked = phone.request(reqwest::Method::POST, "/v1/devices/me/entries");
            let asked = asked.header(reqwest::header::CONTENT_TYPE, "application/json").body(body);
            coming.spawn(async move { done(asked).await.is_ok() });
        }
        while let Some(came) = coming.join_next().await {
            assert!(came.unwrap(), "round {round}");
        }
        assert_eq!(phone.tail().await.unwrap().next_sequence, had as u64 + 21);
    }
    let storage = &shop.hub().app.storage;
    let device = storage.device(phone.id).await.unwrap().unwrap();
    assert_eq!(storage.entries(device.number, 1, 1_000).await.unwrap(), phone.ledger);
    assert_eq!(device.forks, 0);
}

/// Hubs over one database know nothing of each other but what stands there.
#[tokio::test(flavor = "multi_thread")]
async fn what_comes_to_two_hubs_at_once_is_there_once_and_a_fork_is_found() {
    let shop = Shop::open().await;
    let app = &shop.hub().app;
    let other = Storage::open_at(&shop.hub_folder(), shop.store.as_ref()).unwrap();
    let mut phones = phones(&shop).await;
    for last in [false; 19].into_iter().chain([true]) {
        let mut coming = JoinSet::new();
        for phone in &mut phones {
            let number = app.storage.device(phone.id).await.unwrap().unwrap().number;
            let from = From { hub: app.hub, number, device: phone.id, key: phone.key.public(), at_ms: 1 };
            let (kind, body) = Event::ConductorChosen { conductor: 2 }.parts();
            let parts = seal(&mut phone.head.clone(), None, (&kind, body));
            let entry = phone.write(None, &Event::JobFinished {}).clone();
            let [to_one, to_other] = [&entry, if last { &parts } else { &entry }]
                .map(|entry| serde_json::to_vec(&phone.batch(std::slice::from_ref(entry))).unwrap());
            let (one, other) = (app.storage.clone(), other.clone());
            coming.spawn(async move {
                let (one, other) = tokio::join!(one.push(from, to_one), other.push(from, to_other));
                [one.unwrap(), other.unwrap()].into_iter().filter_map(Result::err).collect::<Vec<_>>()
            });
        }
        while let Some(came) = coming.join_next().await {
            match &came.unwrap()[..] {
                [] => assert!(!last),
                [NotStored::Refused(PushRefused::Fork { sequence: 20 })] => assert!(last),
                others => panic!("{others:?}"),
            }
        }
    }
    for phone in &phones {
        let device = app.storage.device(phone.id).await.unwrap().unwrap();
        assert_eq!((device.forks, device.tail.sequence), (1, 20), "{}", phone.name);
    }
}

#[tokio::test]
async fn details_that_one_replaces_while_others_name_them_are_here_or_are_missing() {
    let shop = Shop::open().await;
    let mut phones = phones(&shop).await;
    for round in 0..20 {
        let kept = phones[0].open_job(&format!("W-{round}"), &Default::default());
        phones[0].push_from(phones[0].ledger.len()).await.unwrap();
        phones[0].put(kept.commitment(), &kept.to_bytes()).await.unwrap();
        let personal = Hash::of(&[round]);
        let corrected = Event::JobCorrected { order: "W-1".to_owned(), vehicle: String::new(), personal };
        phones[0].write(Some(kept.job), &corrected);
        for phone in &mut phones[1..] {
            let opened = Event::JobOpened { order: "W-1".into(), vehicle: String::new(), personal: kept.commitment() };
            phone.write(Some(kept.job), &opened);
        }
        let mut coming = JoinSet::new();
        for phone in phones.drain(..) {
            coming.spawn(async move {
                phone.push_from(phone.ledger.len()).await.unwrap();
                phone
            });
        }
        while let Some(came) = coming.join_next().await {
            phones.push(came.unwrap());
        }
        phones.sort_by(|one, other| one.name.cmp(&other.name));
        shop.settle().await;
        let here = shop.hub().app.blobs.get(kept.commitment()).await.unwrap().is_some();
        for phone in &phones[1..] {
            let missing = phone.missing(&[kept.commitment()]).await.unwrap();
            assert_eq!(missing.is_empty(), here, "{} in round {round}", phone.name);
        }
    }
}

#[tokio::test]
async fn what_comes_while_two_hubs_make_a_line_has_it_made_anew() {
    let mut shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let app = shop.hub().app.clone();
    let number = app.storage.device(phone.id).await.unwrap().unwrap().number;
    let from = From { hub: app.hub, number, device: phone.id, key: phone.key.public(), at_ms: 1 };
    // Nobody else makes lines.
    shop.stop().await;
    drop(app);
    let storage = Storage::open_at(&shop.hub_folder(), shop.store.as_ref()).unwrap();
    let job = phone.open_job("W-1", &Default::default()).job;
    let mut sent = 0;
    let mut come = async |phone: &Phone| {
        let body = serde_json::to_vec(&phone.batch(&phone.ledger[sent..])).unwrap();
        sent = phone.ledger.len();
        storage.push(from, body).await.unwrap().unwrap();
    };
    come(&phone).await;
    let stale = async || storage.stale(10).await.unwrap().into_iter().map(|of| (of, None)).collect::<Vec<_>>();
    let [one, other] = [stale().await, stale().await];
    assert_eq!((one.len(), other.len()), (1, 1));
    storage.put_lines(one).await.unwrap();
    assert_eq!(stale().await.len(), 0);
    phone.write(Some(job), &Event::JobFinished {});
    come(&phone).await;
    storage.put_lines(other).await.unwrap();
    assert_eq!(stale().await.len(), 1, "the other hub made it of what was there before");
}
