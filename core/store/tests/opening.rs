//! Which files are opened, which are refused and left alone, and what is done about those in the way.

mod shop;

use evenwire_store::{APPLICATION_ID, FORMAT, Store, StoreError};
use rusqlite::Connection;
use shop::*;
use std::fs;
use std::path::Path;

/// Definitions of all tables as they stand in a file, without those that come with the index.
fn definitions(path: &Path) -> String {
    let conn = Connection::open(path).unwrap();
    let mut select = conn
        .prepare(
            "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL
             AND (name = 'found_term' OR substr(name, 1, 6) <> 'found_')
             ORDER BY CASE type WHEN 'table' THEN 0 WHEN 'index' THEN 1 ELSE 2 END, name",
        )
        .unwrap();
    let texts = select.query_map([], |r| r.get::<_, String>(0)).unwrap().map(Result::unwrap);
    texts.map(|text| text + ";\n").collect()
}

/// Each released format, as a file of that format has it. Frozen once released.
fn released() -> Vec<(i64, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/schema");
    (1..=FORMAT).map(|n| (n, fs::read_to_string(folder.join(format!("{n:04}.sql"))).unwrap())).collect()
}

#[test]
fn a_fresh_file_has_the_tables_that_were_released() {
    let shop = Shop::new();
    drop(shop.open());
    let found = definitions(&shop.path());
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/schema/{FORMAT:04}.sql"));
    if std::env::var_os("UPDATE").is_some() {
        fs::write(&file, &found).unwrap();
    }
    assert_eq!(found, fs::read_to_string(&file).unwrap());
}

#[test]
fn a_file_of_any_released_format_is_upgraded_to_what_a_fresh_one_is() {
    let fresh = Shop::new();
    drop(fresh.open());
    for (format, tables) in released() {
        let old = Shop::new();
        let conn = old.raw();
        conn.execute_batch(&tables).unwrap();
        conn.pragma_update(None, "user_version", format).unwrap();
        conn.pragma_update(None, "application_id", APPLICATION_ID).unwrap();
        conn.execute("INSERT INTO head VALUES (1, ?1, 0, zeroblob(32))", [BENCH_TWO.into_bytes()]).unwrap();
        drop(conn);
        let store = old.open();
        assert_eq!(store.head().unwrap().device, BENCH_TWO);
        drop(store);
        assert_eq!(definitions(&old.path()), definitions(&fresh.path()));
    }
}

#[test]
fn a_file_of_a_newer_version_is_refused_and_left_alone() {
    let shop = Shop::new();
    fill(&mut shop.open(), 1);
    shop.raw().pragma_update(None, "user_version", FORMAT + 4).unwrap();
    let before = fs::read(shop.path()).unwrap();
    match Store::open(&shop.path(), BENCH_ONE) {
        Err(StoreError::Newer { found, known, .. }) => assert_eq!((found, known), (FORMAT + 4, FORMAT)),
        other => panic!("{other:?}"),
    }
    assert!(fs::read(shop.path()).unwrap() == before);
}

#[test]
fn a_newer_version_that_was_killed_before_it_tidied_up_is_refused_and_left_alone() {
    // The new format stands only in the log, not in the file's header.
    let shop = Shop::new();
    fill(&mut shop.open(), 1);
    let newer = shop.raw();
    newer.pragma_update(None, "user_version", FORMAT + 1).unwrap();
    let killed = Shop::new();
    for name in ["ledger.db", "ledger.db-wal"] {
        fs::copy(shop.folder.path().join(name), killed.folder.path().join(name)).unwrap();
    }
    let both = || ["ledger.db", "ledger.db-wal"].map(|name| fs::read(killed.folder.path().join(name)).unwrap());
    let before = both();
    let refused = Store::open(&killed.path(), BENCH_ONE);
    assert!(matches!(refused, Err(StoreError::Newer { .. })), "{refused:?}");
    assert!(both() == before);
}

#[test]
fn another_program_s_database_is_refused_and_left_alone() {
    for id in [0, 0x0123_4567] {
        let shop = Shop::new();
        let other = shop.raw();
        other.execute_batch("PRAGMA journal_mode = WAL; CREATE TABLE recipe (text TEXT);").unwrap();
        other.pragma_update(None, "application_id", id).unwrap();
        other.close().unwrap();
        let before = fs::read(shop.path()).unwrap();
        match Store::open(&shop.path(), BENCH_ONE) {
            Err(StoreError::NotOurs { application_id, .. }) => assert_eq!(application_id, id),
            other => panic!("{other:?}"),
        }
        assert!(fs::read(shop.path()).unwrap() == before);
        assert_eq!(fs::read_dir(shop.folder.path()).unwrap().count(), 1, "nothing is put beside it");
    }
}

#[test]
fn what_is_no_database_is_refused_and_left_alone() {
    let long = "Shopping list: clamps, heat shrink, tea. ".repeat(400);
    for text in ["", "short", &long, "SQLite format 3\0"] {
        let shop = Shop::new();
        fs::write(shop.path(), text).unwrap();
        let refused = Store::open(&shop.path(), BENCH_ONE);
        assert!(matches!(refused, Err(StoreError::Damaged { .. })), "{refused:?}");
        assert_eq!(fs::read_to_string(shop.path()).unwrap(), text);
        assert_eq!(fs::read_dir(shop.folder.path()).unwrap().count(), 1);
    }
    let shop = Shop::new();
    let refused = Store::open(shop.folder.path(), BENCH_ONE);
    assert!(matches!(refused, Err(StoreError::Io { .. })), "{refused:?}");
    let refused = Store::open(&shop.folder.path().join("no such folder/ledger.db"), BENCH_ONE);
    assert!(refused.is_err());
}

#[test]
fn a_log_whose_database_is_gone_is_not_taken_for_an_empty_ledger() {
    let shop = Shop::new();
    let mut store = shop.open();
    fill(&mut store, 1);
    let kept = Shop::new();
    fs::copy(shop.folder.path().join("ledger.db-wal"), kept.folder.path().join("ledger.db-wal")).unwrap();
    let refused = Store::open(&kept.path(), BENCH_ONE);
    assert!(matches!(refused, Err(StoreError::Damaged { .. })), "{refused:?}");
    assert!(!kept.path().exists());
    Store::move_aside(&kept.path()).unwrap();
    assert_eq!(kept.open().head().unwrap().sequence, 0);
}

#[test]
fn a_start_that_was_cut_off_is_begun_again() {
    let shop = Shop::new();
    fs::write(shop.folder.path().join("ledger.db.new"), "half").unwrap();
    assert_eq!(shop.open().head().unwrap().sequence, 0);
    let left = fs::read_to_string(shop.folder.path().join("ledger.db.new.aside-1")).unwrap();
    assert_eq!(left, "half", "nothing is deleted");
}

#[test]
fn a_damaged_file_is_moved_aside_with_its_log_and_never_deleted() {
    let shop = Shop::new();
    for round in 1..=3u32 {
        let mut store = shop.open();
        let head = fill(&mut store, round);
        // The log still holds all of it: the file is copied while it is open, as after a kill.
        let killed = Shop::new();
        for name in ["ledger.db", "ledger.db-wal"] {
            fs::copy(shop.folder.path().join(name), killed.folder.path().join(name)).unwrap();
        }
        let aside = Store::move_aside(&killed.path()).unwrap();
        assert!(aside.ends_with("ledger.db.aside-1"));
        assert_eq!(fs::read_dir(killed.folder.path()).unwrap().count(), 2);
        assert_eq!(open(&aside).head().unwrap(), head, "it can be looked at under its new name");
        drop(store);
        let aside = Store::move_aside(&shop.path()).unwrap();
        assert!(aside.ends_with(format!("ledger.db.aside-{round}")));
        assert_eq!(open(&aside).head().unwrap(), head);
    }
    let nothing = Store::move_aside(&shop.path());
    assert!(matches!(nothing, Err(StoreError::Io { .. })), "{nothing:?}");
}

#[test]
fn tables_without_their_guards_are_refused() {
    for edit in ["DROP TRIGGER entry_never_changes", "DROP INDEX entry_by_job", "CREATE TABLE extra (x TEXT)"] {
        let shop = Shop::new();
        fill(&mut shop.open(), 1);
        shop.raw().execute_batch(edit).unwrap();
        let refused = Store::open(&shop.path(), BENCH_ONE);
        assert!(matches!(refused, Err(StoreError::Damaged { .. })), "{edit}: {refused:?}");
    }
}
