//! How long a search among 100 000 jobs takes, beside a bare statement to the same kind of index over the same texts
//! without anything of ours around it; and how long it takes to open their ledger, beside an empty one. Every job is
//! opened by an entry of its own, and its line is made from it as the program makes it.

mod many_jobs;

use anyhow::{Context, Result, ensure};
use evenwire_core::session::Batch;
use evenwire_engine::bench::{Bench, BenchOptions};
use evenwire_store::Store;
use many_jobs::{Table, Yardstick, at, job};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use uuid::Uuid;

const JOBS: u64 = 100_000;
/// Jobs written in one go.
const AT_ONCE: u64 = 2_000;
/// Searches of each sort.
const ROUNDS: u64 = 400;
/// Lines of a page of the list.
const PAGE: u32 = 30;
/// Starts that are timed.
const STARTS: u32 = 9;

fn main() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let (many, empty) = (folder.path().join("many.db"), folder.path().join("empty.db"));
    println!("writing {JOBS} jobs …");
    let texts = write(&many)?;
    drop(Store::open(&empty, Uuid::from_u128(1))?);
    let bare = std::env::args_os().nth(1).context("the program of the yardstick")?;
    search(&many, &Yardstick { program: bare.into(), file: folder.path().join("bare.db"), texts })?;
    open(&many, &empty)
}

/// Writes all jobs; gives the text of each with its place in the order.
fn write(path: &Path) -> Result<Vec<(u64, String)>> {
    let mut store = Store::open(path, Uuid::from_u128(1))?;
    let mut head = store.head()?;
    let mut texts = Vec::new();
    for first in (0..JOBS).step_by(AT_ONCE as usize) {
        let mut batch = Batch::default();
        for number in first..first + AT_ONCE {
            let (entries, kept, line) = job(&mut head, number)?;
            texts.push((line.opened_by, line.search.clone()));
            batch.entries.extend(entries);
            batch.details.push(kept);
            batch.lines.push(line);
        }
        store.append(&batch)?;
    }
    store.note_whole_lines()?;
    store.checkpoint()?;
    Ok(texts)
}

fn search(path: &Path, yardstick: &Yardstick) -> Result<()> {
    let store = Store::open(path, Uuid::from_u128(1))?;
    let table = Table::begin(JOBS, ROUNDS, yardstick)?;
    let runtime = tokio::runtime::Builder::new_current_thread().build()?;
    runtime.block_on(table.fill(async |words: &str| Ok(store.jobs(words, 0, PAGE)?.0.len())))
}

/// From nothing to the first view, the program's own way; radio off, because its adapter has its own pace.
fn open(many: &Path, empty: &Path) -> Result<()> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    let start = |path: &Path| -> Result<Duration> {
        let options = BenchOptions { radio: false, ..BenchOptions::on(PathBuf::from(path)) };
        let begun = Instant::now();
        let bench = Bench::start(options)?;
        runtime.block_on(async { bench.listen().next().await }).context("a view")?;
        let took = begun.elapsed();
        ensure!(runtime.block_on(bench.close()), "it did not end");
        Ok(took)
    };
    let (mut full, mut bare) = (Vec::new(), Vec::new());
    for _ in 0..STARTS {
        full.push(start(many)?);
        bare.push(start(empty)?);
    }
    let (full50, bare50) = (at(&mut full, 50), at(&mut bare, 50));
    println!(
        "start with {JOBS} jobs, median us: {full50}; with none: {bare50}; ratio {:.2}",
        full50.parse::<f64>()? / bare50.parse::<f64>()?
    );
    let mut store = Store::open(many, Uuid::from_u128(1))?;
    let begun = Instant::now();
    store.erase_details(store.jobs("", 0, 1)?.0[0].job)?;
    println!("erasing one of them, the list and its index written anew: {:.1} s", begun.elapsed().as_secs_f64());
    Ok(())
}
