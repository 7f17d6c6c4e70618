//! Damaged files: cut off, with a bit flipped, written over in part, the log as well. Either the ledger opens and holds
//! nothing that never was, or it is refused and rescued; never a panic, never a silent difference.

use super::truth::{Holds, Truth};
use super::{Ground, Tally, work};
use anyhow::{Context, Result, bail, ensure};
use evenwire_core::record::Hash;
use evenwire_core::session::Batch;
use evenwire_engine::practice::chance::Chance;
use evenwire_store::{Rescue, Store, StoreError};
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::Instant;
use uuid::Uuid;

/// A file and its log, with what they hold.
#[derive(Debug)]
struct Sound {
    file: Vec<u8>,
    log: Option<Vec<u8>>,
    truth: Truth,
    /// What an undamaged one holds.
    holds: Holds,
}

/// Damages as many copies as asked for.
///
/// # Errors
/// Only what keeps the trial itself from running.
pub fn trial(ground: &Ground) -> Result<Tally> {
    let mut tally = Tally::of("damaged files");
    let folder = ground.folder.join("wounds");
    let mut chance = ground.chance(4);
    let sound = sound(&folder.join("sound"), chance.bits())?;
    let start = Instant::now();
    for round in 0..ground.amount.wounds {
        if ground.is_over(start, &mut tally) {
            break;
        }
        let sound = &sound[usize::from(chance.whole(0, 1) == 1)];
        let place = folder.join(round.to_string());
        fs::create_dir_all(&place)?;
        let wound = Wound::drawn(sound, &mut chance);
        let path = place.join("van.db");
        let came = catch_unwind(AssertUnwindSafe(|| {
            wound.inflict(sound, &path)?;
            outcome((&path, &wound), sound, &mut tally)
        }));
        let came = came.unwrap_or_else(|_| Err(anyhow::anyhow!("it panicked")));
        let lost = came.is_err();
        tally.take(|| format!("round {round}: {wound:?}"), came);
        if !lost {
            fs::remove_dir_all(&place)?;
        }
    }
    Ok(tally)
}

/// The same ledger while it is worked at, with part of it in the log only, and closed, without a log.
fn sound(folder: &Path, seed: u64) -> Result<[Sound; 2]> {
    let (path, mut truth) = (folder.join("van.db"), Truth::default());
    fs::create_dir_all(folder)?;
    let mut store = work::open(&path, seed)?;
    begin((&mut store, &mut truth), seed)?;
    store.checkpoint()?;
    work_at((&mut store, &mut truth), &[seed.wrapping_add(2) & !1])?;
    let holds = truth.held_by(&store)?;
    let (file, log) = (fs::read(&path)?, fs::read(log_of(&path))?);
    ensure!(!log.is_empty(), "there is no log to damage");
    let running = Sound { file, log: Some(log), truth: truth.clone(), holds };
    drop(store);
    ensure!(!log_of(&path).exists(), "the log was not emptied");
    Ok([running, Sound { file: fs::read(&path)?, log: None, truth, holds }])
}

/// A plain job, and procedures until there is a photo.
fn begin((store, truth): (&mut Store, &mut Truth), seed: u64) -> Result<()> {
    work_at((store, truth), &[seed & !1])?;
    for more in 0..20 {
        if !truth.pictures.is_empty() {
            return Ok(());
        }
        work_at((store, truth), &[seed.wrapping_add(2 * more) | 1])?;
    }
    bail!("no procedure came as far as its photo")
}

fn work_at((store, truth): (&mut Store, &mut Truth), seeds: &[u64]) -> Result<()> {
    for seed in seeds {
        let mut commit = |store: &mut Store, batch: &Batch| {
            work::append(store, batch)?;
            truth.learn(batch);
            Ok(())
        };
        work::job(store, *seed, &mut commit)?;
    }
    Ok(())
}

fn log_of(path: &Path) -> PathBuf {
    path.with_file_name("van.db-wal")
}

/// What is done to a file.
#[derive(Clone, Copy, Debug)]
struct Wound {
    /// To the log, not to the file.
    in_log: bool,
    deed: Deed,
}

#[derive(Clone, Copy, Debug)]
enum Deed {
    Cut { at: usize },
    Flip { at: usize, bit: u8 },
    Blank { from: usize, to: usize },
    Noise { from: usize, to: usize, seed: u64 },
}

impl Wound {
    fn drawn(sound: &Sound, chance: &mut Chance) -> Wound {
        let in_log = sound.log.is_some() && chance.whole(0, 1) == 1;
        let length = if in_log { sound.log.as_ref().map_or(0, Vec::len) } else { sound.file.len() };
        let mut below = |end: usize| chance.whole(0, end as u64 - 1) as usize;
        // A quarter in the first pages, where header and definitions stand.
        let at = if below(4) == 0 { below(length.min(12_288)) } else { below(length) };
        let page = at / 4_096 * 4_096;
        let deed = match below(8) {
            0 => Deed::Cut { at },
            1 => Deed::Cut { at: page },
            2 => Deed::Blank { from: page, to: (page + 4_096).min(length) },
            3 => Deed::Noise { from: at, to: (at + 1 + below(9_000)).min(length), seed: below(usize::MAX) as u64 },
            4 => Deed::Flip { at: below(100.min(length)), bit: below(8) as u8 },
            _ => Deed::Flip { at, bit: below(8) as u8 },
        };
        Wound { in_log, deed }
    }

    fn inflict(&self, sound: &Sound, path: &Path) -> Result<()> {
        let (mut file, mut log) = (sound.file.clone(), sound.log.clone());
        let hurt = if self.in_log { log.as_mut().context("there is a log")? } else { &mut file };
        match self.deed {
            Deed::Cut { at } => hurt.truncate(at),
            Deed::Flip { at, bit } => hurt[at] ^= 1 << bit,
            Deed::Blank { from, to } => hurt[from..to].fill(0),
            Deed::Noise { from, to, seed } => {
                let mut noise = Chance::new(seed);
                hurt[from..to].iter_mut().for_each(|byte| *byte = noise.whole(0, 255) as u8);
            }
        }
        fs::write(path, &file)?;
        log.map_or(Ok(()), |log| fs::write(log_of(path), log)).context("writing the log")
    }
}

fn outcome((path, wound): (&Path, &Wound), sound: &Sound, tally: &mut Tally) -> Result<()> {
    let before = fs::read(path)?;
    match Store::open(path, Uuid::nil()) {
        Ok(store) => {
            let holds = sound.truth.held_by(&store)?;
            let head = store.head();
            if store.check()?.is_whole() {
                ensure!(head?.sequence == holds.entries, "whole, but the chain ends before the head");
                // The end of a log may be missing: what was written last is as if it had not been.
                ensure!(wound.in_log || holds == sound.holds, "whole, but {holds:?} of {:?}", sound.holds);
                tally.see("opened, whole");
                return Ok(());
            }
            tally.see("opened, damage found");
            drop(store);
            rescued(path, sound, tally).map(drop)
        }
        Err(StoreError::Damaged { .. } | StoreError::Sqlite { .. }) => {
            ensure!(fs::read(path)? == before, "a refused file was changed");
            tally.see("refused");
            let rescue = rescued(path, sound, tally)?;
            let aside = rescue.aside.context("it was moved aside")?;
            ensure!(fs::read(aside)? == before, "the file moved aside was changed");
            Ok(())
        }
        Err(StoreError::Newer { .. } | StoreError::NotOurs { .. }) => {
            tally.see("taken for another's");
            match Store::rescue(path, Uuid::nil()) {
                Err(StoreError::Newer { .. } | StoreError::NotOurs { .. }) => {
                    ensure!(fs::read(path)? == before, "another's file was changed");
                    tally.see("left as another's");
                    Ok(())
                }
                came => after(path, came?, (sound, tally)).map(drop),
            }
        }
        Err(other) => bail!("refused for no good reason: {other} ({other:?})"),
    }
}

fn rescued(path: &Path, sound: &Sound, tally: &mut Tally) -> Result<Rescue> {
    let rescue = Store::rescue(path, Uuid::nil()).context("rescuing")?;
    after(path, rescue, (sound, tally))
}

/// What was rescued is a ledger to go on with, and nothing in it or beside it never was.
fn after(path: &Path, rescue: Rescue, (sound, tally): (&Sound, &mut Tally)) -> Result<Rescue> {
    tally.see("rescued");
    ensure!(rescue.aside.is_some(), "damaged, and the rescue says it is whole");
    let mut store = Store::open(path, Uuid::nil()).context("opening what was rescued")?;
    let report = store.check()?;
    ensure!(report.is_whole(), "what was rescued is not whole: {report:?}");
    let holds = sound.truth.held_by(&store)?;
    ensure!(holds.entries == rescue.entries, "{rescue:?} says another number than {holds:?}");
    let told = fs::read_to_string(rescue.told.as_ref().context("it is told")?)?;
    let mut loose = 0;
    for line in told.lines() {
        let line: serde_json::Value = serde_json::from_str(line)?;
        if line["whole"] == true {
            let bytes = line["entry"].as_str().context("a whole entry is text")?.as_bytes();
            let sequence = line["sequence"].as_u64().context("it has a number")?;
            ensure!(sound.truth.entries.get(&sequence) == Some(&Hash::of(bytes)), "loose entry {sequence} never was");
            loose += 1;
        }
    }
    let lost = sound.truth.newest().saturating_sub(rescue.entries + loose);
    for (what, count) in [("entries rescued", rescue.entries), ("entries loose", loose), ("entries unreadable", lost)] {
        *tally.seen.entry(what).or_default() += count;
    }
    // Work goes on with it.
    let mut more = Truth::default();
    if tally.count("rescued").is_multiple_of(16) {
        work_at((&mut store, &mut more), &[rescue.entries * 2])?;
        ensure!(store.check()?.is_whole(), "not whole after more work");
    }
    Ok(rescue)
}
