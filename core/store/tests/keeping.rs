//! What was written is there, in order, and nothing else is.

mod shop;

use evenwire_core::job::Line;
use evenwire_core::record::{ChainError, Head};
use evenwire_core::session::Batch;
use evenwire_store::{ChunkRefused, Counts, StoreError};
use shop::*;

#[test]
fn a_morning_s_work_is_there_after_the_program_was_closed() {
    let shop = Shop::new();
    let mut store = shop.open();
    assert_eq!(store.head().unwrap(), Head::empty(BENCH_ONE));
    let head = fill(&mut store, 3);
    let before = contents(&store, 3).unwrap();
    drop(store);

    let store = evenwire_store::Store::open(&shop.path(), BENCH_TWO).unwrap();
    assert_eq!(store.head().unwrap(), head, "an existing ledger keeps its device");
    assert_eq!(contents(&store, 3).unwrap(), before);
    assert_eq!(before.entries.len(), 18);
    assert_eq!(before.of_device.len(), 3);
    assert_eq!(before.of_jobs[0].0.len(), 5);
    assert_eq!(before.of_jobs[0].1, Some(details(job(1), "order 1")));
    assert_eq!(before.of_jobs[0].2[0], chunk(1_001, Some(job(1)), 20, true));
    assert_eq!(before.of_jobs[2].3, Some(line(job(3), 13, "order 3")));
    let report = store.check().unwrap();
    assert!(report.is_whole(), "{report:?}");
    assert_eq!((report.entries, report.chunks), (18, 15));
}

#[test]
fn entries_come_in_pages() {
    let shop = Shop::new();
    let mut store = shop.open();
    fill(&mut store, 2);
    let page = |after, limit| {
        let entries = store.entries_after(after, limit).unwrap();
        entries.iter().map(|e| e.entry().sequence).collect::<Vec<_>>()
    };
    assert_eq!(page(0, 3), [1, 2, 3]);
    assert_eq!(page(10, 100), [11, 12]);
    assert_eq!(page(12, 100), [0; 0]);
    assert_eq!(page(u64::MAX, 100), [0; 0]);
}

#[test]
fn a_batch_with_one_wrong_entry_changes_nothing_at_all() {
    let shop = Shop::new();
    let mut store = shop.open();
    let head = fill(&mut store, 2);
    let before = contents(&store, 4).unwrap();
    let other_bench = Head { device: BENCH_TWO, ..head.clone() };
    let gap = Head { sequence: head.sequence + 1, ..head.clone() };
    let again = Head { sequence: head.sequence - 1, ..head.clone() };
    let broken = Head { hash: evenwire_core::record::Hash::of(b"another past"), ..head.clone() };
    for (wrong, wanted) in [
        (other_bench, ChainError::OtherDevice { sequence: 14 }),
        (gap, ChainError::Gap { expected: 14, found: 15 }),
        (again, ChainError::Gap { expected: 14, found: 13 }),
        (broken, ChainError::Broken { sequence: 14 }),
    ] {
        // A good entry, details, a chunk and a line come first; only the second entry is wrong.
        let mut good = head.clone();
        let mut batch = touch(&mut good, job(3), 13, "new customer");
        batch.details = vec![details(job(3), "new customer")];
        let mut wrong = Head { sequence: wrong.sequence + 1, hash: good.hash, ..wrong };
        if matches!(wanted, ChainError::Broken { .. }) {
            wrong.hash = evenwire_core::record::Hash::of(b"another past");
        }
        batch.entries.push(seal(&mut wrong, Some(job(3)), "wrong"));
        match store.append(&batch) {
            Err(StoreError::Chain(found)) => assert_eq!(found, wanted),
            other => panic!("{other:?}"),
        }
        assert_eq!(contents(&store, 4).unwrap(), before);
        assert_eq!(store.details(job(3)).unwrap(), None);
        assert_eq!(store.chunk(batch.chunks[0].hash).unwrap(), None);
    }
    let mut good = head;
    store.append(&touch(&mut good, job(3), 13, "new customer")).unwrap();
}

#[test]
fn an_entry_that_could_not_be_read_again_is_not_taken() {
    let shop = Shop::new();
    let mut store = shop.open();
    let head = store.head().unwrap();
    let long = "x".repeat(evenwire_core::record::MAX_ENTRY_BYTES);
    let sealed = head.clone().seal(SESSION, draft(None, "odd", &long));
    let refused = store.append(&Batch { entries: vec![sealed], ..Batch::default() });
    assert!(matches!(refused, Err(StoreError::Chain(ChainError::Unreadable(_)))), "{refused:?}");
    assert_eq!(store.head().unwrap(), head);
}

#[test]
fn kinds_and_fields_of_a_newer_version_keep_their_bytes() {
    let shop = Shop::new();
    let mut store = shop.open();
    let sealed = store.head().unwrap().seal(SESSION, draft(None, "from-the-future", "x"));
    let mut text = String::from_utf8(sealed.bytes().to_vec()).unwrap();
    text.insert_str(1, "\"unheard\" :  [1,2] , ");
    let sealed = evenwire_core::record::Sealed::read(text.clone().into_bytes()).unwrap();
    store.append(&Batch { entries: vec![sealed], ..Batch::default() }).unwrap();
    drop(store);
    assert_eq!(shop.open().entries_of_device().unwrap()[0].bytes(), text.as_bytes());
}

#[test]
fn an_open_chunk_grows_until_it_is_closed() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut write = |chunk| store.append(&Batch { chunks: vec![chunk], ..Batch::default() });
    write(chunk(5, Some(job(1)), 4, false)).unwrap();
    write(chunk(5, Some(job(1)), 9, false)).unwrap();
    let refused = write(chunk(5, Some(job(1)), 8, true));
    assert!(matches!(refused, Err(StoreError::Chunk { why: ChunkRefused::Shrunk, .. })), "{refused:?}");
    let closed = chunk(5, Some(job(1)), 12, true);
    write(closed.clone()).unwrap();
    write(closed.clone()).unwrap();
    for other in [chunk(5, Some(job(1)), 13, true), chunk(5, Some(job(1)), 12, false), chunk(5, None, 12, true)] {
        let refused = write(other);
        assert!(matches!(refused, Err(StoreError::Chunk { why: ChunkRefused::Closed, .. })), "{refused:?}");
    }
    let mut odd = chunk(6, None, 3, false);
    odd.payload.push(0);
    let refused = write(odd);
    assert!(matches!(refused, Err(StoreError::Chunk { why: ChunkRefused::WrongHash, .. })), "{refused:?}");

    write(chunk(7, None, 2, false)).unwrap();
    assert_eq!(store.chunks_of(job(1)).unwrap(), vec![closed.clone()]);
    assert_eq!(store.chunk(closed.hash).unwrap(), Some(closed.clone()));
    let open = chunk(7, None, 2, false);
    assert_eq!(store.chunk(open.hash).unwrap(), None, "nothing may rest on an open chunk");
    let payload_bytes = (closed.payload.len() + open.payload.len()) as u64;
    assert_eq!(store.counts().unwrap(), Counts { entries: 0, chunks: 2, samples: 14, payload_bytes });
    assert_eq!(store.chunk_bytes_total().unwrap(), payload_bytes);
}

#[test]
fn numbers_at_their_ends_come_back_as_they_were() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut odd = chunk(8, Some(job(1)), 1, true);
    odd.first_at.0 = u64::MAX;
    odd.last_at.0 = 0;
    (odd.min, odd.max, odd.first, odd.last) = (Some(i64::MIN), Some(i64::MAX), None, Some(0));
    (odd.generation, odd.count, odd.places, odd.codec) = (u32::MAX, u32::MAX, u8::MAX, u16::MAX);
    store.append(&Batch { chunks: vec![odd.clone()], ..Batch::default() }).unwrap();
    assert_eq!(store.chunks_of(job(1)).unwrap(), [odd]);
    assert!(store.check().unwrap().is_whole());
}

#[test]
fn a_line_names_the_entry_that_opened_its_job() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = store.head().unwrap();
    store.append(&touch(&mut head, job(1), 1, "one")).unwrap();
    let before = contents(&store, 2).unwrap();
    for (of, opened_by) in [(job(2), 1), (job(1), 2), (job(1), 0), (job(1), u64::MAX)] {
        let lines = vec![line(job(1), 1, "changed"), line(of, opened_by, "wrong")];
        let refused = store.append(&Batch { lines, ..Batch::default() });
        assert!(matches!(refused, Err(StoreError::Line { .. })), "{refused:?}");
        assert_eq!(contents(&store, 2).unwrap(), before);
    }
}

#[test]
fn a_job_list_that_lost_its_lines_is_filled_again() {
    let shop = Shop::new();
    let mut store = shop.open();
    fill(&mut store, 3);
    let (lines, _) = store.jobs("", 0, 10).unwrap();
    let fill_in = |lines: &[Line]| Batch { lines: lines.to_vec(), ..Batch::default() };
    shop.raw().execute("DELETE FROM line", []).unwrap();
    assert_eq!(store.jobs("", 0, 10).unwrap(), (Vec::new(), false));
    assert_eq!(store.jobs_without_line().unwrap(), [job(1), job(2), job(3)], "in the order they were opened");
    store.append(&fill_in(&lines[..1])).unwrap();
    assert_eq!(store.jobs_without_line().unwrap(), [job(1), job(2)]);
    store.append(&fill_in(&lines)).unwrap();
    assert_eq!(store.jobs("", 0, 10).unwrap(), (lines, false));
    assert!(store.jobs_without_line().unwrap().is_empty());
}

#[test]
fn no_other_program_edits_the_ledger() {
    let shop = Shop::new();
    let mut store = shop.open();
    fill(&mut store, 1);
    let mut head = store.head().unwrap();
    let mut open = touch(&mut head, job(1), 1, "order 1");
    open.chunks = vec![chunk(9, Some(job(1)), 3, false)];
    store.append(&open).unwrap();
    let before = contents(&store, 1).unwrap();
    let raw = shop.raw();
    for (edit, why) in [
        ("UPDATE entry SET bytes = x'7b7d' WHERE sequence = 2", "never changes"),
        ("UPDATE entry SET job = NULL", "never changes"),
        ("DELETE FROM entry WHERE sequence = 7", "stays"),
        ("DELETE FROM entry", "stays"),
        ("INSERT OR REPLACE INTO entry SELECT 2, NULL, 'x', hash, bytes FROM entry LIMIT 1", "without gaps"),
        ("INSERT INTO entry SELECT 9, NULL, 'x', hash, bytes FROM entry LIMIT 1", "without gaps"),
        (
            "INSERT INTO entry SELECT 2, job, kind, hash, bytes FROM entry WHERE 1 ON CONFLICT DO UPDATE SET job = NULL",
            "without gaps",
        ),
        ("UPDATE head SET sequence = 1", "forward"),
        ("UPDATE head SET device = zeroblob(16)", "forward"),
        ("DELETE FROM head", "stays"),
        ("INSERT OR REPLACE INTO head VALUES (1, zeroblob(16), 0, zeroblob(32))", "one ledger"),
        ("UPDATE chunk SET closed = 0 WHERE closed", "never changes"),
        ("UPDATE chunk SET payload = x'00' WHERE id = (SELECT id FROM chunk WHERE closed)", "never changes"),
        ("DELETE FROM chunk WHERE NOT closed", "stays"),
        ("DELETE FROM chunk", "stays"),
        (
            "INSERT OR REPLACE INTO chunk SELECT NULL, id, job, session, 9, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, hash, payload \
             FROM chunk WHERE closed",
            "never changes",
        ),
        (
            "INSERT OR REPLACE INTO chunk SELECT number, zeroblob(16), job, session, 9, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, \
             hash, payload FROM chunk WHERE closed",
            "never changes",
        ),
    ] {
        match raw.execute(edit, []) {
            Err(error) => assert!(error.to_string().contains(why), "{edit}: {error}"),
            Ok(rows) => panic!("{edit}: changed {rows}"),
        }
    }
    assert_eq!(contents(&store, 1).unwrap(), before);
}

#[test]
fn a_batch_of_another_past_is_noticed_not_merged() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = store.head().unwrap();
    let mut stale = head.clone();
    store.append(&touch(&mut head, job(1), 1, "one")).unwrap();
    let refused = store.append(&touch(&mut stale, job(2), 1, "two"));
    assert!(matches!(refused, Err(StoreError::Chain(ChainError::Gap { expected: 2, found: 1 }))), "{refused:?}");
    assert_eq!(store.head().unwrap(), head);
}
