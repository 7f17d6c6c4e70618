//! Rows in PostgreSQL: what the database itself keeps, what becomes of a hub whose database dies, and two hubs over one.

mod shop;

use evenwire_core::record::{Event, Sealed};
use evenwire_hub::app::random_id;
use evenwire_hub::serve::examine_store;
use evenwire_hub::storage::{ServerAddress, Storage, StorageError};
use evenwire_hub::tls::HOST;
use shop::balancer::{balance, restless};
use shop::process::{Process, start, taken_in};
use shop::server::{self, Keeper};
use shop::{Phone, Shop, code};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

/// How long anything here may take.
const DEADLINE: Duration = Duration::from_secs(180);
/// Entries of a batch, and batches of a phone.
const BATCH: usize = 12;
const BATCHES: usize = 40;

/// Does something at the database itself; what it said.
async fn at_the_database(store: &ServerAddress, sql: &str) -> Result<(), String> {
    let (store, sql) = (store.clone(), sql.to_owned());
    let done = move || {
        let said = server::connect(&store).batch_execute(&sql);
        said.map_err(|error| error.as_db_error().map(|said| said.message().to_owned()).unwrap_or_default())
    };
    tokio::task::spawn_blocking(done).await.unwrap()
}

#[tokio::test]
async fn what_must_stay_the_database_itself_keeps() {
    let store = server::database();
    let shop = Shop::open_in(store.clone()).await;
    let mut phone = shop.phone("Bench 1").await;
    phone.open_job("W-1", &Default::default());
    phone.push_from(1).await.unwrap();
    let place = 1i64 << 40;
    let insert = |at: i64| {
        format!("INSERT INTO evenwire.batch SELECT 1, {at}, 1, received_ms, jws, bytes FROM evenwire.batch LIMIT 1")
    };
    for (harm, told) in [
        ("UPDATE evenwire.batch SET bytes = ''".to_owned(), "batch stays as it is"),
        ("DELETE FROM evenwire.batch".to_owned(), "batch stays as it is"),
        ("TRUNCATE evenwire.batch CASCADE".to_owned(), "stays as it is"),
        ("UPDATE evenwire.run SET begins = 7".to_owned(), "run stays as it is"),
        ("DELETE FROM evenwire.run".to_owned(), "run stays as it is"),
        ("DELETE FROM evenwire.job_head".to_owned(), "job_head stays as it is"),
        ("DELETE FROM evenwire.fork".to_owned(), "fork stays as it is"),
        ("DELETE FROM evenwire.signature".to_owned(), "signature stays as it is"),
        ("UPDATE evenwire.access SET what = ''".to_owned(), "access stays as it is"),
        ("DELETE FROM evenwire.hub".to_owned(), "hub stays as it is"),
        ("DELETE FROM evenwire.device".to_owned(), "device stays as it is"),
        ("UPDATE evenwire.device SET tail_sequence = 0".to_owned(), "only moves forward"),
        (insert(place + 3), "without gaps"),
        (insert(2 * place), "without gaps"),
        (insert(place + 1), "duplicate key"),
    ] {
        let said = at_the_database(&store, &harm).await;
        assert!(said.as_ref().is_err_and(|why| why.contains(told)), "{harm}: {said:?}");
    }
    at_the_database(&store, &insert(place + 2)).await.unwrap();
}

#[tokio::test]
async fn another_programs_tables_and_newer_ones_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let open = |store: &ServerAddress| Storage::open_at(folder.path(), Some(store)).err();
    let theirs = server::database();
    at_the_database(&theirs, "CREATE SCHEMA evenwire; CREATE TABLE evenwire.theirs (a int)").await.unwrap();
    assert_eq!(open(&theirs), Some(StorageError::NotOurs));
    let newer = server::database();
    assert_eq!(open(&newer), None);
    at_the_database(&newer, "UPDATE evenwire.format SET step = 99").await.unwrap();
    assert!(matches!(open(&newer), Some(StorageError::Newer { found: 99, known: 4 })), "{:?}", open(&newer));
    at_the_database(&newer, "DROP TABLE evenwire.format").await.unwrap();
    assert_eq!(open(&newer), Some(StorageError::NotOurs));
    let nowhere = ServerAddress("postgres:///none?host=127.0.0.1&port=1".to_owned());
    assert!(matches!(open(&nowhere), Some(StorageError::Failed { .. })));
}

#[tokio::test]
async fn several_that_begin_at_once_make_the_tables_once() {
    let store = server::database();
    let folder = tempfile::tempdir().unwrap();
    let openings: Vec<_> = (0..4)
        .map(|_| {
            let (store, folder) = (store.clone(), folder.path().to_owned());
            std::thread::spawn(move || Storage::open_at(&folder, Some(&store)).err())
        })
        .collect();
    for opening in openings {
        assert_eq!(opening.join().unwrap(), None);
    }
}

/// What all phones were told.
#[derive(Default)]
struct Told {
    batches: AtomicUsize,
    faults: AtomicUsize,
}

/// A phone with a day of its own.
fn fill(phone: &mut Phone) {
    let job = random_id();
    for conductor in 0..(BATCH * BATCHES) as u32 {
        phone.write(Some(job), &Event::ConductorChosen { conductor });
    }
}

/// Sends all of it, whatever is answered, until it is told that all of it is there. What it was told is never taken
/// back.
async fn insist(phone: Phone, told: Arc<Told>) -> Phone {
    let (mut acknowledged, mut at) = (0, 0);
    while acknowledged < phone.ledger.len() {
        let batch = phone.batch(&phone.ledger[at..(at + BATCH).min(phone.ledger.len())]);
        let request = phone.request(reqwest::Method::POST, "/v1/devices/me/entries").json(&batch);
        let stored: Option<evenwire_core::sync::Stored> = match request.send().await {
            Ok(response) if response.status().is_success() => response.json().await.ok(),
            Ok(response) => {
                assert!(response.status().is_server_error(), "{:?}", response.text().await);
                None
            }
            Err(_) => None,
        };
        if let Some(stored) = stored {
            at = stored.stored_through as usize;
            acknowledged = acknowledged.max(at);
            told.batches.fetch_add(1, Ordering::SeqCst);
            continue;
        }
        told.faults.fetch_add(1, Ordering::SeqCst);
        let tail = phone.request(reqwest::Method::GET, "/v1/devices/me").send().await;
        let Ok(response) = tail.and_then(reqwest::Response::error_for_status) else { continue };
        let Ok(tail) = response.json::<evenwire_core::sync::Tail>().await else { continue };
        at = tail.next_sequence as usize - 1;
        assert!(at >= acknowledged, "{at} are there, {acknowledged} were acknowledged");
    }
    phone
}

/// All that phones brought is there as it was written, and nothing is wrong with anything.
async fn all_there(folder: &Path, store: &ServerAddress, phones: &[Phone]) {
    let found = examine_store(folder, Some(store), None).await.unwrap();
    assert_eq!((found.wrong, found.lost), (vec![], vec![]));
    let storage = Storage::open_at(folder, Some(store)).unwrap();
    for phone in phones {
        let device = storage.device(phone.id).await.unwrap().unwrap();
        let there: Vec<Sealed> = storage.entries(device.number, 1, 10_000).await.unwrap();
        assert!(there == phone.ledger, "{} of {}", there.len(), phone.ledger.len());
    }
}

async fn until(told: &Told, count: usize) {
    let reached = async {
        while told.batches.load(Ordering::SeqCst) < count {
            tokio::task::yield_now().await;
        }
    };
    tokio::time::timeout(DEADLINE, reached).await.expect("devices get on");
}

/// Starts the server anew in its folder; what is left of the one before may have to end first.
fn revive(folder: &Path) -> Keeper {
    let begun = std::time::Instant::now();
    loop {
        assert!(begun.elapsed() < DEADLINE / 3, "the server does not start any more");
        let keeper = Keeper::start(folder, ["on", "stays"]);
        let process = std::path::PathBuf::from(format!("/proc/{}", keeper.server));
        while process.exists() {
            let at = server::address(folder, "postgres");
            if postgres::Client::connect(&at.0, postgres::NoTls).is_ok() {
                return keeper;
            }
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_database_killed_and_started_again_under_load_loses_nothing_that_was_acknowledged() {
    let place = tempfile::tempdir().unwrap();
    let rows = place.path().join("server");
    std::fs::create_dir(&rows).unwrap();
    std::fs::set_permissions(place.path(), std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();
    let mut keeper = Keeper::start(&rows, ["on", "stays"]);
    let at = rows.clone();
    let store = tokio::task::spawn_blocking(move || server::fresh_database(&at)).await.unwrap();
    let mut shop = Shop::open_in(store.clone()).await;
    let told = Arc::new(Told::default());
    let mut sending = Vec::new();
    for name in ["Bench 1", "Bench 2", "Bench 3"] {
        let mut phone = shop.phone(name).await;
        fill(&mut phone);
        sending.push(tokio::spawn(insist(phone, told.clone())));
    }
    for kill in 1..=4 {
        until(&told, kill * 20).await;
        let killed = std::process::Command::new("kill").args(["-9", &keeper.server.to_string()]).status().unwrap();
        assert!(killed.success());
        drop(keeper);
        let at = rows.clone();
        keeper = tokio::task::spawn_blocking(move || revive(&at)).await.unwrap();
    }
    let mut phones = Vec::new();
    for one in sending {
        phones.push(tokio::time::timeout(DEADLINE, one).await.expect("devices get on").unwrap());
    }
    assert!(told.faults.load(Ordering::SeqCst) > 0, "somebody noticed");
    shop.stop().await;
    all_there(&shop.folder.path().join("hub"), &store, &phones).await;
    drop(keeper);
}

#[tokio::test]
async fn a_hub_without_its_database_says_so_and_goes_on_when_it_is_back() {
    let place = tempfile::tempdir().unwrap();
    std::fs::set_permissions(place.path(), std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();
    let rows = place.path().join("server");
    std::fs::create_dir(&rows).unwrap();
    let keeper = Keeper::start(&rows, ["on", "stays"]);
    let at = rows.clone();
    let store = tokio::task::spawn_blocking(move || server::fresh_database(&at)).await.unwrap();
    let shop = Shop::open_in(store).await;
    let mut phone = shop.phone("Bench 1").await;
    phone.open_job("W-1", &Default::default());
    drop(keeper);
    let (push, tail) = tokio::join!(phone.push_from(1), phone.tail());
    assert_eq!((code(push), code(tail)), ("fault".to_owned(), "fault".to_owned()));
    let ready = phone.request(reqwest::Method::GET, "/readyz").send().await.unwrap();
    assert_eq!(ready.status(), 500);
    let _keeper = tokio::task::spawn_blocking(move || revive(&rows)).await.unwrap();
    assert_eq!(phone.push_from(1).await.unwrap().stored_through, 1);
    assert_eq!(phone.tail().await.unwrap().next_sequence, 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn devices_sync_through_two_hubs_over_one_database_and_one_of_them_may_die() {
    let _ = rustls::crypto::ring::default_provider().install_default();
    let place = tempfile::tempdir().unwrap();
    let (folder, store) = (place.path().join("hub"), server::database());
    let mut phones = Vec::new();
    for name in ["Bench 1", "Bench 2", "Bench 3"] {
        phones.push(taken_in(&folder, Some(&store), name).await);
    }
    let authority = std::fs::read(folder.join("tls/authority.crt")).unwrap();
    let [first, second]: [Process; 2] = [start(&folder, Some(&store)), start(&folder, Some(&store))];
    let at = balance(vec![first.listens, second.listens]).await;
    for phone in &mut phones {
        (phone.client, phone.port) = (restless(&authority, (HOST, at)), at.port());
        phone.sign_in().await;
        fill(phone);
    }
    // The same batch by both ways at once is taken once.
    let first_batch = phones[0].batch(&phones[0].ledger[..BATCH]);
    let (one, two) = tokio::join!(phones[0].push(&first_batch), phones[0].push(&first_batch));
    assert_eq!((one.unwrap().stored_through, two.unwrap().stored_through), (BATCH as u64, BATCH as u64));
    // What one of them was brought the other has.
    let picture = b"a plate".to_vec();
    let photo = phones[1].take_photo(random_id(), &picture);
    let told = Arc::new(Told::default());
    let sending: Vec<_> = phones.into_iter().map(|phone| tokio::spawn(insist(phone, told.clone()))).collect();
    until(&told, 30).await;
    drop(second);
    let mut phones = Vec::new();
    for one in sending {
        phones.push(tokio::time::timeout(DEADLINE, one).await.expect("devices get on").unwrap());
    }
    let again = start(&folder, Some(&store));
    let both = balance(vec![first.listens, again.listens]).await;
    for phone in &mut phones {
        (phone.client, phone.port) = (restless(&authority, (HOST, both)), both.port());
    }
    for _ in 0..2 {
        phones[1].put(photo, &picture).await.unwrap();
        assert_eq!(phones[1].tail().await.unwrap().missing, 0);
    }
    drop((first, again));
    all_there(&folder, &store, &phones).await;
}
