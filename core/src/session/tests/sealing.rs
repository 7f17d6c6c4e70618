//! What closes a job is signed, by a key the ledger names, in the same batch.

use super::bench::*;
use crate::job::{Command, HandRefusal, Job};
use crate::record::{
    DeviceKey, Event, Head, KeptHead, Renewal, Sealed, SignatureError, SignedHead, SignedJob, Witness, key_named,
};
use crate::session::{Batch, Beginning, Input, Output, Session, Wanted};
use uuid::Uuid;

fn key(seed: u8) -> DeviceKey {
    DeviceKey::from_seed([seed; 32])
}

/// A session with this key at the end of a ledger whose device entries are these.
fn session(bench: &Bench, head: Head, device_entries: &[Sealed], key: Option<DeviceKey>) -> Session {
    let (device_entries, people, profiles) = (device_entries.to_vec(), Vec::new(), profiles());
    Session::new(Beginning { head, device_entries, people, key, seed: [9; 32], profiles, now: bench.time() })
}

fn batches(outputs: Vec<Output>) -> Vec<Batch> {
    let batch = |output| match output {
        Output::Append(batch) => Some(batch),
        other => panic!("{other:?}"),
    };
    outputs.into_iter().filter_map(batch).collect()
}

/// A bench whose job only waits to be closed, and the entries of that job.
fn judged() -> (Bench, Uuid, Vec<Sealed>) {
    let mut bench = Bench::measuring();
    while bench.session.announced().is_some() {
        bench.clip(35);
    }
    bench.done(Command::Judge);
    let job = bench.session.job().unwrap().id;
    let entries = bench.of_job(job);
    (bench, job, entries)
}

/// The job taken up and closed by `session`; the batch that closes it.
fn closed(session: &mut Session, bench: &Bench, (job, entries): (Uuid, &[Sealed])) -> Batch {
    let loaded =
        Input::Loaded { wanted: Wanted::Bench, entries: entries.to_vec(), details: None, newest_job: Some(job) };
    assert!(batches(session.handle(loaded, &bench.time())).iter().all(|batch| batch.entries.is_empty()));
    let mut written = batches(session.handle(Input::Wish(Command::Finish), &bench.time()));
    assert_eq!(written.len(), 1);
    written.remove(0)
}

#[test]
fn a_job_that_is_open_is_not_signed() {
    let (bench, job, entries) = judged();
    let mut session = session(&bench, bench.session.head().clone(), &[], Some(key(1)));
    drop(session.introduce((session.head().device, key(1).public()), None, &bench.time()));
    let loaded = Input::Loaded { wanted: Wanted::Bench, entries, details: None, newest_job: Some(job) };
    drop(session.handle(loaded, &bench.time()));
    let more = batches(session.handle(Input::Wish(Command::MeasureMore), &bench.time()));
    assert_eq!(more.iter().map(|batch| (batch.entries.len(), batch.heads.len())).collect::<Vec<_>>(), [(1, 0)]);
}

#[test]
fn what_closes_a_job_is_signed_with_all_its_entries_in_the_same_batch() {
    let (bench, job, entries) = judged();
    let mut session = session(&bench, bench.session.head().clone(), &[], Some(key(1)));
    let device = session.head().device;
    let introduced = batches(session.introduce((device, key(1).public()), None, &bench.time()));
    assert_eq!(introduced.len(), 1);
    assert_eq!(key_named(&introduced[0].entries, device), Some(key(1).public()));
    assert!(introduced[0].heads.is_empty(), "no job was closed");
    let last = closed(&mut session, &bench, (job, &entries));
    assert_eq!(last.entries.last().unwrap().entry().kind, "job-finished");
    let [kept] = &last.heads[..] else { panic!("{:?}", last.heads) };
    let signed = SignedHead::verify(&key(1).public(), &kept.jws).unwrap();
    let hashes = entries.iter().chain(&last.entries).map(Sealed::hash);
    let head = session.head();
    let job = SignedJob::of(job, hashes);
    assert_eq!(
        signed,
        SignedHead { device, sequence: head.sequence, hash: head.hash, job: Some(job) },
        "another job's and the device's own entries between them are not of it"
    );
    assert_eq!(job.entries, entries.len() as u64 + 1);
    assert_eq!(kept, &KeptHead::new(&signed, &key(1)), "the same every time");
    assert_eq!((kept.sequence, kept.job), (head.sequence, Some(job.id)));
    assert_eq!(SignedHead::verify(&key(2).public(), &kept.jws), Err(SignatureError::Header));
}

#[test]
fn a_key_the_ledger_does_not_name_signs_nothing() {
    let (bench, job, entries) = judged();
    let head = || bench.session.head().clone();
    let mut stranger = session(&bench, head(), &[], Some(key(1)));
    assert_eq!(closed(&mut stranger, &bench, (job, &entries)).heads, []);
    let mut keyless = session(&bench, head(), &[], None);
    assert_eq!(closed(&mut keyless, &bench, (job, &entries)).heads, []);
    // Another key is named, or this one for another device.
    for (of, named) in [(head().device, key(2)), (Uuid::from_u128(77), key(1))] {
        let mut elsewhere = Head { device: of, ..head() };
        let mut naming = session(&bench, elsewhere.clone(), &[], Some(named.clone()));
        let entries_of_device = batches(naming.introduce((of, named.public()), None, &bench.time())).remove(0).entries;
        elsewhere = naming.head().clone();
        let here = Head { device: head().device, ..elsewhere };
        let mut session = session(&bench, here, &entries_of_device, Some(key(1)));
        assert_eq!(closed(&mut session, &bench, (job, &entries)).heads, []);
    }
}

#[test]
fn what_was_closed_without_the_key_is_signed_when_it_comes_and_nothing_that_is_open() {
    let (bench, job, entries) = judged();
    let mut session = session(&bench, bench.session.head().clone(), &[], None);
    let device = session.head().device;
    drop(session.introduce((device, key(1).public()), None, &bench.time()));
    assert_eq!(session.seal.known().unwrap_err(), HandRefusal::KeyAway, "nothing is handed over unsigned");
    let open = Job::from_entries(&entries).unwrap();
    let last = closed(&mut session, &bench, (job, &entries));
    assert_eq!(last.heads, [], "nobody signs");
    let all: Vec<Sealed> = entries.iter().chain(&last.entries).cloned().collect();
    let done = Job::from_entries(&all).unwrap();
    // The key of somebody else comes to nothing.
    assert_eq!(batches(session.take_key(key(2), std::slice::from_ref(&done))), []);
    let signed = batches(session.take_key(key(1), &[open, done]));
    let [Batch { heads, entries: none, .. }] = &signed[..] else { panic!("{signed:?}") };
    assert_eq!((heads.len(), none.len()), (1, 0));
    let head = SignedHead::verify(&key(1).public(), &heads[0].jws).unwrap();
    assert_eq!((head.sequence, head.hash), (session.head().sequence, session.head().hash));
    assert_eq!(head.job, Some(SignedJob::of(job, all.iter().map(Sealed::hash))));
    assert_eq!(session.seal.key().map(DeviceKey::public), Some(key(1).public()), "and from here on it signs");
}

#[test]
fn a_session_that_takes_up_the_ledger_of_another_device_says_so_first() {
    let (bench, job, entries) = judged();
    let before = bench.session.head().clone();
    let new = Uuid::from_u128(2);
    let mut session = session(&bench, before.clone(), &[], Some(key(3)));
    let introduced = batches(session.introduce((new, key(3).public()), Some(Renewal::Behind), &bench.time())).remove(0);
    let events: Vec<Event> = introduced.entries.iter().map(|sealed| sealed.entry().event().unwrap()).collect();
    let from = Witness::of(&before);
    assert_eq!(
        events,
        [
            Event::IdentityRenewed {
                from_device: before.device,
                from_sequence: from.sequence,
                from_hash: from.hash,
                reason: Renewal::Behind
            },
            Event::DeviceKeyed { key: key(3).public() }
        ]
    );
    let after = introduced.entries.iter().try_fold(before, |head, next| head.after(next));
    assert_eq!(after.as_ref(), Ok(session.head()));
    assert_eq!(session.head().device, new);
    // A job of the device before is closed by the new one, and proved whole.
    let last = closed(&mut session, &bench, (job, &entries));
    let signed = SignedHead::verify(&key(3).public(), &last.heads[0].jws).unwrap();
    assert_eq!((signed.device, signed.job.unwrap().entries), (new, entries.len() as u64 + 1));
}
