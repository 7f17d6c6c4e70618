//! Signed ends of a ledger: whose are taken, that they stay, and that another device comes only by its entry.

mod shop;

use evenwire_core::record::{
    DeviceKey, Event, Hash, Head, KeptHead, PublicKey, Renewal, Sealed, SignedHead, SignedJob,
};
use evenwire_core::session::Batch;
use evenwire_store::{HeadRefused, Store, StoreError};
use rusqlite::params;
use shop::*;
use uuid::Uuid;

fn key(seed: u8) -> DeviceKey {
    DeviceKey::from_seed([seed; 32])
}

fn entry(head: &mut Head, event: &Event) -> Sealed {
    let (kind, body) = event.parts();
    head.seal(SESSION, evenwire_core::record::Draft { body, ..draft(None, &kind, "") })
}

fn keyed(head: &mut Head, key: PublicKey) -> Batch {
    Batch { entries: vec![entry(head, &Event::DeviceKeyed { key })], ..Batch::default() }
}

/// The ledger goes on under `device`, with its key.
fn renewed(head: &mut Head, device: Uuid, key: PublicKey) -> Batch {
    let event = Event::IdentityRenewed {
        from_device: head.device,
        from_sequence: head.sequence,
        from_hash: head.hash,
        reason: Renewal::KeyMissing,
    };
    head.device = device;
    Batch { entries: vec![entry(head, &event), entry(head, &Event::DeviceKeyed { key })], ..Batch::default() }
}

/// What there is to sign at the end of the ledger.
fn end(store: &Store, of: u32) -> SignedHead {
    let (head, job) = (store.head().unwrap(), job(of));
    let hashes = store.entries_of(job).unwrap();
    let job = Some(SignedJob::of(job, hashes.iter().map(Sealed::hash)));
    SignedHead { device: head.device, sequence: head.sequence, hash: head.hash, job }
}

fn signature(head: &SignedHead, key: &DeviceKey) -> Batch {
    Batch { heads: vec![KeptHead::new(head, key)], ..Batch::default() }
}

fn refused(told: Result<(), StoreError>) -> HeadRefused {
    match told {
        Err(StoreError::Head { why, .. }) => why,
        other => panic!("{other:?}"),
    }
}

/// A ledger of two jobs whose device is known by key 1.
fn sealed_shop() -> (Shop, Store, Head) {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = store.head().unwrap();
    store.append(&keyed(&mut head, key(1).public())).unwrap();
    let head = fill(&mut store, 2);
    (shop, store, head)
}

#[test]
fn the_end_of_a_ledger_is_signed_by_its_device_and_by_nobody_else() {
    let (shop, mut store, _) = sealed_shop();
    let end = end(&store, 1);
    assert_eq!(end.job.unwrap().entries, 5, "of all the entries, those of the job");
    let other = refused(store.append(&signature(&end, &key(2))));
    assert!(matches!(other, HeadRefused::Signature(_)), "{other:?}");
    assert_eq!(store.heads_of(job(1)).unwrap(), []);
    store.append(&signature(&end, &key(1))).unwrap();
    drop(store);
    let store = shop.open();
    let kept = store.heads_of(job(1)).unwrap();
    assert_eq!(kept.iter().map(|k| SignedHead::verify(&key(1).public(), &k.jws)).collect::<Vec<_>>(), [Ok(end)]);
    assert_eq!(store.heads_of(job(2)).unwrap(), []);
    assert!(store.check().unwrap().is_whole());
}

#[test]
fn a_ledger_that_names_no_key_takes_no_signature() {
    let shop = Shop::new();
    let mut store = shop.open();
    fill(&mut store, 1);
    let end = end(&store, 1);
    assert_eq!(refused(store.append(&signature(&end, &key(1)))), HeadRefused::NoKey);
}

#[test]
fn a_signature_that_says_something_else_than_the_ledger_is_not_taken() {
    let (_shop, mut store, _) = sealed_shop();
    let end = end(&store, 1);
    let job_of = |id, entries, hash| Some(SignedJob { id, entries, hash });
    let said = end.job.unwrap();
    for other in [
        SignedHead { device: BENCH_TWO, ..end.clone() },
        SignedHead { sequence: end.sequence - 1, ..end.clone() },
        SignedHead { hash: Hash::of(b"another"), ..end.clone() },
        SignedHead { job: job_of(said.id, said.entries - 1, said.hash), ..end.clone() },
        SignedHead { job: job_of(said.id, said.entries, Hash::of(b"another")), ..end.clone() },
        SignedHead { job: job_of(job(2), said.entries, said.hash), ..end.clone() },
    ] {
        assert_eq!(refused(store.append(&signature(&other, &key(1)))), HeadRefused::Other, "{other:?}");
    }
    // The row beside the signature says another job, or none, than the signature.
    let wrong = KeptHead { job: None, ..KeptHead::new(&end, &key(1)) };
    assert_eq!(refused(store.append(&Batch { heads: vec![wrong], ..Batch::default() })), HeadRefused::Other);
    store.append(&signature(&end, &key(1))).unwrap();
}

#[test]
fn many_signatures_of_one_entry_are_brought_one_after_the_other_by_their_own_numbers() {
    let (shop, mut store, _) = sealed_shop();
    for of in [1, 2, 1, 2, 1] {
        store.append(&signature(&end(&store, of), &key(1))).unwrap();
    }
    let last = store.head().unwrap().sequence;
    let ledger = evenwire_store::Glance::at(&shop.path()).unwrap();
    let (mut brought, mut all) = (0, Vec::new());
    loop {
        let next = ledger.heads_after(brought, last, 2).unwrap();
        let Some((number, _)) = next.last() else { break };
        brought = *number;
        all.extend(next.into_iter().map(|(_, head)| head.job));
    }
    assert_eq!(all, [1, 2, 1, 2, 1].map(|of| Some(job(of))));
    assert!(ledger.heads_after(0, last - 1, 10).unwrap().is_empty(), "not before their entry is there");
}

#[test]
fn entries_and_their_signature_are_written_together_or_not_at_all() {
    let (_shop, mut store, mut head) = sealed_shop();
    let before = contents(&store, 2).unwrap();
    let mut batch = touch(&mut head, job(1), 2, "the last touch");
    let hashes = store.entries_of(job(1)).unwrap().iter().map(Sealed::hash).chain([head.hash]).collect::<Vec<_>>();
    let job_then = SignedJob::of(job(1), hashes);
    let end = SignedHead { device: head.device, sequence: head.sequence, hash: head.hash, job: Some(job_then) };
    batch.heads = vec![KeptHead::new(&end, &key(3))];
    assert!(matches!(refused(store.append(&batch)), HeadRefused::Signature(_)));
    assert_eq!(contents(&store, 2).unwrap(), before);
    batch.heads = vec![KeptHead::new(&end, &key(1))];
    store.append(&batch).unwrap();
    assert_eq!(store.heads_of(job(1)).unwrap(), batch.heads);
}

#[test]
fn a_signature_stays_as_it_is() {
    let (shop, mut store, _) = sealed_shop();
    let end = end(&store, 1);
    store.append(&signature(&end, &key(1))).unwrap();
    let raw = shop.raw();
    for edit in [
        "UPDATE signed_head SET jws = 'x'",
        "DELETE FROM signed_head",
        "INSERT OR REPLACE INTO signed_head (number, sequence, job, jws) SELECT number, sequence, job, 'x' FROM signed_head",
        "INSERT INTO signed_head (sequence, jws) VALUES (1, 'x')",
    ] {
        assert!(raw.execute(edit, []).is_err(), "{edit}");
    }
    assert_eq!(store.heads_of(job(1)).unwrap(), [KeptHead::new(&end, &key(1))]);
}

#[test]
fn a_signature_that_was_changed_behind_the_triggers_is_found() {
    let (shop, mut store, _) = sealed_shop();
    let end = end(&store, 1);
    store.append(&signature(&end, &key(1))).unwrap();
    drop(store);
    for forged in
        [KeptHead::new(&end, &key(2)).jws, KeptHead::new(&SignedHead { job: None, ..end.clone() }, &key(1)).jws]
    {
        let raw = shop.raw();
        let trigger: String = raw
            .query_row("SELECT sql FROM sqlite_schema WHERE name = 'signed_head_never_changes'", [], |r| r.get(0))
            .unwrap();
        raw.execute_batch("DROP TRIGGER signed_head_never_changes").unwrap();
        raw.execute("UPDATE signed_head SET jws = ?1", params![forged]).unwrap();
        raw.execute_batch(&trigger).unwrap();
        drop(raw);
        let report = shop.open().check().unwrap();
        assert!(report.others.iter().any(|what| what.contains("signature")), "{report:?}");
    }
}

#[test]
fn a_ledger_goes_on_under_another_device_only_by_the_entry_that_says_so() {
    let (shop, mut store, mut head) = sealed_shop();
    let mut foreign = Head { device: BENCH_TWO, ..head.clone() };
    let batch = Batch { entries: vec![seal(&mut foreign, None, "in between")], ..Batch::default() };
    assert!(matches!(store.append(&batch), Err(StoreError::Chain(_))));
    // Says that it goes on from somewhere else.
    let mut elsewhere = Head { hash: Hash::of(b"elsewhere"), ..head.clone() };
    let mut batch = renewed(&mut elsewhere, BENCH_TWO, key(2).public());
    let mut here = Head { device: BENCH_TWO, ..head.clone() };
    batch.entries[0] = {
        let body = batch.entries[0].entry().body.clone();
        here.seal(SESSION, evenwire_core::record::Draft { body, ..draft(None, "identity-renewed", "") })
    };
    batch.entries.truncate(1);
    assert!(matches!(store.append(&batch), Err(StoreError::Chain(_))));
    assert!(shop.raw().execute("UPDATE head SET device = ?1", [BENCH_TWO.into_bytes()]).is_err());
    assert_eq!(store.head().unwrap(), head);

    store.append(&renewed(&mut head, BENCH_TWO, key(2).public())).unwrap();
    store.append(&touch(&mut head, job(1), 2, "under the new device")).unwrap();
    drop(store);
    let mut store = shop.open();
    assert_eq!((store.head().unwrap().device, store.head().unwrap()), (BENCH_TWO, head));
    let end = end(&store, 1);
    assert!(
        matches!(refused(store.append(&signature(&end, &key(1)))), HeadRefused::Signature(_)),
        "the old key signs nothing"
    );
    store.append(&signature(&end, &key(2))).unwrap();
    assert!(store.check().unwrap().is_whole(), "{:?}", store.check());
}

#[test]
fn what_the_first_device_signed_still_holds_after_the_second_took_over() {
    let (_shop, mut store, mut head) = sealed_shop();
    let first = end(&store, 1);
    store.append(&signature(&first, &key(1))).unwrap();
    store.append(&renewed(&mut head, BENCH_TWO, key(2).public())).unwrap();
    store.append(&touch(&mut head, job(1), 2, "more")).unwrap();
    let second = end(&store, 1);
    store.append(&signature(&second, &key(2))).unwrap();
    let kept = store.heads_of(job(1)).unwrap();
    assert_eq!(kept, [KeptHead::new(&first, &key(1)), KeptHead::new(&second, &key(2))]);
    assert_eq!(second.job.unwrap().entries, first.job.unwrap().entries + 1);
    assert!(store.check().unwrap().is_whole(), "{:?}", store.check());
}

#[test]
fn a_file_of_the_format_before_keeps_everything_and_takes_signatures_and_another_device() {
    let shop = Shop::new();
    let mut head = fill(&mut shop.open(), 2);
    let before = contents(&shop.open(), 2).unwrap();
    // As a file of format 3 stands: the same but for what formats 4 and 5 brought.
    let first = include_str!("schema/0003.sql");
    let guard = first.split(";\nCREATE TRIGGER ").find(|part| part.starts_with("head_moves_forward")).unwrap();
    let raw = shop.raw();
    let newer = "DROP TABLE signed_head; DROP TABLE found_term; DROP TABLE found; DROP TABLE shelf;";
    raw.execute_batch(newer).unwrap();
    raw.execute_batch("DROP TRIGGER head_moves_forward; PRAGMA user_version = 3;").unwrap();
    raw.execute_batch(&format!("CREATE TRIGGER {guard};")).unwrap();
    drop(raw);
    let mut store = shop.open();
    // The job list is derived, and made anew by whoever knows how.
    store.append(&Batch { lines: before.lines.0.clone(), ..Batch::default() }).unwrap();
    assert_eq!(contents(&store, 2).unwrap(), before);
    store.append(&renewed(&mut head, BENCH_TWO, key(1).public())).unwrap();
    let end = end(&store, 1);
    store.append(&signature(&end, &key(1))).unwrap();
    assert!(store.check().unwrap().is_whole());
}
