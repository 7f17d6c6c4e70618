//! Whatever way a ledger is cut, repeated and mixed on its way: what the hub said to have stored is on its disk, and what
//! is there is the beginning of the ledger, byte for byte.

#[path = "shop/server.rs"]
#[allow(dead_code, reason = "each test file uses some of it")]
mod server;

use evenwire_core::record::{Clock, DeviceKey, Draft, Event, Head, PublicKey, Sealed};
use evenwire_core::sync::{PushAsk, PushHead, PushRefused};
use evenwire_core::unit::{Millis, Stamp};
use evenwire_hub::storage::{Asked, DeviceNumber, From, NotStored, ServerAddress, Setup, Storage};
use proptest::prelude::*;
use serde_json::value::RawValue;
use std::path::Path;
use uuid::Uuid;

const HUB: Uuid = Uuid::from_u128(0x4855);
const BENCH: Uuid = Uuid::from_u128(0x0be1);

/// A folder, and the database of the rows if there is one.
type Place<'a> = (&'a Path, Option<&'a ServerAddress>);

fn key() -> DeviceKey {
    DeviceKey::from_seed([5; 32])
}

fn ledger(jobs: &[u8]) -> Vec<Sealed> {
    let mut head = Head::empty(BENCH);
    let write = |(at, job): (usize, &u8)| {
        let (kind, body) = Event::ConductorChosen { conductor: u32::from(*job) }.parts();
        let draft = Draft {
            id: Uuid::from_u128(at as u128),
            job: (*job > 0).then(|| Uuid::from_u128(u128::from(*job))),
            kind,
            version: Event::VERSION,
            elapsed_ms: Millis(at as u64),
            wall: Stamp::parse("2026-03-01T10:42:00+01:00").unwrap(),
            clock: Clock::Ok,
            body,
        };
        head.seal(Uuid::from_u128(2), draft)
    };
    jobs.iter().enumerate().map(write).collect()
}

fn batch(entries: &[Sealed]) -> Vec<u8> {
    let last = entries.last().unwrap();
    let head = PushHead { hub: HUB, device: BENCH, sequence: last.entry().sequence, hash: last.hash() };
    let raw = |sealed: &Sealed| RawValue::from_string(String::from_utf8(sealed.bytes().to_vec()).unwrap()).unwrap();
    let first_sequence = entries[0].entry().sequence;
    let entries = entries.iter().map(raw).collect();
    serde_json::to_vec(&PushAsk { first_sequence, entries, head: head.sign(&key()) }).unwrap()
}

async fn open(place: Place<'_>) -> Storage {
    let storage = Storage::open_at(place.0, place.1).unwrap();
    let token = evenwire_core::record::Hash::ZERO;
    storage.begin(Setup { id: HUB, token, at_ms: 0 }).await.unwrap();
    storage
}

async fn take_in(storage: &Storage, key: PublicKey) -> DeviceNumber {
    let code = evenwire_core::record::Hash::of(b"code");
    storage.invite(code, None, 0).await.unwrap();
    let asked = Asked { pairing: Uuid::from_u128(1), code, device: BENCH, name: "Bench".to_owned(), key, at_ms: 1 };
    storage.ask_pairing(asked).await.unwrap().unwrap();
    storage.decide_pairing(Uuid::from_u128(1), true, (None, 2)).await.unwrap().unwrap();
    storage.device(BENCH).await.unwrap().unwrap().number
}

/// Sends batches two at a time, so that the writer has both before it.
async fn send(place: Place<'_>, ours: &[Sealed], cuts: &[(usize, usize)]) -> u64 {
    let storage = open(place).await;
    let number = take_in(&storage, key().public()).await;
    let from = From { hub: HUB, number, device: BENCH, key: key().public(), at_ms: 3 };
    let mut acknowledged = 0;
    let cut = |&(from, count): &(usize, usize)| {
        let from = from.min(ours.len() - 1);
        batch(&ours[from..(from + count).min(ours.len()).max(from + 1)])
    };
    for pair in cuts.chunks(2) {
        let sent: Vec<Vec<u8>> = pair.iter().map(cut).collect();
        let first = storage.push(from, sent[0].clone());
        let answers = match sent.get(1) {
            Some(second) => {
                let (one, two) = tokio::join!(first, storage.push(from, second.clone()));
                vec![one.unwrap(), two.unwrap()]
            }
            None => vec![first.await.unwrap()],
        };
        for answer in answers {
            match answer {
                Ok(stored) => {
                    assert_eq!(stored.hash, ours[stored.stored_through as usize - 1].hash());
                    acknowledged = acknowledged.max(stored.stored_through);
                }
                Err(NotStored::Refused(PushRefused::Gap { expected })) => assert!(expected <= ours.len() as u64),
                Err(other) => panic!("{other:?}"),
            }
        }
    }
    acknowledged
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn what_was_acknowledged_is_there_and_a_beginning_of_the_ledger(
        jobs in prop::collection::vec(0u8..4, 1..40),
        cuts in prop::collection::vec((0usize..40, 1usize..12), 1..24),
    ) {
        let (folder, store) = (tempfile::tempdir().unwrap(), server::store());
        let place = (folder.path(), store.as_ref());
        let ours = ledger(&jobs);
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        let acknowledged = runtime.block_on(send(place, &ours, &cuts));
        drop(runtime);
        // Another run of the program looks at the file.
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        runtime.block_on(async {
            let storage = open(place).await;
            let device = storage.device(BENCH).await.unwrap().unwrap();
            let there = storage.entries(device.number, 1, 1_000).await.unwrap();
            assert_eq!(there, ours[..there.len()]);
            assert_eq!(there.len() as u64, device.tail.sequence);
            assert_eq!(device.tail.sequence, acknowledged, "nothing was stored that nobody was told of");
            let whole = From { hub: HUB, number: device.number, device: BENCH, key: key().public(), at_ms: 4 };
            storage.push(whole, batch(&ours)).await.unwrap().unwrap();
            assert_eq!(storage.entries(device.number, 1, 1_000).await.unwrap(), ours);
        });
    }
}
