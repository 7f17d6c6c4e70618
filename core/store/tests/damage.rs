//! Files that were cut, flipped or caught in the middle: a clear word or the true contents, never a panic and
//! never other contents that look sound.

mod shop;

use evenwire_store::{Store, StoreError};
use shop::*;
use std::fs;

const JOBS: u32 = 4;

/// A ledger without a log, as bytes, and what it holds.
fn sound() -> (Vec<u8>, Contents) {
    let shop = Shop::new();
    let mut store = shop.open();
    fill(&mut store, JOBS);
    let contents = contents(&store, JOBS).unwrap();
    store.checkpoint().unwrap();
    drop(store);
    assert!(!shop.folder.path().join("ledger.db-wal").exists());
    (fs::read(shop.path()).unwrap(), contents)
}

/// What becomes of a file.
#[derive(Debug, PartialEq)]
enum Fate {
    /// It is refused or a read says what is wrong.
    Said,
    /// Only the check of everything finds it.
    Found,
    /// It holds exactly what it held; the damage is in bytes that mean nothing.
    Unchanged,
}

fn fate(bytes: &[u8], truth: &Contents, round: u32, case: &str) -> Fate {
    let shop = Shop::new();
    fs::write(shop.path(), bytes).unwrap();
    let mut store = match Store::open(&shop.path(), BENCH_ONE) {
        Ok(store) => store,
        Err(error) => {
            assert!(!error.to_string().is_empty());
            assert!(fs::read(shop.path()).unwrap() == bytes, "{case}: a refused file was changed ({error})");
            return Fate::Said;
        }
    };
    let whole = store.check().unwrap_or_else(|e| panic!("{case}: {e}")).is_whole();
    let read = contents(&store, JOBS);
    // Writing on must not panic either, whatever it says.
    if let (true, Ok(mut head)) = (round.is_multiple_of(3), store.head()) {
        let _ = store.append(&touch(&mut head, job(1), 1, "written on"));
        let _ = store.erase_details(job(2));
    }
    match (whole, read) {
        (_, Err(_)) => Fate::Said,
        (false, Ok(_)) => Fate::Found,
        (true, Ok(read)) => {
            assert!(read == *truth, "{case}: other contents, and nothing was said");
            Fate::Unchanged
        }
    }
}

#[test]
fn a_flipped_bit_is_found_or_harmless() {
    let (bytes, truth) = sound();
    let mut dice = Dice(0xE7E4_11AE);
    let mut fates = [0; 3];
    for round in 0..1_000 {
        let mut flipped = bytes.clone();
        // Every fourth in the first pages, where header and definitions stand.
        let end = if round % 4 == 0 { 8_192 } else { bytes.len() };
        let at = dice.below(end as u64) as usize;
        let bit = dice.below(8);
        flipped[at] ^= 1 << bit;
        fates[fate(&flipped, &truth, round, &format!("byte {at} bit {bit}")) as usize] += 1;
    }
    println!("said {}, found by check {}, harmless {}", fates[0], fates[1], fates[2]);
    assert!(fates[0] > 40 && fates[1] > 10, "{fates:?}: hardly any flip mattered; the test shows nothing");
}

#[test]
fn a_cut_off_or_overwritten_file_is_found() {
    let (bytes, truth) = sound();
    let mut dice = Dice(0xC07);
    for round in 0..150 {
        let mut hurt = bytes.clone();
        let at = dice.below(bytes.len() as u64) as usize;
        if round % 2 == 0 {
            hurt.truncate(at);
        } else {
            let end = (at + 1 + dice.below(6_000) as usize).min(hurt.len());
            hurt[at..end].iter_mut().for_each(|b| *b = dice.below(256) as u8);
        }
        let fate = fate(&hurt, &truth, round, &format!("round {round} at {at}"));
        assert!(fate != Fate::Unchanged || round % 2 == 1, "cut at {at}: nobody noticed");
    }
}

#[test]
fn a_log_that_was_cut_or_flipped_leads_to_a_state_that_was_committed() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = store.head().unwrap();
    let mut states = vec![contents(&store, JOBS).unwrap()];
    for step in 0..12u32 {
        let number = step / 3 + 1;
        store.append(&touch(&mut head, job(number), u64::from(step / 3 * 3 + 1), "order")).unwrap();
        states.push(contents(&store, JOBS).unwrap());
    }
    let (file, log) = (fs::read(shop.path()).unwrap(), fs::read(shop.folder.path().join("ledger.db-wal")).unwrap());
    let mut dice = Dice(0x10C);
    let mut heads = std::collections::BTreeSet::new();
    for round in 0..150 {
        let mut log = log.clone();
        let at = dice.below(log.len() as u64) as usize;
        if round % 2 == 0 {
            log.truncate(at);
        } else {
            log[at] ^= 1 << dice.below(8);
        }
        let killed = Shop::new();
        fs::write(killed.path(), &file).unwrap();
        fs::write(killed.folder.path().join("ledger.db-wal"), &log).unwrap();
        let store = killed.open();
        let found = contents(&store, JOBS).unwrap();
        assert!(states.contains(&found), "round {round}: a state that never was");
        assert!(store.check().unwrap().is_whole());
        heads.insert(found.head.sequence);
    }
    assert!(heads.len() > 6, "{heads:?}");
}

#[test]
fn the_check_names_the_first_entry_that_is_not() {
    for (sql, sequence, why) in [
        ("UPDATE entry SET bytes = CAST(replace(bytes, 'order 1', 'order 7') AS BLOB) WHERE sequence >= 3", 3, "bytes"),
        ("DELETE FROM entry WHERE sequence = 4", 4, "stands where 4 should"),
        ("UPDATE entry SET hash = zeroblob(32) WHERE sequence = 5", 5, "bytes"),
        ("UPDATE entry SET job = NULL WHERE sequence = 2", 2, "job"),
        ("UPDATE entry SET kind = 'judged' WHERE sequence = 2", 2, "kind"),
        ("UPDATE entry SET bytes = x'7b' WHERE sequence = 1", 1, "not an entry"),
        ("UPDATE entry SET sequence = -sequence WHERE sequence = 1 AND (SELECT 1)", 0, ""),
    ] {
        let shop = Shop::new();
        fill(&mut shop.open(), 2);
        if sequence == 0 {
            // The table itself does not take such a number.
            assert!(shop.raw().execute(sql, []).is_err());
            continue;
        }
        behind_the_back(&shop, sql);
        let store = shop.open();
        let report = store.check().unwrap();
        let bad = report.bad_entry.clone().unwrap_or_else(|| panic!("{sql}: {report:?}"));
        assert_eq!((bad.sequence, report.entries), (sequence, sequence - 1), "{sql}");
        assert!(bad.why.contains(why), "{sql}: {}", bad.why);
        assert!(matches!(store.entries_after(0, 100), Err(StoreError::Damaged { .. })) || sequence == 4);
    }
}

#[test]
fn a_forged_entry_with_a_fitting_hash_breaks_the_chain_after_it() {
    let shop = Shop::new();
    fill(&mut shop.open(), 1);
    let forged = {
        let store = shop.open();
        let entry = store.entries_after(2, 1).unwrap().remove(0);
        let text = String::from_utf8(entry.bytes().to_vec()).unwrap().replace("order 1", "order 9");
        evenwire_core::record::Sealed::read(text.into_bytes()).unwrap()
    };
    let text = String::from_utf8(forged.bytes().to_vec()).unwrap();
    behind_the_back(
        &shop,
        &format!("UPDATE entry SET bytes = CAST('{text}' AS BLOB), hash = x'{}' WHERE sequence = 3", forged.hash()),
    );
    let bad = shop.open().check().unwrap().bad_entry.unwrap();
    assert_eq!(bad.sequence, 4, "{}", bad.why);
}

#[test]
fn a_broken_tail_is_said_on_opening() {
    for sql in [
        "DELETE FROM entry WHERE sequence = 12",
        "UPDATE entry SET bytes = x'7b7d' WHERE sequence = 12",
        "UPDATE entry SET hash = zeroblob(32) WHERE sequence = 12",
        "UPDATE head SET hash = zeroblob(32)",
        "UPDATE head SET sequence = 11",
        "UPDATE head SET sequence = 13",
        "UPDATE head SET device = zeroblob(16)",
        "DELETE FROM entry",
        "DELETE FROM head",
    ] {
        let shop = Shop::new();
        fill(&mut shop.open(), 2);
        behind_the_back(&shop, sql);
        let refused = Store::open(&shop.path(), BENCH_ONE);
        assert!(matches!(refused, Err(StoreError::Damaged { .. })), "{sql}: {refused:?}");
    }
}

#[test]
fn changed_chunks_details_and_lines_are_found() {
    for sql in [
        "UPDATE chunk SET payload = x'00' WHERE number = 2",
        "UPDATE chunk SET hash = zeroblob(32) WHERE number = 2",
        "UPDATE chunk SET max_digits = max_digits + 1 WHERE number = 2",
        "UPDATE chunk SET job = NULL WHERE number = 2",
        "UPDATE chunk SET closed = 0 WHERE number = 2",
        "UPDATE chunk SET generation = -1 WHERE number = 2",
    ] {
        let shop = Shop::new();
        fill(&mut shop.open(), 1);
        behind_the_back(&shop, sql);
        let report = shop.open().check().unwrap();
        let bad: Vec<_> = report.bad_chunks.iter().map(|b| b.id.unwrap()).collect();
        assert_eq!(bad, [chunk(1_002, None, 1, true).id], "{sql}: {report:?}");
        assert_eq!((report.chunks, report.bad_entry), (4, None));
    }
    for sql in [
        "UPDATE details SET text = '{}'",
        "UPDATE details SET salt = zeroblob(32)",
        "UPDATE line SET stage = 'dreaming'",
        "UPDATE line SET verdict = 'pass'",
        "UPDATE line SET opened = 'yesterday'",
        "UPDATE line SET taken = -1",
    ] {
        let shop = Shop::new();
        fill(&mut shop.open(), 1);
        behind_the_back(&shop, sql);
        let mut store = shop.open();
        let report = store.check().unwrap();
        assert_eq!(report.others.len(), 1, "{sql}: {report:?}");
        assert!(contents(&store, 1).is_err(), "{sql}");
        store.erase_details(job(1)).unwrap();
        assert!(store.check().unwrap().is_whole(), "{sql}: erasing must not be kept back by damage");
    }
}

#[test]
fn what_happens_to_the_end_while_the_store_is_open_is_found_as_well() {
    for (sql, missing) in [
        ("DELETE FROM entry WHERE sequence >= 11", Some(11)),
        ("UPDATE head SET hash = zeroblob(32)", None),
        ("UPDATE head SET sequence = 11", None),
        ("UPDATE head SET device = zeroblob(16)", None),
    ] {
        let shop = Shop::new();
        let mut store = shop.open();
        fill(&mut store, 2);
        behind_the_back(&shop, sql);
        let report = store.check().unwrap();
        assert_eq!(report.bad_entry.as_ref().map(|b| b.sequence), missing, "{sql}: {report:?}");
        assert!(!report.is_whole(), "{sql}");
    }
}
