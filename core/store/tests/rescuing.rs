//! What is damaged is moved aside, and what can be read of it goes on.

mod shop;

use evenwire_core::record::{Hash, Sealed};
use evenwire_core::session::Batch;
use evenwire_store::{APPLICATION_ID, Rescue, Store, StoreError};
use shop::*;
use std::fs;
use std::path::PathBuf;

const JOBS: u32 = 6;

/// A shop with a ledger of six jobs (36 entries), a person and a photo, closed.
fn worked() -> (Shop, Vec<Sealed>) {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = fill(&mut store, JOBS);
    let photo = b"a picture of a plug".to_vec();
    let mut batch = touch(&mut head, job(1), 1, "order 1");
    batch.pictures.push((Hash::of(&photo), photo));
    store.append(&batch).unwrap();
    let entries = store.entries_after(0, u32::MAX).unwrap();
    store.checkpoint().unwrap();
    (shop, entries)
}

/// Changes a file as an editor of bytes would: the one place where `from` stands becomes `to`.
fn overwrite(shop: &Shop, from: &[u8], to: &[u8]) {
    let mut bytes = fs::read(shop.path()).unwrap();
    let places: Vec<usize> = (0..bytes.len() - from.len()).filter(|at| bytes[*at..].starts_with(from)).collect();
    assert_eq!((places.len(), from.len()), (1, to.len()), "{places:?}");
    bytes[places[0]..places[0] + to.len()].copy_from_slice(to);
    fs::write(shop.path(), bytes).unwrap();
}

/// The number of `sealed` in its own bytes, changed to another one.
fn forge(shop: &Shop, sealed: &Sealed) {
    let mut forged = sealed.bytes().to_vec();
    let at = forged.windows(6).position(|w| w == b"90000,").unwrap();
    forged[at] = b'8';
    overwrite(shop, sealed.bytes(), &forged);
}

fn rescue(shop: &Shop) -> Rescue {
    Store::rescue(&shop.path(), BENCH_TWO).unwrap()
}

fn told(rescue: &Rescue) -> Vec<serde_json::Value> {
    let text = fs::read_to_string(rescue.told.as_ref().unwrap()).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn a_whole_ledger_is_left_as_it_is() {
    let (shop, entries) = worked();
    let before = fs::read(shop.path()).unwrap();
    let rescue = rescue(&shop);
    assert_eq!((rescue.aside, rescue.entries), (None, entries.len() as u64));
    assert!(fs::read(shop.path()).unwrap() == before);
    let nothing = Store::rescue(&shop.folder.path().join("none.db"), BENCH_TWO);
    assert!(matches!(nothing, Err(StoreError::Io { .. })), "{nothing:?}");
    assert!(!shop.folder.path().join("none.db").exists());
}

#[test]
fn what_is_chained_goes_on_and_what_hangs_in_the_air_is_told() {
    let (shop, entries) = worked();
    let contents = contents(&shop.open(), JOBS).unwrap();
    forge(&shop, &entries[20]);
    let damaged = fs::read(shop.path()).unwrap();
    let rescue = rescue(&shop);
    assert_eq!((rescue.entries, rescue.loose), (20, entries.len() as u64 - 20));
    assert!(fs::read(rescue.aside.as_ref().unwrap()).unwrap() == damaged, "the damaged file was changed");

    let mut store = shop.open();
    assert!(store.check().unwrap().is_whole());
    assert_eq!(store.entries_after(0, u32::MAX).unwrap(), entries[..20]);
    // Jobs 1 to 4 were begun before; the lines of all are derived, and wait to be made anew.
    for (number, of_job) in (1..=4).zip(&contents.of_jobs) {
        assert_eq!(store.details(job(number)).unwrap(), of_job.1);
        assert_eq!(store.chunks_of(job(number)).unwrap(), of_job.2);
    }
    assert_eq!((rescue.details, rescue.left), (4, 2), "two jobs were begun after the break");
    assert_eq!(store.details(job(5)).unwrap(), None);
    assert_eq!(
        (rescue.pictures, store.picture(job(1), Hash::of(b"a picture of a plug")).unwrap().is_some()),
        (1, true)
    );
    assert_eq!(store.jobs_without_line().unwrap().len(), 4);

    // The forged one is told as it stands and as not whole; the others by their exact bytes.
    let lines = told(&rescue);
    assert_eq!(lines.len(), entries.len() - 20 + 1);
    assert_eq!((&lines[0]["sequence"], &lines[0]["whole"]), (&21.into(), &false.into()));
    for (line, sealed) in lines[1..].iter().zip(&entries[21..]) {
        assert_eq!(line["entry"].as_str().unwrap().as_bytes(), sealed.bytes());
        assert_eq!(line["hash"], serde_json::json!(sealed.hash()));
        assert_eq!((&line["sequence"], &line["whole"]), (&sealed.entry().sequence.into(), &true.into()));
    }
    assert_eq!(serde_json::from_value::<Rescue>(lines.last().unwrap().clone()).unwrap(), rescue);

    let mut head = store.head().unwrap();
    assert_eq!((head.device, head.sequence), (BENCH_ONE, 20));
    store.append(&Batch { entries: vec![seal(&mut head, None, "goes on")], ..Batch::default() }).unwrap();
}

#[test]
fn a_page_that_is_gone_costs_what_stood_on_it() {
    let (shop, entries) = worked();
    let mut bytes = fs::read(shop.path()).unwrap();
    let middle = entries[18].bytes();
    let page = bytes.windows(middle.len()).position(|w| w == middle).unwrap() / 4_096 * 4_096;
    bytes[page..page + 4_096].fill(0);
    fs::write(shop.path(), bytes).unwrap();
    let rescue = rescue(&shop);
    assert!((1..19).contains(&rescue.entries), "{rescue:?}");
    let lost = entries.len() as u64 - rescue.entries - rescue.loose;
    assert!((1..=9).contains(&lost) && rescue.loose > 5, "{lost} of a page of 4096 bytes: {rescue:?}");
    assert!(shop.open().check().unwrap().is_whole());
}

#[test]
fn a_file_that_is_no_database_any_more_is_moved_aside_and_an_empty_ledger_begins() {
    let (shop, _) = worked();
    for (number, rest) in [(1, 0), (2, 50), (3, 30_000)] {
        let noise = vec![0xA5; rest];
        fs::write(shop.path(), &noise).unwrap();
        let rescue = rescue(&shop);
        assert_eq!(rescue.aside, Some(shop.folder.path().join(format!("ledger.db.aside-{number}"))));
        assert!(fs::read(rescue.aside.unwrap()).unwrap() == noise);
        let head = shop.open().head().unwrap();
        assert_eq!((head.device, head.sequence), (BENCH_TWO, 0));
    }
}

#[test]
fn a_bit_of_the_header_does_not_make_it_another_s() {
    for (at, refused) in [(68, "not-ours"), (60, "newer"), (18, "damaged")] {
        let (shop, entries) = worked();
        let mut bytes = fs::read(shop.path()).unwrap();
        bytes[at] ^= 0x40;
        fs::write(shop.path(), &bytes).unwrap();
        let said = match Store::open(&shop.path(), BENCH_TWO).unwrap_err() {
            StoreError::NotOurs { .. } => "not-ours",
            StoreError::Newer { .. } => "newer",
            StoreError::Damaged { .. } => "damaged",
            other => panic!("{other}"),
        };
        assert_eq!(said, refused);
        assert_eq!(rescue(&shop).entries, entries.len() as u64, "byte {at}");
        assert!(shop.open().check().unwrap().is_whole());
    }
}

#[test]
fn another_program_s_file_is_left_where_it_is() {
    let shop = Shop::new();
    let other = shop.raw();
    other.execute_batch("CREATE TABLE entry (sequence INTEGER PRIMARY KEY); INSERT INTO entry VALUES (1);").unwrap();
    drop(other);
    let before = fs::read(shop.path()).unwrap();
    let refused = Store::rescue(&shop.path(), BENCH_TWO);
    assert!(matches!(refused, Err(StoreError::NotOurs { .. })), "{refused:?}");
    assert!(fs::read(shop.path()).unwrap() == before);
    assert_eq!(fs::read_dir(shop.folder.path()).unwrap().count(), 1);

    // So is one of a newer program: its tables are others.
    let newer = shop.folder.path().join("newer.db");
    let conn = rusqlite::Connection::open(&newer).unwrap();
    conn.execute_batch(&format!(
        "CREATE TABLE x (y); PRAGMA user_version = 99; PRAGMA application_id = {APPLICATION_ID};"
    ))
    .unwrap();
    drop(conn);
    let refused = Store::rescue(&newer, BENCH_TWO);
    assert!(matches!(refused, Err(StoreError::Newer { .. })), "{refused:?}");
    let open = shop.folder.path().join("open.db");
    let _store = open_at(&open);
    assert!(matches!(Store::rescue(&open, BENCH_TWO), Err(StoreError::InUse { .. })));
}

fn open_at(path: &std::path::Path) -> Store {
    shop::open(path)
}

/// Every file beside the ledger.
fn files(shop: &Shop) -> Vec<(PathBuf, Vec<u8>)> {
    let all = fs::read_dir(shop.folder.path()).unwrap().map(|entry| entry.unwrap().path());
    let mut all: Vec<_> = all.map(|path| (path.clone(), fs::read(path).unwrap())).collect();
    all.sort();
    all
}

#[test]
fn a_rescue_that_was_killed_is_finished_by_the_next() {
    // Where it may stop: drafts half built; the new ledger ready; the damaged file gone and its log not; both gone.
    for stopped in 0..4 {
        let (shop, entries) = worked();
        forge(&shop, &entries[20]);
        let name = |tail: &str| shop.folder.path().join(format!("ledger.db{tail}"));
        let (damaged, log) = (fs::read(shop.path()).unwrap(), b"not a log".to_vec());
        fs::write(name("-wal"), &log).unwrap();
        let whole = Shop::new();
        fs::write(whole.path(), &damaged).unwrap();
        let done = rescue(&whole);
        match stopped {
            0 => {
                fs::write(name(".rescuing"), b"half").unwrap();
                fs::write(name(".rescuing-journal"), b"half").unwrap();
                fs::write(name(".rescuing-told"), b"{\"half").unwrap();
            }
            _ => {
                fs::write(name(".rescue"), fs::read(whole.path()).unwrap()).unwrap();
                let text = fs::read_to_string(done.told.as_ref().unwrap()).unwrap();
                let text = text.replace(&whole.path().display().to_string(), &shop.path().display().to_string());
                fs::write(name(".rescued-1"), text).unwrap();
            }
        }
        if stopped >= 2 {
            fs::rename(shop.path(), name(".aside-1")).unwrap();
        }
        if stopped >= 3 {
            fs::rename(name("-wal"), name(".aside-1-wal")).unwrap();
        }
        let before = files(&shop);
        let refused = Store::open(&shop.path(), BENCH_TWO);
        if stopped >= 2 {
            assert!(matches!(refused, Err(StoreError::Damaged { .. })), "{stopped}: an empty ledger begins");
            assert_eq!(files(&shop), before);
        }
        drop(refused);
        let rescue = rescue(&shop);
        assert_eq!((rescue.entries, rescue.loose), (done.entries, done.loose), "stopped {stopped}");
        assert_eq!(shop.open().head().unwrap().sequence, 20);
        assert!(fs::read(rescue.aside.as_ref().unwrap()).unwrap() == damaged);
        assert!(!name(".rescue").exists() && !name(".rescuing").exists() && !name(".rescuing-told").exists());
    }
}
