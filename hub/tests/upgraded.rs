//! What a hub of format 3 kept, an entry a row, is there byte for byte when this program opens it.

#[path = "shop/server.rs"]
#[allow(dead_code, reason = "each test file uses some of it")]
mod server;

use evenwire_core::record::{Clock, DeviceKey, Draft, Event, Hash, Head, Sealed};
use evenwire_core::sync::PushHead;
use evenwire_core::unit::{Millis, Stamp};
use evenwire_hub::blobs::Blobs;
use evenwire_hub::doctor::examine;
use evenwire_hub::storage::{FILE, ServerAddress, Storage, StorageError};
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::path::Path;
use tempfile::TempDir;
use uuid::Uuid;

const HUB: Uuid = Uuid::from_u128(0x4855);
const BENCH: Uuid = Uuid::from_u128(0x0be1);
/// The steps up to format 3, and what a program of that format did before and after them at a server.
const FILE_STEPS: [&str; 3] = [
    include_str!("../src/storage/migrations/0001_hub.sql"),
    include_str!("../src/storage/migrations/0002_office.sql"),
    include_str!("../src/storage/migrations/0003_signatures.sql"),
];
const SERVER_STEPS: [&str; 3] = [
    include_str!("../src/storage/migrations/postgres/0001_hub.sql"),
    include_str!("../src/storage/migrations/postgres/0002_office.sql"),
    include_str!("../src/storage/migrations/postgres/0003_signatures.sql"),
];
const BEFORE_SERVER_STEPS: &str =
    "CREATE SCHEMA evenwire; CREATE EXTENSION btree_gin; SET search_path = evenwire, public;
    CREATE TABLE format (only_row BIGINT PRIMARY KEY CHECK (only_row = 1), step BIGINT NOT NULL);
    INSERT INTO format (only_row, step) VALUES (1, 3)";
const AFTER_SERVER_STEPS: &str = "INSERT INTO shop (name) VALUES ('second');
    ALTER TABLE entry ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
    ALTER TABLE push_head ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
    CREATE POLICY its_own_shop ON entry USING (shop = shop_now()) WITH CHECK (shop = shop_now());
    CREATE POLICY its_own_shop ON push_head USING (shop = shop_now()) WITH CHECK (shop = shop_now())";

fn key() -> DeviceKey {
    DeviceKey::from_seed([5; 32])
}

/// A ledger with an entry of each of these jobs (0: none), of words that differ in length.
fn ledger(jobs: &[u8], word: char) -> Vec<Sealed> {
    let mut head = Head::empty(BENCH);
    let write = |(at, job): (usize, &u8)| {
        let order = word.to_string().repeat(at % 7);
        let event = Event::JobOpened { order, vehicle: "ä\u{0}\n".to_owned(), personal: Hash::of(b"-") };
        let own = if at % 3 == 0 { Event::JobFinished {} } else { Event::ConductorChosen { conductor: 1 } };
        let (kind, body) = if *job > 0 { event.parts() } else { own.parts() };
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

/// Signatures of batches of so many entries each, the last one as long as the rest.
fn signatures(entries: &[Sealed], sizes: &[usize]) -> Vec<(i64, String)> {
    let (mut ends, mut at) = (BTreeSet::from([entries.len()]), 0);
    for size in sizes {
        at += size;
        ends.insert(at.min(entries.len()));
    }
    let sign = |end: usize| {
        let last = &entries[end - 1];
        let head = PushHead { hub: HUB, device: BENCH, sequence: last.entry().sequence, hash: last.hash() };
        ((1 << 40) + end as i64, head.sign(&key()))
    };
    ends.into_iter().map(sign).collect()
}

/// Statements by which a hub of format 3 wrote these; values as they are written in `hex`.
fn written(entries: &[Sealed], signatures: &[(i64, String)], hex: impl Fn(&[u8]) -> String) -> String {
    let mut sql = String::new();
    let zero = hex(&[0; 32]);
    let name = format!("'Bench {}'", entries[0].hash());
    sql += &format!("INSERT INTO hub (only_row, id, name, begun_ms) VALUES (1, {}, '', 0);", hex(HUB.as_bytes()));
    sql += &format!(
        "INSERT INTO device (number, id, name, key, paired_ms, tail_device, tail_sequence, tail_hash)
         VALUES (1, {bench}, {name}, {key}, 0, {bench}, 0, {zero});",
        bench = hex(BENCH.as_bytes()),
        key = hex(&key().public().0)
    );
    let rows: Vec<String> = entries
        .iter()
        .map(|sealed| {
            let (place, entry) = ((1i64 << 40) + sealed.entry().sequence as i64, sealed.entry());
            let job = entry.job.map_or("NULL".to_owned(), |job| hex(job.as_bytes()));
            format!("({place}, {job}, '{}', {}, {})", entry.kind, hex(&sealed.hash().0), hex(sealed.bytes()))
        })
        .collect();
    sql += &format!("INSERT INTO entry (place, job, kind, hash, bytes) VALUES {};", rows.join(", "));
    let jobs: BTreeSet<Uuid> = entries.iter().filter_map(|sealed| sealed.entry().job).collect();
    for job in jobs {
        sql += &format!("INSERT INTO stale (device, job, marks) VALUES (1, {}, 1);", hex(job.as_bytes()));
    }
    for (place, jws) in signatures {
        sql += &format!("INSERT INTO push_head (place, received_ms, jws) VALUES ({place}, 7, '{jws}');");
    }
    let last = entries.last().unwrap();
    // Whoever signs in at the tests' server sees the devices of all shops.
    let (sequence, hash) = (last.entry().sequence, hex(&last.hash().0));
    sql += &format!("UPDATE device SET tail_sequence = {sequence}, tail_hash = {hash} WHERE name = {name}");
    sql
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Opens it and compares all of it with the entries.
async fn compared(folder: &Path, store: Option<&ServerAddress>, shop: &str, ours: &[Sealed]) {
    let storage = Storage::open_at(folder, store).unwrap();
    let storage = storage.of(&storage.shop_named(shop).await.unwrap().unwrap());
    let number = storage.device(BENCH).await.unwrap().unwrap().number;
    assert!(storage.entries(number, 1, 1_000).await.unwrap() == ours);
    let jobs: BTreeSet<Uuid> = ours.iter().filter_map(|sealed| sealed.entry().job).collect();
    for job in jobs {
        let own: Vec<Sealed> = ours.iter().filter(|sealed| sealed.entry().job == Some(job)).cloned().collect();
        assert!(storage.versions(job).await.unwrap() == [(number, own)]);
    }
    let of_kind = |kind: &str| -> Vec<Sealed> {
        ours.iter().filter(|sealed| sealed.entry().job.is_none() && sealed.entry().kind == kind).cloned().collect()
    };
    let chosen = of_kind("conductor-chosen");
    assert!(storage.entries_of_device(number, ["conductor-chosen", "nothing"]).await.unwrap() == chosen);
    assert!(storage.entries_of_device(number, ["nothing", "job-finished"]).await.unwrap() == of_kind("job-finished"));
    let found = examine(&storage, &Blobs::open(folder).unwrap(), HUB).await.unwrap();
    assert_eq!((found.wrong, found.entries), (vec![], ours.len() as u64));
}

/// A file as a hub of format 3 left it.
fn file_with(entries: &[Sealed], signatures: &[(i64, String)]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let conn = rusqlite::Connection::open(folder.path().join(FILE)).unwrap();
    conn.execute_batch(&FILE_STEPS.join(";")).unwrap();
    conn.execute_batch(&written(entries, signatures, |bytes| format!("x'{}'", hex(bytes)))).unwrap();
    conn.execute_batch("PRAGMA user_version = 3; PRAGMA application_id = 0x45764862").unwrap();
    folder
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(16) })]
    #[test]
    fn entries_of_a_file_become_batches(
        jobs in prop::collection::vec(0u8..4, 1..60),
        sizes in prop::collection::vec(1usize..20, 0..8),
    ) {
        let ours = ledger(&jobs, 'a');
        let folder = file_with(&ours, &signatures(&ours, &sizes));
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        runtime.block_on(compared(folder.path(), None, "", &ours));
    }
}

#[test]
fn a_file_in_which_the_end_of_an_entry_was_never_signed_stays_as_it_was() {
    let ours = ledger(&[1, 0, 2, 2], 'a');
    let mut signed = signatures(&ours, &[2]);
    signed.pop();
    let folder = file_with(&ours, &signed);
    assert!(matches!(Storage::open(folder.path()), Err(StorageError::Failed { .. })));
    let conn = rusqlite::Connection::open(folder.path().join(FILE)).unwrap();
    let there: i64 = conn.query_row("SELECT count(*) FROM entry", [], |row| row.get(0)).unwrap();
    assert_eq!(there, 4);
}

#[test]
fn entries_of_shops_at_a_server_become_batches_of_each() {
    let (folder, store) = (tempfile::tempdir().unwrap(), server::database());
    let name = store.0.split(['/', '?']).find(|part| part.starts_with("shop_")).unwrap();
    // Policies hold for whoever owns the tables, unless that is a superuser.
    let owner = format!("CREATE ROLE keeper LOGIN CREATEROLE; ALTER DATABASE {name} OWNER TO keeper");
    server::connect(&store).batch_execute(&owner).unwrap();
    let store = ServerAddress(store.0.replace("user=evenwire", "user=keeper"));
    let jobs = [0, 1, 1, 2, 0, 0, 1, 3, 3, 3, 2, 0];
    let (first, second) = (ledger(&jobs, 'a'), ledger(&jobs[3..], 'b'));
    let in_hex = |bytes: &[u8]| format!("'\\x{}'::bytea", hex(bytes));
    let told = |entries: &[Sealed], sizes: &[usize]| written(entries, &signatures(entries, sizes), in_hex);
    let mut client = server::connect(&store);
    let steps = [&[BEFORE_SERVER_STEPS], &SERVER_STEPS[..], &[AFTER_SERVER_STEPS]].concat();
    client.batch_execute(&steps.join(";")).unwrap();
    client.batch_execute(&format!("SET evenwire.shop = 1; {}", told(&first, &[5, 1, 3]))).unwrap();
    client.batch_execute(&format!("SET evenwire.shop = 2; {}", told(&second, &[2, 7]))).unwrap();
    drop(client);
    let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
    runtime.block_on(compared(folder.path(), Some(&store), "", &first));
    runtime.block_on(compared(folder.path(), Some(&store), "second", &second));
}
