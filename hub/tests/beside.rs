//! What stands beside the entries at the hub, what goes when it was erased, and the lines the office is shown.

mod shop;

use evenwire_core::record::{Body, Details, Event, Hash, Head, KeptDetails};
use evenwire_core::sync::Change;
use evenwire_hub::app::random_id;
use evenwire_hub::storage::{LineRow, Search};
use shop::{Phone, Shop, code};
use uuid::Uuid;

fn anna() -> Details {
    Details { customer: "Anna Beispiel".to_owned(), plate: "XX-AB 123".to_owned(), ..Details::default() }
}

/// A job with its details and a photo, all of it at the hub.
async fn bring_job(phone: &mut Phone, order: &str, photo: &[u8]) -> (KeptDetails, Hash) {
    let from = phone.ledger.len() + 1;
    let kept = phone.open_job(order, &anna());
    let hash = phone.take_photo(kept.job, photo);
    phone.push_from(from).await.unwrap();
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    phone.put(hash, photo).await.unwrap();
    (kept, hash)
}

async fn bring(phone: &mut Phone, job: Uuid, event: &Event) {
    phone.write(Some(job), event);
    phone.push_from(phone.ledger.len()).await.unwrap();
}

async fn found(shop: &Shop, words: &str) -> Vec<String> {
    let search = Search { words: words.to_owned(), most: 50, ..Search::default() };
    let found = shop.hub().app.storage.find_jobs(search).await.unwrap();
    found.jobs.into_iter().flatten().map(|row| row.line.order).collect()
}

async fn is_here(shop: &Shop, hash: Hash) -> bool {
    shop.hub().app.blobs.get(hash).await.unwrap().is_some()
}

#[tokio::test]
async fn a_job_is_found_by_what_is_told_of_it_and_not_after_it_was_erased() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let (kept, photo) = bring_job(&mut phone, "W-2041", b"a plate").await;
    bring_job(&mut phone, "W-2042", b"a wheel").await;
    shop.settle().await;
    assert_eq!(found(&shop, "").await, ["W-2042", "W-2041"], "the newest first");
    assert_eq!(found(&shop, "w-2041 anna").await, ["W-2041"]);
    assert_eq!(found(&shop, "xx-ab").await, ["W-2042", "W-2041"]);
    assert_eq!(found(&shop, "41").await, ["W-2041"], "two characters");
    assert_eq!(found(&shop, "anna nobody").await, [""; 0]);

    bring(&mut phone, kept.job, &Event::JobFinished {}).await;
    bring(&mut phone, kept.job, &Event::DetailsErased {}).await;
    shop.settle().await;
    assert_eq!(found(&shop, "anna").await, ["W-2042"]);
    assert_eq!(found(&shop, "w-2041").await, ["W-2041"]);
    assert!(!is_here(&shop, photo).await && !is_here(&shop, kept.commitment()).await);
    assert_eq!(phone.tail().await.unwrap().missing, 0, "what was erased is not missed");
    assert_eq!(code(phone.put(photo, b"a plate").await), "not-wanted");
    assert_eq!(code(phone.put(kept.commitment(), &kept.to_bytes()).await), "not-wanted");
    assert_eq!(phone.missing(&[photo, kept.commitment()]).await.unwrap(), []);
    let files = std::fs::read_dir(shop.folder.path().join("hub/blobs")).unwrap().flatten();
    let left: usize = files.map(|folder| std::fs::read_dir(folder.path()).unwrap().count()).sum();
    assert_eq!(left, 2, "those of the other job");
}

#[tokio::test]
async fn what_came_and_was_never_noted_goes_with_its_job_and_nothing_personal_is_left_in_any_file() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let kept = phone.open_job("W-2041", &anna());
    let photo = phone.take_photo(kept.job, b"a plate");
    phone.push_from(1).await.unwrap();
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    shop.settle().await;
    // The hub ends between the file and its row.
    let ends = async { Err::<(), _>(evenwire_hub::storage::StorageError::Closed) };
    let mut fresh = shop.hub().app.blobs.begin();
    fresh.push(b"a plate"[..].into()).await.unwrap();
    shop.hub().app.blobs.put(fresh, ends).await.unwrap_err();
    assert!(is_here(&shop, photo).await);
    assert!(shop.hub().app.storage.erase_job(kept.job, 1).await.unwrap());
    shop.settle().await;
    assert!(!is_here(&shop, photo).await && !is_here(&shop, kept.commitment()).await);
    if shop.store.is_none() {
        for file in std::fs::read_dir(shop.folder.path().join("hub")).unwrap().flatten() {
            let bytes = if file.path().is_file() { std::fs::read(file.path()).unwrap() } else { Vec::new() };
            let told = |word: &str| bytes.windows(word.len()).any(|at| at.eq_ignore_ascii_case(word.as_bytes()));
            assert!(!told("Anna Beispiel") && !told("XX-AB 123"), "{:?}", file.file_name());
        }
    }
}

#[tokio::test]
async fn a_photo_that_another_job_names_as_well_stays() {
    let shop = Shop::open().await;
    let (mut phone, mut other) = (shop.phone("Bench 1").await, shop.phone("Bench 2").await);
    let (kept, photo) = bring_job(&mut phone, "W-1", b"the same picture").await;
    let (_, same) = bring_job(&mut other, "W-2", b"the same picture").await;
    assert_eq!(photo, same);
    bring(&mut phone, kept.job, &Event::DetailsErased {}).await;
    shop.settle().await;
    assert!(is_here(&shop, photo).await);
    assert_eq!(other.tail().await.unwrap().missing, 0);
}

#[tokio::test]
async fn what_the_office_erases_every_device_that_has_it_is_told() {
    let shop = Shop::open().await;
    let (mut phone, other) = (shop.phone("Bench 1").await, shop.phone("Bench 2").await);
    let (kept, photo) = bring_job(&mut phone, "W-1", b"a plate").await;
    let storage = &shop.hub().app.storage;
    assert!(!storage.erase_job(random_id(), 0).await.unwrap(), "nobody has such a job");
    assert!(storage.erase_job(kept.job, 0).await.unwrap());
    assert!(!storage.erase_job(kept.job, 0).await.unwrap(), "once is enough");
    shop.settle().await;
    let told = phone.changes(0).await.unwrap().changes;
    assert_eq!(told.len(), 1);
    assert_eq!(told[0].change, Change::DetailsErased { job: kept.job });
    assert_eq!(other.changes(0).await.unwrap().changes, []);
    assert!(!is_here(&shop, photo).await);
    assert_eq!(found(&shop, "anna").await, [""; 0]);
    // A photo taken after that is not taken in, either, and the phone is told once more.
    let late = phone.take_photo(kept.job, b"another plate");
    phone.push_from(phone.ledger.len()).await.unwrap();
    assert_eq!(code(phone.put(late, b"another plate").await), "not-wanted");
    assert_eq!(phone.changes(told[0].number).await.unwrap().changes.len(), 1);
    // So is a ledger that has the job and comes only now.
    let mut other = other;
    taken_up(&phone, &mut other, 1);
    other.push_from(1).await.unwrap();
    shop.settle().await;
    assert_eq!(other.changes(0).await.unwrap().changes[0].change, Change::DetailsErased { job: kept.job });
    assert_eq!(other.tail().await.unwrap().missing, 0);
    assert_eq!(found(&shop, "anna").await, [""; 0]);
}

#[tokio::test]
async fn details_that_were_corrected_take_the_place_of_the_earlier_ones() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let (kept, _) = bring_job(&mut phone, "W-1", b"a plate").await;
    let newer = KeptDetails::new(kept.job, [3; 32], &Details { customer: "Berta Muster".to_owned(), ..anna() });
    let corrected = serde_json::json!({
        "order": "W-1", "vehicle": "Test van", "personal": newer.commitment(), "reason": "misheard",
    });
    phone.write_kind(Some(kept.job), "job-corrected", Body::from(&corrected));
    let sealed = phone.ledger.last().unwrap().entry();
    assert!(sealed.event().is_some(), "the program knows this entry");
    phone.push_from(phone.ledger.len()).await.unwrap();
    shop.settle().await;
    assert!(!is_here(&shop, kept.commitment()).await);
    assert_eq!(code(phone.put(kept.commitment(), &kept.to_bytes()).await), "not-wanted");
    assert_eq!(phone.tail().await.unwrap().missing, 1);
    phone.put(newer.commitment(), &newer.to_bytes()).await.unwrap();
    shop.settle().await;
    assert_eq!((found(&shop, "anna").await.len(), found(&shop, "berta").await), (0, vec!["W-1".to_owned()]));
}

#[tokio::test]
async fn entries_of_a_newer_program_are_kept_and_stop_nothing() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    let (kept, _) = bring_job(&mut phone, "W-1", b"a plate").await;
    phone.write_kind(Some(kept.job), "seen-by-drone", Body::from(&serde_json::json!({ "height": 12 })));
    phone.write_kind(Some(random_id()), "seen-by-drone", Body::from(&serde_json::json!({ "height": 12 })));
    phone.write(Some(kept.job), &Event::JobFinished {});
    phone.push_from(phone.ledger.len() - 2).await.unwrap();
    shop.settle().await;
    let lines = shop.hub().app.storage.lines_of(kept.job).await.unwrap();
    assert!(lines[0].newer);
    assert_eq!((lines[0].entries, lines[0].versions, lines[0].counts), (4, 1, true));
    let storage = &shop.hub().app.storage;
    let device = storage.device(phone.id).await.unwrap().unwrap();
    assert_eq!(storage.entries(device.number, 1, 10).await.unwrap(), phone.ledger);
    assert_eq!(storage.quarantine(device.number).await.unwrap().len(), 2);
}

/// The ledger of `of` as far as `length`, gone on with by another device that said so.
fn taken_up(of: &Phone, by: &mut Phone, length: usize) {
    by.ledger = of.ledger[..length].to_vec();
    let last = &by.ledger[length - 1];
    by.head = Head { device: by.id, sequence: last.entry().sequence, hash: last.hash() };
    let event = Event::IdentityRenewed {
        from_device: of.id,
        from_sequence: last.entry().sequence,
        from_hash: last.hash(),
        reason: evenwire_core::record::Renewal::Restored,
    };
    by.write(None, &event);
}

#[tokio::test]
async fn two_ledgers_with_one_job_show_one_version_until_they_part() {
    let shop = Shop::open().await;
    let (mut phone, mut restored) = (shop.phone("Bench 1").await, shop.phone("Bench 1 again").await);
    let (kept, photo) = bring_job(&mut phone, "W-1", b"a plate").await;
    taken_up(&phone, &mut restored, 2);
    restored.push_from(1).await.unwrap();
    shop.settle().await;
    let seen = |rows: &[LineRow]| -> Vec<(u64, bool, u32)> {
        rows.iter().map(|row| (row.entries, row.counts, row.versions)).collect()
    };
    let storage = &shop.hub().app.storage;
    assert_eq!(seen(&storage.lines_of(kept.job).await.unwrap()), [(2, true, 1), (2, false, 1)]);
    bring(&mut restored, kept.job, &Event::JobFinished {}).await;
    shop.settle().await;
    assert_eq!(seen(&storage.lines_of(kept.job).await.unwrap()), [(2, false, 1), (3, true, 1)]);
    assert_eq!(found(&shop, "w-1").await.len(), 1);
    bring(&mut phone, kept.job, &Event::ConductorChosen { conductor: 1 }).await;
    shop.settle().await;
    assert_eq!(seen(&storage.lines_of(kept.job).await.unwrap()), [(3, true, 2), (3, true, 2)]);
    assert_eq!(found(&shop, "w-1").await.len(), 2);
    assert_eq!(restored.tail().await.unwrap().missing, 0, "the other one brought it");

    // Whoever erases it, erases it for both, and the other one is told.
    bring(&mut restored, kept.job, &Event::DetailsErased {}).await;
    shop.settle().await;
    assert!(!is_here(&shop, photo).await);
    assert_eq!(phone.changes(0).await.unwrap().changes[0].change, Change::DetailsErased { job: kept.job });
    assert_eq!(restored.changes(0).await.unwrap().changes, []);
    assert_eq!(found(&shop, "anna").await, [""; 0], "in neither of them");
    let lines = storage.lines_of(kept.job).await.unwrap();
    assert!(lines.iter().all(|row| row.line.erased && row.line.vehicle.is_empty()), "{lines:?}");
}

#[tokio::test]
async fn lines_made_anew_are_those_that_were_made_one_by_one() {
    let shop = Shop::open().await;
    let (mut phone, mut other) = (shop.phone("Bench 1").await, shop.phone("Bench 2").await);
    let (first, _) = bring_job(&mut phone, "W-1", b"one").await;
    shop.settle().await;
    bring_job(&mut phone, "W-2", b"two").await;
    taken_up(&phone, &mut other, 3);
    other.push_from(1).await.unwrap();
    shop.settle().await;
    bring(&mut other, first.job, &Event::JobFinished {}).await;
    shop.settle().await;
    bring(&mut phone, first.job, &Event::ConductorChosen { conductor: 1 }).await;
    let (erased, _) = bring_job(&mut other, "W-3", b"three").await;
    bring(&mut other, erased.job, &Event::DetailsErased {}).await;
    shop.settle().await;
    let storage = &shop.hub().app.storage;
    let before = storage.all_lines().await.unwrap();
    assert_eq!(before.len(), 5);
    assert!(before.iter().any(|row| row.versions == 2) && before.iter().any(|row| row.line.erased));
    storage.forget_lines().await.unwrap();
    shop.settle().await;
    assert_eq!(storage.all_lines().await.unwrap(), before);
    assert_eq!(found(&shop, "anna").await.len(), 3, "the index, too");
}
