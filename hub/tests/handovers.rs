//! A job that one device handed over, another takes over through the hub, and what the office is shown of it.

mod shop;

use evenwire_core::claim::{Handed, handed};
use evenwire_core::record::{Claimed, Details, Event, Release, Sealed, SignedHead, SignedJob, told_of};
use evenwire_core::sync::{Handovers, WaitingJob};
use evenwire_core::unit::BootId;
use reqwest::Method;
use shop::{Answer, Phone, Shop, answer, code, done};
use uuid::Uuid;

fn of_job(phone: &Phone, job: Uuid) -> Vec<Sealed> {
    phone.ledger.iter().filter(|sealed| sealed.entry().job == Some(job)).cloned().collect()
}

fn signed(phone: &Phone, job: Uuid) -> String {
    let hashes: Vec<_> = told_of(&of_job(phone, job)).into_iter().map(Sealed::hash).collect();
    let (sequence, hash) = (phone.head.sequence, phone.head.hash);
    SignedHead { device: phone.id, sequence, hash, job: Some(SignedJob::of(job, hashes)) }.sign(&phone.key)
}

/// A phone with a job that it handed over, all of it at the hub.
async fn gave(shop: &Shop) -> (Phone, Uuid) {
    let mut phone = shop.phone("Bench 1").await;
    let key = phone.key.public();
    phone.write(None, &Event::DeviceKeyed { key });
    let kept = phone.open_job("W-2041", &Details { customer: "Anna Beispiel".to_owned(), ..Details::default() });
    let photo = phone.take_photo(kept.job, b"a plate");
    release(&mut phone, kept.job).await;
    phone.put(photo, b"a plate").await.unwrap();
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    shop.settle().await;
    (phone, kept.job)
}

async fn release(phone: &mut Phone, job: Uuid) {
    let sent = phone.tail().await.unwrap().next_sequence as usize;
    let released = Release { to: "late shift".to_owned(), key: phone.key.public(), people: Default::default() };
    phone.write(Some(job), &Event::JobReleased(released));
    let head = signed(phone, job);
    phone.push_from(sent).await.unwrap();
    assert_eq!(phone.heads(vec![head]).await.unwrap().stored, 1);
}

/// What a device writes that takes over what is not there yet.
async fn take(phone: &mut Phone, handed: &Handed) {
    let sent = phone.tail().await.unwrap().next_sequence as usize;
    let here = told_of(&of_job(phone, handed.job)).len();
    for sealed in &handed.entries[here..] {
        let entry = String::from_utf8(sealed.bytes().to_vec()).unwrap();
        phone.write(Some(handed.job), &Event::Carried { entry });
    }
    let (head, signed) = handed.head.clone();
    phone.write(
        Some(handed.job),
        &Event::JobClaimed(Claimed {
            boot: BootId("two".to_owned()),
            from_device: head.device,
            from_sequence: head.sequence,
            from_hash: head.hash,
            signed,
        }),
    );
    phone.push_from(sent).await.unwrap();
}

async fn waiting(phone: &Phone) -> Vec<WaitingJob> {
    answer::<Handovers>(phone.request(Method::GET, "/v1/handovers")).await.unwrap().jobs
}

async fn claim(phone: &Phone, job: Uuid) -> Answer<WaitingJob> {
    answer(phone.request(Method::POST, &format!("/v1/handovers/{job}/claims"))).await
}

async fn file(phone: &Phone, job: Uuid) -> Answer<Vec<u8>> {
    Ok(done(phone.request(Method::GET, &format!("/v1/handovers/{job}"))).await?.bytes().await.unwrap().to_vec())
}

/// Device and how many versions count, of the lines that count.
async fn counting(shop: &Shop, job: Uuid) -> Vec<u32> {
    shop.settle().await;
    let lines = shop.hub().app.storage.lines_of(job).await.unwrap();
    lines.iter().filter(|line| line.counts).map(|line| line.versions).collect()
}

#[tokio::test]
async fn a_job_is_offered_when_it_is_here_whole() {
    let shop = Shop::open().await;
    let (mut phone, other) = (shop.phone("Bench 1").await, shop.phone("Bench 2").await);
    let kept = phone.open_job("W-2041", &Details { customer: "Anna Beispiel".to_owned(), ..Details::default() });
    let photo = phone.take_photo(kept.job, b"a plate");
    release(&mut phone, kept.job).await;
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    shop.settle().await;
    assert_eq!(waiting(&other).await, [], "its photo has not come");
    assert_eq!(code(claim(&other, kept.job).await), "not-found");
    phone.put(photo, b"a plate").await.unwrap();
    assert_eq!(waiting(&other).await.len(), 1);
}

#[tokio::test]
async fn of_two_that_ask_one_has_it_and_the_other_is_told_who() {
    let shop = Shop::open().await;
    let (first, job) = gave(&shop).await;
    let (second, third) = (shop.phone("Bench 2").await, shop.phone("Bench 3").await);
    assert_eq!(waiting(&first).await, [], "whoever gave it does not wait for it");
    let seen = waiting(&second).await;
    assert_eq!((seen.len(), seen[0].job, seen[0].order.as_str(), seen[0].from.as_str()), (1, job, "W-2041", "Bench 1"));
    let (one, other) = tokio::join!(claim(&second, job), claim(&third, job));
    let (one, other) = (one.unwrap(), other.unwrap());
    assert_ne!(one.yours, other.yours);
    assert_eq!(one.taken_by, other.taken_by);
    let winner = if one.yours { "Bench 2" } else { "Bench 3" };
    assert_eq!(one.taken_by.as_deref(), Some(winner));
    // Asked again it is the same, after a restart of the hub as well.
    assert_eq!(claim(&second, job).await.unwrap().yours, one.yours);
    assert_eq!(code(claim(&first, job).await), "not-found");
    assert_eq!(code(claim(&second, Uuid::from_u128(5)).await), "not-found");
}

#[tokio::test]
async fn the_file_proves_itself_and_with_its_entries_there_is_one_version() {
    let shop = Shop::open().await;
    let (first, job) = gave(&shop).await;
    let mut second = shop.phone("Bench 2").await;
    let bytes = file(&second, job).await.unwrap();
    let came = handed(&bytes).expect("what the device signed");
    assert_eq!((came.entries.len(), came.head.0.device, came.photos.len()), (3, first.id, 1));
    assert!(came.details.is_some());
    take(&mut second, &came).await;
    assert_eq!(counting(&shop, job).await, [1], "one goes on from the other");
    assert_eq!(waiting(&second).await, []);
    assert_eq!(waiting(&shop.phone("Bench 3").await).await, [], "it does not wait any more");
    // What stands beside it is there already: nobody brings it twice.
    assert_eq!(second.tail().await.unwrap().missing, 0);
    let versions = shop.hub().app.storage.versions(job).await.unwrap();
    assert_eq!(versions.len(), 2, "each ledger has its own");
}

#[tokio::test]
async fn whoever_goes_on_after_all_makes_a_second_version_and_none_is_lost() {
    let shop = Shop::open().await;
    let (mut first, job) = gave(&shop).await;
    let (mut second, mut third) = (shop.phone("Bench 2").await, shop.phone("Bench 3").await);
    let came = handed(&file(&second, job).await.unwrap()).unwrap();
    take(&mut second, &came).await;
    let sent = first.ledger.len() + 1;
    first.write(Some(job), &Event::JobTakenBack { boot: BootId("one".to_owned()) });
    first.push_from(sent).await.unwrap();
    assert_eq!(counting(&shop, job).await, [2, 2]);
    take(&mut third, &came).await;
    assert_eq!(counting(&shop, job).await, [3, 3, 3], "claimed twice, once from an old file");
}

#[tokio::test]
async fn from_hand_to_hand_and_back_it_stays_one() {
    let shop = Shop::open().await;
    let (mut first, job) = gave(&shop).await;
    let mut second = shop.phone("Bench 2").await;
    let key = second.key.public();
    second.write(None, &Event::DeviceKeyed { key });
    let came = handed(&file(&second, job).await.unwrap()).unwrap();
    take(&mut second, &came).await;
    release(&mut second, job).await;
    shop.settle().await;
    let seen = waiting(&first).await;
    assert_eq!(seen.iter().map(|of| of.from.as_str()).collect::<Vec<_>>(), ["Bench 2"]);
    assert_eq!(seen[0].taken_by, None, "what was said of the hand before is over");
    let came = handed(&file(&first, job).await.unwrap()).unwrap();
    take(&mut first, &came).await;
    assert_eq!(counting(&shop, job).await, [1]);
}

#[tokio::test]
async fn a_device_without_a_token_or_taken_off_sees_nothing() {
    let shop = Shop::open().await;
    let (_, job) = gave(&shop).await;
    let stranger = Phone::new(&shop, "Nobody");
    assert_eq!(code(claim(&stranger, job).await), "token");
    let second = shop.phone("Bench 2").await;
    let app = &shop.hub().app;
    assert!(app.storage.revoke(second.id, app.clock.now_ms()).await.unwrap());
    assert_eq!(code(file(&second, job).await), "revoked");
}
