//! The evening of a shop: all devices send their day at once, over TLS, beside the barest thing that keeps the same bytes
//! in the same engine, without checks, and at a server without shops and their policies: their bytes and nothing else, a
//! row an entry; with what entries are looked up by in columns of their own and an index of jobs; and their bytes, a row a
//! batch in pages of the hub's size, as the hub keeps them. All are timed in each round, one after
//! the other, and the order alternates; what counts are the ratios of a round. A burst does not find a hub that began just
//! now: each device has brought one job before, and a bare loop one row. A bare loop ends a transaction with each
//! batch of a device; at a server the hub may put four into one, and write three
//! such transactions at once. Time of the cores is told as well, because beside other
//! work it is the better measure: that of the hub is with its devices, which are in the same process, beside that of the
//! bytes alone. What a server's own process takes is in neither.
//!
//! `burst [postgres] [devices] [entries of each] [photos of each] [rounds]`; 15, 3000, 20 and 7 without. Files are made
//! where `TMPDIR` says: in memory (`/dev/shm`) nothing waits for a disk, and what is left is the work itself. With
//! `postgres` the rows go into a server that is started for it.

#[path = "../tests/shop/mod.rs"]
mod shop;

use evenwire_core::record::{Event, Sealed, StepFact};
use evenwire_core::sync::MOST_ENTRIES;
use evenwire_core::unit::BootId;
use evenwire_hub::storage::ServerAddress;
use mimalloc::MiMalloc;
use reqwest::Method;
use reqwest::header::CONTENT_TYPE;
use shop::bare::{Kept, Row};
use shop::process::{cores_used, machine};
use shop::server::{fresh_database, on_its_disk};
use shop::{Phone, Shop, bare, done};
use std::path::Path;
use std::time::{Duration, Instant};

/// As in the program itself.
#[global_allocator]
static MEMORY: MiMalloc = MiMalloc;

/// Bytes of a photo.
const PHOTO: usize = 250_000;
/// Entries of a job.
const JOB: usize = 150;

/// How much each device brings.
#[derive(Clone, Copy)]
struct Day {
    devices: usize,
    entries: usize,
    photos: usize,
}

/// What a device sends, as it goes over the line.
struct Sending {
    phone: Phone,
    /// Entries that are there before anything is timed.
    before: usize,
    batches: Vec<Vec<u8>>,
    photos: Vec<Vec<u8>>,
}

/// What a round took: entries (ours, and each way of [`Kept`]) and photos (ours, the barest).
struct Round {
    ours: Duration,
    bare: [Duration; 3],
    photos: [Duration; 2],
    lines: Duration,
    /// Of the cores, for the entries.
    cores: [f64; 2],
}

/// What entries, lines and photos took a hub, and the cores for the entries.
struct Ours {
    entries: Duration,
    lines: Duration,
    photos: Duration,
    cores: f64,
}

#[tokio::main]
async fn main() {
    let mut given = std::env::args().filter_map(|text| text.parse::<usize>().ok());
    let mut next = |other| given.next().unwrap_or(other);
    let day = Day { devices: next(15), entries: next(3_000), photos: next(20) };
    let rounds = next(7);
    let place = tempfile::tempdir().expect("a folder");
    let server = std::env::args().any(|word| word == "postgres").then(|| on_its_disk(place.path()));
    let engine = if server.is_some() { "PostgreSQL, beside COPY for each batch" } else { "SQLite, beside a bare loop" };
    let (entries, photos) = (day.devices * day.entries, day.devices * day.photos);
    println!("{} devices, {entries} entries, {photos} photos of {PHOTO} bytes; {engine} ({})", day.devices, machine());
    println!(
        "{:<6}{:>11}{:>11}{:>7}{:>11}{:>7}{:>11}{:>7}{:>10}{:>9}{:>7}{:>10}{:>14}",
        "round",
        "entries/s",
        "bytes",
        "ratio",
        "columns",
        "ratio",
        "batches",
        "ratio",
        "photos/s",
        "bare",
        "ratio",
        "lines, s",
        "core us/entry"
    );
    let mut ratios = [const { Vec::new() }; 4];
    for number in 0..rounds {
        let round = one(day, number % 2 == 0, server.as_ref().map(|_| place.path())).await;
        let rate = |count: usize, took: Duration| count as f64 / took.as_secs_f64();
        let ours = rate(entries, round.ours);
        let [bytes, columns, batches] = round.bare.map(|took| rate(entries, took));
        let [photo, bare_photo] = round.photos.map(|took| rate(photos, took));
        let of = [ours / bytes, ours / columns, ours / batches, photo / bare_photo];
        let lines = round.lines.as_secs_f64();
        let [core, bare_core] = round.cores.map(|seconds| seconds * 1e6 / entries as f64);
        println!(
            "{number:<6}{ours:>11.0}{bytes:>11.0}{:>7.2}{columns:>11.0}{:>7.2}{batches:>11.0}{:>7.2}{photo:>10.0}{bare_photo:>9.0}{:>7.2}{lines:>10.2}{core:>8.1}/{bare_core:<5.1}",
            of[0], of[1], of[2], of[3]
        );
        ratios.iter_mut().zip(of).for_each(|(all, one)| all.push(one));
    }
    let [bytes, columns, batches, photo] = ratios.map(median);
    println!(
        "median ratio: to bytes {bytes:.2}, with columns {columns:.2}, in batches {batches:.2}, photos {photo:.2} ({})",
        machine()
    );
}

/// A round with a hub of its own.
async fn one(day: Day, ours_first: bool, server: Option<&Path>) -> Round {
    let stores = server.map(|folder| [0, 1].map(|_| fresh_database(&folder.join("server"))));
    let shop = match &stores {
        Some([store, _]) => Shop::open_in(store.clone()).await,
        None => Shop::open().await,
    };
    let mut sendings = Vec::new();
    for number in 0..day.devices {
        sendings.push(fill(shop.phone(&format!("Bench {number}")).await, day).await);
    }
    let rows = |of: &Sending| of.phone.ledger[of.before..].iter().map(Row::from).collect();
    let ledgers: Vec<Vec<Row>> = sendings.iter().map(rows).collect();
    let photos: Vec<Vec<u8>> = sendings.iter().flat_map(|of| of.photos.clone()).collect();
    let bare_place = tempfile::tempdir().expect("a folder");
    let store = stores.as_ref().map(|[_, store]| store);
    let bare = || bare_one(bare_place.path(), store, (&ledgers, &photos), ours_first);
    let before = (!ours_first).then(bare);
    let ours = ours(&shop, sendings).await;
    let (bare, photos, cores) = before.unwrap_or_else(bare);
    Round { ours: ours.entries, bare, photos: [ours.photos, photos], lines: ours.lines, cores: [ours.cores, cores] }
}

/// What each way to keep them and photos took, and the cores for the bytes alone.
fn bare_one(
    place: &Path,
    store: Option<&ServerAddress>,
    (ledgers, photos): (&[Vec<Row>], &[Vec<u8>]),
    bytes_first: bool,
) -> ([Duration; 3], Duration, f64) {
    let rows = |kept| match store {
        Some(store) => std::thread::scope(|scope| {
            // The client may not wait on a thread that others wait on.
            scope.spawn(|| bare::copied(store, ledgers, MOST_ENTRIES, kept)).join().expect("copied")
        }),
        None => bare::rows(place, ledgers, MOST_ENTRIES, kept),
    };
    tokio::task::block_in_place(|| {
        let (mut took, mut cores) = ([Duration::ZERO; 3], 0.0);
        let mut each = Vec::from_iter(took.iter_mut().zip(Kept::EACH));
        if !bytes_first {
            each.reverse();
        }
        for (took, kept) in each {
            let before = cores_used();
            *took = rows(kept);
            if kept == Kept::Bytes {
                cores = cores_used() - before;
            }
        }
        (took, bare::files(place, photos), cores)
    })
}

/// Entries, then photos, then what is done beside the answers.
async fn ours(shop: &Shop, sendings: Vec<Sending>) -> Ours {
    let (begun, before) = (Instant::now(), cores_used());
    let sending = sendings.into_iter().map(|of| tokio::spawn(send_entries(of))).collect::<Vec<_>>();
    let mut sendings = Vec::new();
    for one in sending {
        sendings.push(one.await.expect("a phone sends its day"));
    }
    let (entries, cores) = (begun.elapsed(), cores_used() - before);
    let begun = Instant::now();
    shop.settle().await;
    let lines = begun.elapsed();
    let begun = Instant::now();
    for one in sendings.into_iter().map(|of| tokio::spawn(send_photos(of))).collect::<Vec<_>>() {
        one.await.expect("a phone sends its photos");
    }
    Ours { entries, lines, photos: begun.elapsed(), cores }
}

/// A day: jobs of 150 entries, some of them photos. One more job is at the hub before it.
async fn fill(mut phone: Phone, day: Day) -> Sending {
    phone.open_job("W-first", &Default::default());
    phone.push_from(1).await.expect("the hub takes it");
    let before = phone.ledger.len();
    let (mut job, mut photos) = (None, Vec::new());
    let every = day.entries.checked_div(day.photos).unwrap_or(usize::MAX).max(2);
    for at in 0..day.entries {
        if at % JOB == 0 {
            job = Some(phone.open_job(&format!("W-{at}"), &Default::default()).job);
        } else if at % every == 1
            && photos.len() < day.photos
            && let Some(job) = job
        {
            let mut photo = vec![0; PHOTO];
            photo[..16].copy_from_slice(phone.id.as_bytes());
            photo[16..24].copy_from_slice(&(at as u64).to_be_bytes());
            phone.take_photo(job, &photo);
            photos.push(photo);
        } else {
            // As long as what is written on an ordinary day.
            let (step, boot) = ("read-the-codes".to_owned(), BootId("one run".to_owned()));
            phone.write(job, &Event::StepSkipped(StepFact { step, boot, said: "a".repeat(280) }));
        }
    }
    let body = |entries: &[Sealed]| serde_json::to_vec(&phone.batch(entries)).expect("JSON");
    let batches = phone.ledger[before..].chunks(MOST_ENTRIES).map(body).collect();
    Sending { phone, before, batches, photos }
}

async fn send_entries(mut of: Sending) -> Sending {
    for body in std::mem::take(&mut of.batches) {
        let request = of.phone.request(Method::POST, "/v1/devices/me/entries");
        done(request.header(CONTENT_TYPE, "application/json").body(body)).await.expect("a batch is taken");
    }
    of
}

async fn send_photos(of: Sending) {
    for photo in of.photos {
        let hash = evenwire_core::record::Hash::of(&photo);
        done(of.phone.request(Method::PUT, &format!("/v1/blobs/{hash}")).body(photo)).await.expect("it is taken");
    }
}

fn median(mut of: Vec<f64>) -> f64 {
    of.sort_by(f64::total_cmp);
    of[of.len() / 2]
}
