//! A doctor finds what was changed behind the hub's back.

use super::*;
use crate::blobs::Blobs;
use crate::doctor::{Found, examine};
use crate::storage::{Asked, From, Setup};
use evenwire_core::record::{Clock, Details, DeviceKey, Draft, Event, Head, KeptDetails, Sealed};
use evenwire_core::sync::{PushAsk, PushHead};
use evenwire_core::unit::{Millis, Stamp};
use serde_json::value::RawValue;
use uuid::Uuid;

const HUB: Uuid = Uuid::from_u128(0x4855);
const BENCH: Uuid = Uuid::from_u128(0x0be1);
const JOB: Uuid = Uuid::from_u128(7);

fn entry(head: &mut Head, event: &Event) -> Sealed {
    let (kind, body) = event.parts();
    let draft = Draft {
        id: Uuid::from_u128(u128::from(head.sequence)),
        job: Some(JOB),
        kind,
        version: Event::VERSION,
        elapsed_ms: Millis(1),
        wall: Stamp::parse("2026-03-01T10:42:00+01:00").unwrap(),
        clock: Clock::Ok,
        body,
    };
    head.seal(Uuid::from_u128(2), draft)
}

/// A hub with one ledger of three entries.
async fn filled(folder: &Path) -> Storage {
    let storage = Storage::open(folder).unwrap();
    storage.begin(Setup { id: HUB, token: Hash::ZERO, at_ms: 0 }).await.unwrap();
    let (key, code) = (DeviceKey::from_seed([5; 32]), Hash::of(b"code"));
    storage.invite(code, None, 0).await.unwrap();
    let pairing = Uuid::from_u128(1);
    let asked = Asked { pairing, code, device: BENCH, name: "Bench".to_owned(), key: key.public(), at_ms: 1 };
    storage.ask_pairing(asked).await.unwrap().unwrap();
    storage.decide_pairing(pairing, true, (None, 2)).await.unwrap().unwrap();
    let number = storage.device(BENCH).await.unwrap().unwrap().number;
    let mut head = Head::empty(BENCH);
    let personal = KeptDetails::new(JOB, [1; 32], &Details::default()).commitment();
    let opened = Event::JobOpened { order: "W-1".to_owned(), vehicle: String::new(), personal };
    let entries = [
        entry(&mut head, &opened),
        entry(&mut head, &Event::ConductorChosen { conductor: 1 }),
        entry(&mut head, &Event::JobFinished {}),
    ];
    let signed = PushHead { hub: HUB, device: BENCH, sequence: head.sequence, hash: head.hash };
    let raw = |sealed: &Sealed| RawValue::from_string(String::from_utf8(sealed.bytes().to_vec()).unwrap()).unwrap();
    let ask = PushAsk { first_sequence: 1, entries: entries.iter().map(raw).collect(), head: signed.sign(&key) };
    let from = From { hub: HUB, number, device: BENCH, key: key.public(), at_ms: 3 };
    storage.push(from, serde_json::to_vec(&ask).unwrap()).await.unwrap().unwrap();
    storage
}

/// What is found after `harm` was done to the file.
async fn after(harm: &str) -> Found {
    let folder = tempfile::tempdir().unwrap();
    let storage = filled(folder.path()).await;
    let blobs = Blobs::open(folder.path()).unwrap();
    crate::behind::make_lines(&storage, &blobs).await.unwrap();
    rusqlite::Connection::open(folder.path().join(FILE)).unwrap().execute_batch(harm).unwrap();
    examine(&storage, &blobs, HUB).await.unwrap()
}

#[tokio::test]
async fn what_was_changed_behind_the_hubs_back_is_found() {
    let whole = after("").await;
    assert_eq!((whole.entries, whole.signatures, whole.lines, whole.wrong), (3, 1, 1, vec![]));
    let open = "PRAGMA foreign_keys = OFF; DROP TRIGGER batch_never_changes; DROP TRIGGER batch_stays;
        DROP TRIGGER run_never_changes; DROP TRIGGER run_stays; DROP TRIGGER tail_is_reached;";
    for (harm, told) in [
        ("UPDATE batch SET bytes = CAST(replace(bytes, 'W-1', 'W-2') AS BLOB)", "not those that came"),
        ("UPDATE batch SET bytes = CAST(substr(bytes, 1, length(bytes) - 1) AS BLOB)", "not as it was written"),
        ("UPDATE batch SET bytes = CAST(bytes || x'00' AS BLOB)", "not as it was written"),
        ("UPDATE batch SET entries = 2", "not as it was written"),
        ("UPDATE batch SET place = place + 1", "entry 2: entry 1 stands there"),
        ("DELETE FROM batch", "ends with 0, but 3 is noted"),
        ("UPDATE device SET tail_sequence = 4", "ends with 3, but 4 is noted"),
        ("UPDATE batch SET jws = replace(jws, '.', '.A')", "not signed"),
        ("DELETE FROM run", "not what stands there"),
        ("UPDATE run SET begins = begins + 1", "not what stands there"),
        ("UPDATE run SET job = zeroblob(16)", "not what stands there"),
        (
            "INSERT INTO run SELECT zeroblob(16), '', first, batch, entries, begins, length FROM run",
            "2 places of jobs are noted where 1",
        ),
        ("UPDATE line SET order_name = 'W-9'", "made anew"),
        ("DELETE FROM line", "made anew"),
        ("PRAGMA foreign_keys = OFF; INSERT INTO change (device, made_ms, body) VALUES (9, 0, '')", "are gone"),
    ] {
        let found = after(&format!("{open} {harm}")).await;
        assert!(found.wrong.iter().any(|line| line.contains(told)), "{harm}: {:?}", found.wrong);
    }
}
