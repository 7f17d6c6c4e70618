//! A hub's folder over the years: copied, put back, damaged, looked at.

mod shop;

use evenwire_core::record::Event;
use evenwire_core::sync::Change;
use evenwire_hub::copy::{Copied, CopyError, copy_hub, restore_hub};
use evenwire_hub::serve::{StartError, examine_folder};
use shop::Shop;

#[tokio::test]
async fn a_backup_put_back_is_the_same_hub_and_gets_what_came_after_it() {
    let mut shop = Shop::open().await;
    let mut phone = shop.busy_phone().await;
    let backup = shop.folder.path().join("backup");
    assert_eq!(
        copy_hub((&shop.hub_folder(), None), &backup).await.unwrap(),
        Copied { blobs: 2, lost: 0 },
        "while it runs"
    );
    assert!(matches!(copy_hub((&shop.hub_folder(), None), &backup).await, Err(CopyError::NotEmpty(_))));
    let job = phone.ledger[0].entry().job;
    phone.write(job, &Event::JobFinished {});
    phone.push_from(3).await.unwrap();
    let news = |text: &str| Change::Note { job: None, text: text.to_owned() };
    for text in ["one", "two", "three"] {
        assert!(shop.hub().app.storage.tell(None, news(text), 1).await.unwrap());
    }
    let heard = phone.changes(0).await.unwrap().changes.last().unwrap().number;
    let before = (shop.hub().app.hub, shop.hub().app.certificates.authority().to_vec());

    shop.stop().await;
    std::fs::remove_dir_all(shop.hub_folder()).unwrap();
    restore_hub(&backup, (&shop.hub_folder(), None), 1_800_000_000_000).await.unwrap();
    let found = examine_folder(&shop.hub_folder()).await.unwrap();
    assert_eq!((found.ledgers, found.entries, found.signatures, found.blobs, found.lines), (1, 2, 1, 2, 1));
    assert_eq!((found.wrong, found.lost), (vec![], vec![]));
    shop.begin_again().await;
    phone.move_to(&shop);
    assert_eq!((shop.hub().app.hub, shop.hub().app.certificates.authority().to_vec()), before);
    phone.sign_in().await;
    assert_eq!(phone.tail().await.unwrap().next_sequence, 3, "it fell back");
    assert_eq!(phone.push_from(3).await.unwrap().stored_through, 3);
    assert!(shop.hub().app.storage.tell(None, news("after it"), 2).await.unwrap());
    let told = phone.changes(heard).await.unwrap().changes;
    assert_eq!(told.into_iter().map(|of| of.change).collect::<Vec<_>>(), [news("after it")], "it is new to the phone");
}

#[tokio::test]
async fn a_backup_without_a_file_says_so_and_asks_for_it() {
    let mut shop = Shop::open().await;
    let mut phone = shop.busy_phone().await;
    let name = evenwire_core::record::Hash::of(b"a plate").to_string();
    std::fs::remove_file(shop.hub_folder().join("blobs").join(&name[..2]).join(&name)).unwrap();
    let backup = shop.folder.path().join("backup");
    assert_eq!(copy_hub((&shop.hub_folder(), None), &backup).await.unwrap(), Copied { blobs: 1, lost: 1 });
    shop.stop().await;
    std::fs::remove_dir_all(shop.hub_folder()).unwrap();
    std::fs::rename(&backup, shop.hub_folder()).unwrap();
    shop.begin_again().await;
    phone.move_to(&shop);
    assert_eq!(phone.tail().await.unwrap().missing, 1);
}

#[tokio::test]
async fn a_folder_without_a_hub_is_none() {
    let empty = tempfile::tempdir().unwrap();
    let nowhere = empty.path().join("nowhere");
    assert!(matches!(examine_folder(&nowhere).await, Err(StartError::Folder { .. })));
    assert!(!nowhere.exists(), "nothing was made");
    assert!(matches!(copy_hub((empty.path(), None), &nowhere).await, Err(CopyError::NoHub(_))));
}
