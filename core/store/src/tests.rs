//! Faults that can only be brought about from inside: no room, no permission, a lock, a kill, a failing upgrade.

#[path = "../tests/shop/mod.rs"]
mod shop;

use crate::append::{put_chunk, put_entries};
use crate::{FORMAT, Store, StoreError, schema};
use evenwire_core::session::Batch;
use rusqlite::TransactionBehavior;
use shop::*;
use std::fs;
use std::time::Duration;

#[test]
fn a_full_disk_loses_nothing_and_work_goes_on_when_there_is_room() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = fill(&mut store, 2);
    let pages: u32 = store.conn.query_row("PRAGMA page_count", [], |r| r.get(0)).unwrap();
    let limit = |store: &Store, pages: u32| {
        store.conn.query_row(&format!("PRAGMA max_page_count = {pages}"), [], |r| r.get::<_, i64>(0)).unwrap();
    };
    limit(&store, pages + 3);
    let long = "a long morning ".repeat(200);
    let mut written = 0;
    let full = loop {
        let before = contents(&store, 3).unwrap();
        let mut next = head.clone();
        match store.append(&touch(&mut next, job(3), 13, &long)) {
            Ok(()) => head = next,
            Err(error) => {
                assert_eq!(contents(&store, 3).unwrap(), before);
                break error;
            }
        }
        written += 1;
        assert!(written < 100, "the limit was never reached");
    };
    assert!(matches!(full, StoreError::Full { .. }), "{full:?}");
    assert!(full.to_string().contains(&format!("{}", head.sequence + 1)), "says which entry: {full}");
    assert_eq!(store.head().unwrap(), head);
    assert!(store.check().unwrap().is_whole());

    limit(&store, i32::MAX as u32);
    store.append(&touch(&mut head, job(3), 13, &long)).unwrap();
    drop(store);
    assert_eq!(shop.open().head().unwrap(), head);
}

#[test]
fn a_disk_that_can_only_be_read_is_named() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = fill(&mut store, 1);
    let before = contents(&store, 1).unwrap();
    store.conn.pragma_update(None, "query_only", "ON").unwrap();
    let refused = store.append(&touch(&mut head, job(1), 1, "x"));
    assert!(matches!(refused, Err(StoreError::ReadOnly { .. })), "{refused:?}");
    assert!(matches!(store.erase_details(job(1)), Err(StoreError::ReadOnly { .. })));
    assert_eq!(contents(&store, 1).unwrap(), before);
}

#[test]
fn another_program_s_lock_is_named_and_passes() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = fill(&mut store, 1);
    store.conn.busy_timeout(Duration::ZERO).unwrap();
    let other = shop.raw();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let batch = touch(&mut head, job(1), 1, "x");
    let refused = store.append(&batch);
    assert!(matches!(&refused, Err(StoreError::Busy { during }) if during == "writing entries 7 to 7"), "{refused:?}");
    other.execute_batch("ROLLBACK").unwrap();
    store.append(&batch).unwrap();

    // A reader in the middle of its work keeps the log from being emptied: erasing says so, and can be repeated.
    other.execute_batch("BEGIN; SELECT count(*) FROM entry;").unwrap();
    assert!(matches!(store.erase_details(job(1)), Err(StoreError::Busy { .. })));
    assert_eq!(store.details(job(1)).unwrap(), None);
    other.execute_batch("COMMIT").unwrap();
    store.erase_details(job(1)).unwrap();
}

#[test]
fn a_kill_in_the_middle_of_a_batch_leaves_the_batch_before() {
    let shop = Shop::new();
    let mut store = shop.open();
    let head = fill(&mut store, 2);
    let before = contents(&store, 3).unwrap();
    let log = shop.folder.path().join("ledger.db-wal");
    let committed = fs::metadata(&log).unwrap().len();
    // With a cache of one page, SQLite writes pages of the open transaction to the log.
    store.conn.pragma_update(None, "cache_size", 1).unwrap();
    let tx = store.conn.transaction_with_behavior(TransactionBehavior::Immediate).unwrap();
    let mut spilled = 0;
    let mut next = head.clone();
    for step in 1..=40u128 {
        put_entries(&tx, &[seal(&mut next, Some(job(3)), &"half done ".repeat(300))]).unwrap();
        put_chunk(&tx, &chunk(50_000 + step, Some(job(3)), 300, true)).unwrap();
        spilled = spilled.max(fs::metadata(&log).unwrap().len());
        let copy = Shop::new();
        for suffix in ["", "-wal"] {
            let name = format!("ledger.db{suffix}");
            fs::copy(shop.folder.path().join(&name), copy.folder.path().join(&name)).unwrap();
        }
        let killed = copy.open();
        assert_eq!(killed.head().unwrap(), head);
        assert_eq!(contents(&killed, 3).unwrap(), before);
    }
    assert!(spilled > committed, "no unfinished page reached the log: this test shows nothing");
    tx.commit().unwrap();
    assert_eq!(store.head().unwrap(), next);
    assert!(store.check().unwrap().is_whole());
}

#[test]
fn an_upgrade_is_done_whole_or_not_at_all() {
    let shop = Shop::new();
    let mut store = shop.open();
    let format = |store: &Store| schema::format_of(&store.conn).unwrap();
    let before = schema::written(&store.conn).unwrap();
    let half =
        [schema::STEPS, &["CREATE TABLE note (text TEXT) STRICT;", "CREATE TABLE other (x TEXT); nonsense;"]].concat();
    let tx = store.conn.transaction().unwrap();
    assert!(schema::perform(&tx, FORMAT, &half).is_err());
    drop(tx);
    assert_eq!((schema::written(&store.conn).unwrap(), format(&store)), (before.clone(), FORMAT));

    let tx = store.conn.transaction().unwrap();
    schema::perform(&tx, FORMAT, &half[..half.len() - 1]).unwrap();
    tx.commit().unwrap();
    assert_eq!(format(&store), FORMAT + 1);
    assert!(schema::written(&store.conn).unwrap().contains("CREATE TABLE note"));
    drop(store);
    let refused = Store::open(&shop.path(), BENCH_ONE);
    assert!(matches!(refused, Err(StoreError::Newer { found, known: FORMAT, .. }) if found == FORMAT + 1));
}

#[test]
fn every_setting_is_in_force() {
    let shop = Shop::new();
    let store = shop.open();
    let read =
        |name: &str| store.conn.pragma_query_value(None, name, |r| r.get::<_, rusqlite::types::Value>(0)).unwrap();
    for (name, value) in [
        ("synchronous", 2),
        ("foreign_keys", 1),
        ("busy_timeout", 5_000),
        ("trusted_schema", 0),
        ("cell_size_check", 1),
        ("secure_delete", 1),
        ("recursive_triggers", 1),
        ("application_id", i64::from(crate::APPLICATION_ID)),
        ("user_version", FORMAT),
    ] {
        assert_eq!(read(name), value.into(), "{name}");
    }
    assert_eq!(read("journal_mode"), "wal".to_string().into());
    // Defensive: not even this connection can rewrite the definitions of the triggers.
    store.conn.pragma_update(None, "writable_schema", "ON").unwrap();
    assert!(store.conn.execute("UPDATE sqlite_schema SET sql = '' WHERE type = 'trigger'", []).is_err());
    let tables: Vec<(String, bool)> = store
        .conn
        .prepare(
            "SELECT name, strict FROM pragma_table_list WHERE schema = 'main' AND name NOT LIKE 'sqlite%'
             AND name NOT LIKE 'found%'",
        )
        .unwrap()
        .query_map([], |r| Ok((r.get(0)?, r.get(1)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    assert_eq!(tables.len(), 9);
    assert!(tables.iter().all(|(_, strict)| *strict), "{tables:?}");
}

#[test]
fn a_batch_of_nothing_writes_nothing() {
    let shop = Shop::new();
    let mut store = shop.open();
    fill(&mut store, 1);
    let log = shop.folder.path().join("ledger.db-wal");
    let before = fs::metadata(&log).unwrap().len();
    store.append(&Batch::default()).unwrap();
    assert_eq!(fs::metadata(&log).unwrap().len(), before);
}
