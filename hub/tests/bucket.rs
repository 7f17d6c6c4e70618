//! Files in a bucket of an object store: what becomes of them, and of what devices are told, when the store or the line to
//! it is in trouble.

mod object_store;
mod seat;
mod shop;

use evenwire_core::record::{Details, Event, Hash};
use evenwire_hub::copy::{Copied, copy_hub, restore_hub};
use evenwire_hub::doctor::Found;
use evenwire_hub::serve::{StartError, examine_store};
use object_store::{Line, Trouble};
use reqwest::{Method, StatusCode};
use seat::begun;
use shop::{Phone, Shop, code};
use std::time::Duration;

/// How long anything here may take.
const DEADLINE: Duration = Duration::from_secs(60);

/// What is lost, as the doctor of a shop that does not run tells it.
async fn examined(shop: &Shop) -> Result<Found, StartError> {
    examine_store(&shop.hub_folder(), None, shop.blobs.as_ref()).await
}

fn plate() -> Hash {
    Hash::of(b"a plate")
}

/// A phone whose entries name a photo that is not brought yet.
async fn with_a_photo(shop: &Shop) -> Phone {
    let mut phone = shop.phone("Bench 1").await;
    let kept = phone.open_job("W-2041", &Details { customer: "Anna Beispiel".to_owned(), ..Details::default() });
    phone.take_photo(kept.job, b"a plate");
    phone.push_from(1).await.unwrap();
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    phone
}

async fn is_ready(phone: &Phone) -> bool {
    phone.request(Method::GET, "/readyz").send().await.unwrap().status() == StatusCode::OK
}

#[tokio::test]
async fn files_lie_in_the_bucket_alone_are_shown_from_there_and_leave_it_when_they_are_erased() {
    let line = Line::to("whole-life").await;
    let mut shop = Shop::open_beside(line.address("a/shop")).await;
    let owner = begun(&shop).await;
    let mut phone = shop.busy_phone().await;
    let job = phone.ledger[0].entry().job.unwrap();
    let path = format!("a/shop/{}", plate());
    assert_eq!(line.bytes(&path).await, Some(b"a plate".to_vec()));
    assert!(!shop.hub_folder().join("blobs").exists(), "nothing beside it");
    assert_eq!(owner.look(&format!("/v1/jobs/{job}/photos/{}", plate())).await.bytes, b"a plate");
    assert!(owner.get(&format!("/v1/jobs/{job}")).await.to_string().contains("Anna Beispiel"));
    phone.put(plate(), b"a plate").await.unwrap();
    shop.restart().await;
    phone.move_to(&shop);
    assert_eq!((phone.tail().await.unwrap().missing, is_ready(&phone).await), (0, true));

    phone.write(Some(job), &Event::JobFinished {});
    phone.write(Some(job), &Event::DetailsErased {});
    phone.push_from(3).await.unwrap();
    shop.settle().await;
    assert_eq!(line.bytes(&path).await, None);
    assert!(shop.hub().app.storage.doomed().await.unwrap().is_empty());
    assert_eq!(code(phone.put(plate(), b"a plate").await), "not-wanted");
}

#[tokio::test]
async fn nothing_is_acknowledged_before_the_store_has_it() {
    let line = Line::to("in-trouble").await;
    let shop = Shop::open_beside(line.address("shop")).await;
    let phone = with_a_photo(&shop).await;
    for trouble in [Trouble::Refuses, Trouble::CutsAsk, Trouble::CutsAnswer, Trouble::Silent] {
        line.troubled(trouble);
        assert_eq!(code(phone.put(plate(), b"a plate").await), "fault", "{trouble:?}");
        assert_eq!(phone.tail().await.unwrap().missing, 1, "{trouble:?}");
        assert_eq!(phone.missing(&[plate()]).await.unwrap(), [plate()], "{trouble:?}");
        assert!(!is_ready(&phone).await, "{trouble:?}");
    }
    line.troubled(Trouble::Nothing);
    phone.put(plate(), b"a plate").await.unwrap();
    assert_eq!((phone.tail().await.unwrap().missing, is_ready(&phone).await), (0, true));
    assert_eq!(line.bytes(&format!("shop/{}", plate())).await, Some(b"a plate".to_vec()));
}

#[tokio::test]
async fn what_is_answered_is_held_against_its_hash_and_what_is_lost_is_asked_for_again() {
    let line = Line::to("not-what-it-was").await;
    let mut shop = Shop::open_beside(line.address("shop")).await;
    let owner = begun(&shop).await;
    let mut phone = shop.busy_phone().await;
    let job = phone.ledger[0].entry().job.unwrap();
    let photo = format!("/v1/jobs/{job}/photos/{}", plate());
    for trouble in [Trouble::Wrong, Trouble::CutsAnswer, Trouble::Refuses, Trouble::Silent] {
        line.troubled(trouble);
        let shown = owner.look(&photo).await;
        assert!(shown.status.is_server_error() || shown.code() == "not-here", "{trouble:?}: {}", shown.status);
        assert!(!String::from_utf8_lossy(&shown.bytes).contains("plat"), "{trouble:?}");
    }
    line.troubled(Trouble::Nothing);
    shop.stop().await;
    for trouble in [Trouble::CutsAnswer, Trouble::Refuses, Trouble::Silent] {
        line.troubled(trouble);
        // Nobody can tell: nothing is noted as lost.
        assert!(matches!(examined(&shop).await, Err(StartError::Storage(_))), "{trouble:?}");
    }
    line.troubled(Trouble::Nothing);
    assert_eq!(examined(&shop).await.unwrap().lost, []);
    line.lose(&format!("shop/{}", plate())).await;
    assert_eq!(examined(&shop).await.unwrap().lost, [plate()]);
    shop.begin_again().await;
    phone.move_to(&shop);
    assert_eq!(phone.missing(&[plate()]).await.unwrap(), [plate()]);
    phone.put(plate(), b"a plate").await.unwrap();
    shop.stop().await;
    assert_eq!(examined(&shop).await.unwrap().lost, []);
    line.troubled(Trouble::Wrong);
    assert_eq!(examined(&shop).await.unwrap().lost.len(), 2, "all of them decayed");
}

#[tokio::test]
async fn what_is_erased_while_the_store_is_away_goes_when_it_is_back() {
    let line = Line::to("erased-meanwhile").await;
    let shop = Shop::open_beside(line.address("shop")).await;
    let phone = shop.busy_phone().await;
    let job = phone.ledger[0].entry().job.unwrap();
    line.troubled(Trouble::Refuses);
    assert!(shop.hub().app.storage.erase_job(job, 1).await.unwrap());
    shop.settle().await;
    assert_eq!(shop.hub().app.storage.doomed().await.unwrap().len(), 2, "they wait");
    line.troubled(Trouble::Nothing);
    shop.settle().await;
    assert!(shop.hub().app.storage.doomed().await.unwrap().is_empty());
    assert_eq!(line.bytes(&format!("shop/{}", plate())).await, None);
}

#[tokio::test]
async fn what_is_taken_away_while_it_is_brought_is_brought_once_more() {
    let line = Line::to("at-once").await;
    let shop = Shop::open_beside(line.address("shop")).await;
    let blobs = &shop.hub().app.blobs;
    let bring = async || {
        let mut fresh = blobs.begin();
        fresh.push(b"a plate"[..].into()).await.unwrap();
        blobs.put(fresh, async { Ok(()) }).await.unwrap();
    };
    let path = format!("shop/{}", plate());
    // The gate is closed, and only then the file arrives, and is taken away at once.
    let arrived = async {
        while line.bytes(&path).await.is_none() {}
        Ok(vec![plate()])
    };
    line.asked();
    let both = async { tokio::join!(blobs.remove(arrived, |_| async { Ok(()) }), bring()) };
    let (removed, ()) = tokio::time::timeout(DEADLINE, both).await.expect("it arrives");
    assert!(removed.unwrap());
    let asked = line.asked();
    assert_eq!(line.bytes(&path).await, Some(b"a plate".to_vec()), "{asked:?}");
    assert_eq!(asked.iter().filter(|ask| ask.starts_with("PUT")).count(), 2, "{asked:?}");
    assert!(blobs.remove(async { Ok(vec![plate()]) }, |_| async { Ok(()) }).await.unwrap());
    assert_eq!(blobs.get(plate()).await.unwrap(), None);
}

#[tokio::test]
async fn a_backup_has_the_files_of_the_bucket_and_goes_back_into_another_one() {
    let line = Line::to("kept").await;
    let mut shop = Shop::open_beside(line.address("shop")).await;
    shop.busy_phone().await;
    let backup = shop.folder.path().join("backup");
    let bucket = shop.blobs.clone();
    let copied = copy_hub((&shop.hub_folder(), bucket.as_ref()), &backup).await.unwrap();
    assert_eq!(copied, Copied { blobs: 2, lost: 0 });
    let refused = copy_hub((&shop.hub_folder(), None), &shop.folder.path().join("another")).await;
    assert!(refused.unwrap_err().to_string().contains("s3://kept/shop"), "a copy without its files is none");
    let name = plate().to_string();
    assert_eq!(std::fs::read(backup.join("blobs").join(&name[..2]).join(&name)).unwrap(), b"a plate");
    shop.stop().await;
    std::fs::remove_dir_all(shop.hub_folder()).unwrap();
    shop.blobs = Some(line.address("after"));
    restore_hub(&backup, (&shop.hub_folder(), shop.blobs.as_ref()), 1_800_000_000_000).await.unwrap();
    assert_eq!(line.bytes(&format!("after/{name}")).await, Some(b"a plate".to_vec()));
    let found = examined(&shop).await.unwrap();
    assert_eq!((found.blobs, found.lost, found.wrong), (2, vec![], vec![]));
}
