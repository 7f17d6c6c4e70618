//! Backups: made while the ledger is written, put back as another's beginning, refused where they would overwrite.

mod shop;

use evenwire_core::record::{KeptKey, Renewal};
use evenwire_store::{Glance, Store, StoreError, restore};
use shop::*;
use std::fs;
use std::path::PathBuf;

const FRESH: (uuid::Uuid, [u8; 32]) = (BENCH_TWO, [0x77; 32]);

fn in_folder(shop: &Shop, name: &str) -> PathBuf {
    shop.folder.path().join(name)
}

fn listed(shop: &Shop) -> Vec<String> {
    let names = fs::read_dir(shop.folder.path()).unwrap().map(|f| f.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<String> = names.collect();
    names.sort();
    names
}

fn back_up(shop: &Shop, out: &str) -> Result<evenwire_core::record::Head, StoreError> {
    Glance::at(&shop.path())?.back_up(&in_folder(shop, out))
}

#[test]
fn a_backup_is_made_while_the_ledger_is_written_and_holds_all_but_the_key() {
    let shop = Shop::new();
    let mut store = shop.open();
    let key = KeptKey::new((BENCH_ONE, [0xC7; 32]), &store.head().unwrap(), None);
    store.keep_key(&key).unwrap();
    let mut head = fill(&mut store, 3);
    let told = contents(&store, 3).unwrap();
    // All of it still stands in the log.
    assert_eq!(back_up(&shop, "monday.db").unwrap(), head);
    store.append(&touch(&mut head, job(1), 1, "after the backup")).unwrap();
    assert_eq!(
        listed(&shop),
        [
            "ledger.db",
            "ledger.db-shm",
            "ledger.db-wal",
            "ledger.db.key",
            "ledger.db.key.lock",
            "ledger.db.lock",
            "monday.db"
        ]
    );
    let copy = fs::read(in_folder(&shop, "monday.db")).unwrap();
    for secret in [&[0xC7; 32][..], b"c7c7c7c7c7c7c7c7"] {
        assert!(!copy.windows(secret.len()).any(|bytes| bytes == secret), "the key is in the backup");
    }
    let put_back = Shop::new();
    restore(&in_folder(&shop, "monday.db"), &put_back.path(), FRESH).unwrap();
    assert_eq!(contents(&put_back.open(), 3).unwrap(), told);
}

#[cfg(unix)]
#[test]
fn a_backup_is_read_from_where_nothing_can_be_written() {
    use std::os::unix::fs::PermissionsExt;
    let shop = Shop::new();
    let head = fill(&mut shop.open(), 1);
    let stick = Shop::new();
    Glance::at(&shop.path()).unwrap().back_up(&in_folder(&stick, "monday.db")).unwrap();
    fs::set_permissions(in_folder(&stick, "monday.db"), fs::Permissions::from_mode(0o444)).unwrap();
    fs::set_permissions(stick.folder.path(), fs::Permissions::from_mode(0o555)).unwrap();
    let put_back = Shop::new();
    let told = restore(&in_folder(&stick, "monday.db"), &put_back.path(), FRESH);
    assert_eq!(listed(&stick), ["monday.db"]);
    fs::set_permissions(stick.folder.path(), fs::Permissions::from_mode(0o755)).unwrap();
    assert_eq!(told.unwrap(), head);
}

#[test]
fn nothing_is_written_over() {
    let shop = Shop::new();
    fill(&mut shop.open(), 1);
    fs::write(in_folder(&shop, "holiday.jpg"), "a picture").unwrap();
    let refused = back_up(&shop, "holiday.jpg");
    assert!(matches!(refused, Err(StoreError::InTheWay { .. })), "{refused:?}");
    assert!(matches!(back_up(&shop, "ledger.db"), Err(StoreError::InTheWay { .. })), "onto itself");
    assert_eq!(fs::read_to_string(in_folder(&shop, "holiday.jpg")).unwrap(), "a picture");
    back_up(&shop, "monday.db").unwrap();

    let other = Shop::new();
    let before = fill(&mut other.open(), 2);
    let refused = restore(&in_folder(&shop, "monday.db"), &other.path(), FRESH);
    assert!(matches!(refused, Err(StoreError::InTheWay { .. })), "{refused:?}");
    assert_eq!(other.open().head().unwrap(), before);
    // A log that was left without its ledger is in the way, too: it would be played into the copy.
    let orphan = Shop::new();
    fs::write(in_folder(&orphan, "ledger.db-wal"), "left").unwrap();
    let refused = restore(&in_folder(&shop, "monday.db"), &orphan.path(), FRESH);
    assert!(matches!(&refused, Err(StoreError::InTheWay { path }) if path.ends_with("ledger.db-wal")), "{refused:?}");
    assert!(!orphan.path().exists());
}

#[test]
fn what_is_put_back_lies_beside_a_key_that_begins_anew() {
    let shop = Shop::new();
    let mut store = shop.open();
    let head = fill(&mut store, 1);
    store.keep_key(&KeptKey::new((BENCH_ONE, [1; 32]), &head, None)).unwrap();
    drop(store);
    back_up(&shop, "monday.db").unwrap();
    // The ledger is lost, its key is not: even then the copy must not go on as what was lost.
    for left in listed(&shop).iter().filter(|name| ["ledger.db", "ledger.db-wal", "ledger.db-shm"].contains(&&name[..]))
    {
        fs::remove_file(in_folder(&shop, left)).unwrap();
    }
    restore(&in_folder(&shop, "monday.db"), &shop.path(), FRESH).unwrap();
    let kept = shop.open().kept_key().unwrap().unwrap();
    assert_eq!(kept, KeptKey::new(FRESH, &head, Some(Renewal::Restored)));
    let aside = fs::read_to_string(in_folder(&shop, "ledger.db.key.aside-1")).unwrap();
    assert_eq!(KeptKey::read(&aside), Some(KeptKey::new((BENCH_ONE, [1; 32]), &head, None)));
}

#[test]
fn what_is_not_whole_is_no_backup() {
    let shop = Shop::new();
    let mut store = shop.open();
    fill(&mut store, 2);
    store.checkpoint().unwrap();
    drop(store);
    let raw = shop.raw();
    let trigger: String =
        raw.query_row("SELECT sql FROM sqlite_schema WHERE name = 'entry_never_changes'", [], |r| r.get(0)).unwrap();
    raw.execute_batch("DROP TRIGGER entry_never_changes; UPDATE entry SET bytes = x'7b7d' WHERE sequence = 4;")
        .unwrap();
    raw.execute_batch(&trigger).unwrap();
    drop(raw);
    let refused = back_up(&shop, "monday.db");
    assert!(matches!(&refused, Err(StoreError::Damaged { what }) if what.contains("entry 4")), "{refused:?}");
    assert_eq!(listed(&shop).iter().filter(|name| name.starts_with("monday")).count(), 0);

    for text in ["", "Shopping list", "SQLite format 3\0"] {
        let put_back = Shop::new();
        fs::write(in_folder(&shop, "list.txt"), text).unwrap();
        let refused = restore(&in_folder(&shop, "list.txt"), &put_back.path(), FRESH);
        assert!(refused.is_err(), "{text:?}");
        assert!(
            !put_back.path().exists() && !in_folder(&put_back, "ledger.db.key").exists(),
            "{:?}",
            listed(&put_back)
        );
    }
    let nowhere = Shop::new();
    assert!(restore(&in_folder(&shop, "no such backup"), &nowhere.path(), FRESH).is_err());
    assert!(back_up(&nowhere, "monday.db").is_err(), "and a ledger that is not there is not made");
    assert!(!nowhere.path().exists());
}

#[test]
fn another_program_s_database_is_no_ledger() {
    let shop = Shop::new();
    shop.raw().execute_batch("CREATE TABLE recipe (text TEXT);").unwrap();
    assert!(matches!(back_up(&shop, "monday.db"), Err(StoreError::NotOurs { .. })));
    let put_back = Shop::new();
    assert!(matches!(restore(&shop.path(), &put_back.path(), FRESH), Err(StoreError::NotOurs { .. })));
}

#[test]
fn a_copy_that_was_cut_off_is_not_in_the_way_of_the_next() {
    let shop = Shop::new();
    let head = fill(&mut shop.open(), 1);
    fs::write(in_folder(&shop, "monday.db.copying"), "half").unwrap();
    assert_eq!(back_up(&shop, "monday.db").unwrap(), head);
    let put_back = Shop::new();
    fs::write(in_folder(&put_back, "ledger.db.copying"), "half").unwrap();
    assert_eq!(restore(&in_folder(&shop, "monday.db"), &put_back.path(), FRESH).unwrap(), head);
    assert_eq!(listed(&put_back), ["ledger.db", "ledger.db.key", "ledger.db.key.lock", "ledger.db.lock"]);
    assert_eq!(Store::open(&put_back.path(), BENCH_ONE).unwrap().head().unwrap(), head);
}
