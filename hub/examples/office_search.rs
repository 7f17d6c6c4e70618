//! How long a search in the office's list takes among 100 000 jobs and among a million, beside a bare statement to the
//! same kind of index over the same texts without anything of ours around it.
//!
//! `office_search BARE [postgres] [jobs …]`: the program of the yardstick (`bare_search` of the store); 100000 and 1000000
//! jobs without numbers. With `postgres` the rows are in a server that is started for it.

#[path = "../../tests/examples/many_jobs/mod.rs"]
mod many_jobs;
#[path = "../tests/shop/mod.rs"]
mod shop;

use anyhow::{Context, Result, ensure};
use evenwire_core::record::Head;
use evenwire_hub::storage::{DeviceNumber, Search, Stale, Storage};
use many_jobs::{Table, Yardstick, job};
use shop::process::{machine, taken_in};
use shop::server::on_its_disk;
use std::path::Path;
use std::time::Instant;
use uuid::Uuid;

/// Jobs written in one go.
const AT_ONCE: u64 = 2_000;
/// Searches of each sort.
const ROUNDS: u64 = 200;
/// Jobs of a page of the list.
const PAGE: u32 = 30;

#[tokio::main]
async fn main() -> Result<()> {
    let _ = rustls::crypto::ring::default_provider().install_default();
    let bare = std::env::args().nth(1).context("the program of the yardstick")?;
    let on_server = std::env::args().any(|word| word == "postgres");
    let mut counts: Vec<u64> = std::env::args().filter_map(|text| text.parse().ok()).collect();
    if counts.is_empty() {
        counts = vec![100_000, 1_000_000];
    }
    for jobs in counts {
        let place = tempfile::tempdir()?;
        let server = on_server.then(|| on_its_disk(place.path()));
        let store = server.as_ref().map(|(_, store)| store);
        println!("\n{jobs} jobs in {} ({})", store.map_or("a file", |_| "PostgreSQL"), machine());
        let folder = place.path().join("hub");
        let phone = taken_in(&folder, store, "Bench 1").await;
        let storage = Storage::open_at(&folder, store)?;
        let device = storage.device(phone.id).await?.context("it was taken in")?.number;
        let begun = Instant::now();
        let texts = fill(&storage, device, jobs).await?;
        println!("their lines, written {AT_ONCE} at a time: {:.1} s", begun.elapsed().as_secs_f64());
        let yardstick = Yardstick { program: (&bare).into(), file: place.path().join("bare.db"), texts };
        search(&storage, jobs, &yardstick).await?;
        sizes(&folder)?;
    }
    Ok(())
}

/// Writes the lines of all jobs; gives the text of each with its place in the order.
async fn fill(storage: &Storage, device: DeviceNumber, jobs: u64) -> Result<Vec<(u64, String)>> {
    let mut head = Head::empty(Uuid::from_u128(1));
    let mut texts = Vec::new();
    for first in (0..jobs).step_by(AT_ONCE as usize) {
        let mut made = Vec::new();
        for number in first..(first + AT_ONCE).min(jobs) {
            let (entries, _, line) = job(&mut head, number)?;
            texts.push(((line.opened.unix_millis() as u64) << 20 | number, line.search.clone()));
            made.push((Stale::unmarked(device, line.job, entries), Some((line, false))));
        }
        storage.put_lines(made).await?;
    }
    ensure!(storage.empty_log().await?, "nobody else uses it");
    Ok(texts)
}

async fn search(storage: &Storage, jobs: u64, yardstick: &Yardstick) -> Result<()> {
    let search = async |words: &str| {
        let wanted = Search { words: words.to_owned(), most: PAGE, ..Search::default() };
        Ok(storage.find_jobs(wanted).await?.jobs.len())
    };
    Table::begin(jobs, ROUNDS, yardstick)?.fill(search).await
}

fn sizes(folder: &Path) -> Result<()> {
    let file = folder.join(evenwire_hub::storage::FILE);
    if file.is_file() {
        println!("the file: {} MB", file.metadata()?.len() / 1_000_000);
    }
    Ok(())
}
