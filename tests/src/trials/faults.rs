//! A disk that fails at the first, the second, the third … write, until a whole piece of work passes without coming to
//! the one that would fail: so each place at which anything is written has failed once, in every way.

use super::shim::{self, Fault};
use super::truth::Truth;
use super::{Ground, Tally, work};
use anyhow::{Context, Result, bail, ensure};
use evenwire_core::session::Batch;
use evenwire_engine::practice::rehearsal::device;
use evenwire_store::{Store, StoreError};
use std::fs;
use std::path::Path;
use std::time::Instant;
use uuid::Uuid;

/// Batches the work is made of: the beginning of a job, its photos, and its end.
const BATCHES: usize = 24;

/// How a disk fails, and whether it stays so.
const WAYS: [(&str, Fault, bool); 4] = [
    ("refused once", Fault::Refused, false),
    ("refused from then on", Fault::Refused, true),
    ("written short", Fault::Short, false),
    ("full from then on", Fault::Full, true),
];

/// Lets each write fail in turn; in a short run every so many of them.
///
/// # Errors
/// Only what keeps the trial itself from running.
pub fn trial(ground: &Ground) -> Result<Tally> {
    let mut tally = Tally::of("faults of the disk");
    if !shim::install() {
        tally.not_run.push("SQLite takes no other file system here".into());
        return Ok(tally);
    }
    let folder = ground.folder.join("faults");
    let recorded = record(&folder.join("recorded"), ground.seed)?;
    let start = Instant::now();
    for (way, fault, stays) in WAYS {
        let mut number = 1;
        loop {
            if ground.is_over(start, &mut tally) {
                return Ok(tally);
            }
            let place = folder.join(format!("{way} {number}"));
            fs::create_dir_all(&place)?;
            shim::arm(number, fault, stays);
            let came = once(&place.join("van.db"), &recorded, &mut tally);
            let failed = shim::disarm();
            let told = came.as_ref().map_or(1, |reached| *reached);
            tally.take(|| format!("{way}, write {number}"), came.map(drop));
            fs::remove_dir_all(&place)?;
            if told == 0 && failed == 0 {
                break;
            }
            tally.see(way);
            // Emptying the log can fail in silence: what is in it stays there.
            if told == 0 {
                tally.see("not told, nothing missing");
            }
            number += u64::from(ground.amount.stride);
        }
    }
    Ok(tally)
}

/// The batches of one procedure, as they were committed.
fn record(folder: &Path, seed: u64) -> Result<Vec<Batch>> {
    fs::create_dir_all(folder)?;
    for more in 0..20 {
        let mut batches = Vec::new();
        let mut store = Store::open(&folder.join(format!("{more}.db")), device(0))?;
        let mut commit = |store: &mut Store, batch: &Batch| {
            batches.push(batch.clone());
            work::append(store, batch)
        };
        work::job(&mut store, seed.wrapping_add(2 * more) | 1, &mut commit)?;
        let photo = batches.iter().position(|batch| !batch.pictures.is_empty());
        if let Some(photo) = photo.filter(|photo| *photo + 2 < batches.len()) {
            batches.truncate((photo + 3).max(BATCHES));
            return Ok(batches);
        }
    }
    bail!("no procedure came as far as its photo")
}

/// The work, once. Gives how often something failed; after each failure nothing may be missing, and it goes on.
fn once(path: &Path, batches: &[Batch], tally: &mut Tally) -> Result<u32> {
    let (mut truth, mut reached) = (Truth::default(), 0);
    let mut store = loop {
        match Store::open(path, device(0)) {
            Ok(store) => break store,
            Err(fault) => failed(fault, &mut reached).context("making it")?,
        }
    };
    let mut next = 0;
    while let Some(batch) = batches.get(next) {
        match store.append(batch) {
            Ok(()) => {
                truth.learn(batch);
                next += 1;
            }
            Err(fault) => {
                failed(fault, &mut reached)?;
                truth.all_in(&store).with_context(|| format!("at once, after batch {next}"))?;
                ensure!(store.head()?.sequence == truth.newest(), "half of batch {next} is there");
                // Every second time the program is started anew after a fault.
                if next.is_multiple_of(2) {
                    drop(store);
                    store = again(path, &truth, &mut reached).with_context(|| format!("anew, after batch {next}"))?;
                    // What was not acknowledged may have come to the disk; then it is there whole.
                    if store.head()?.sequence > truth.newest() {
                        truth.learn(batch);
                        truth.all_in(&store).context("a batch that was not acknowledged is half there")?;
                        tally.see("written, and not acknowledged");
                        next += 1;
                    }
                }
            }
        }
    }
    let job = *truth.jobs.first().context("a job")?;
    loop {
        match store.checkpoint().and_then(|()| store.erase_details(Uuid::nil())) {
            Ok(()) => break,
            Err(fault) => failed(fault, &mut reached).context("emptying the log")?,
        }
        truth.all_in(&store).context("after emptying the log failed")?;
    }
    drop(store);
    let store = again(path, &truth, &mut reached).context("at the end")?;
    ensure!(store.details(job)?.is_some(), "personal details of job {job} are gone");
    ensure!(store.head()?.sequence == truth.newest(), "there is more than was written");
    Ok(reached)
}

/// The ledger, opened once the disk is well again, with everything that was acknowledged.
fn again(path: &Path, truth: &Truth, reached: &mut u32) -> Result<Store> {
    let store = loop {
        match Store::open(path, Uuid::nil()) {
            Ok(store) => break store,
            Err(fault) => failed(fault, reached).context("opening it")?,
        }
    };
    truth.all_in(&store)?;
    Ok(store)
}

/// A fault that was to be expected; the disk is well again after it.
fn failed(fault: StoreError, reached: &mut u32) -> Result<()> {
    let expected = matches!(fault, StoreError::Sqlite { .. } | StoreError::Full { .. } | StoreError::Busy { .. });
    *reached += 1;
    if shim::disarm() == 0 || !expected {
        bail!("{fault} ({fault:?})");
    }
    Ok(())
}
