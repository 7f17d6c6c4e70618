//! Records survive: kills, full disks, faults of the disk, damaged files and clocks that jump, by the hundred, from a
//! seed. Every trial counts what it tried and what it could not try; a single loss fails the whole.

pub mod clocks;
pub mod faults;
pub mod hub;
pub mod kills;
pub mod room;
mod shim;
pub mod truth;
pub mod whole;
pub mod work;
pub mod wounds;

use anyhow::Result;
use evenwire_engine::practice::chance::Chance;
use std::collections::BTreeMap;
use std::fmt;
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// How much is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Amount {
    /// Processes killed.
    pub kills: u32,
    /// Fill levels of a disk.
    pub levels: u32,
    /// Damaged files.
    pub wounds: u32,
    /// Every so many writes one fails; 1: each of them.
    pub stride: u32,
    /// Ledgers that live through clocks that are set.
    pub clocks: u32,
    /// Simulated shops.
    pub shops: u32,
    /// Hubs and senders killed.
    pub hub_kills: u32,
}

impl Amount {
    /// A few of each, for every run of the tests.
    pub const SHORT: Amount = Amount { kills: 8, levels: 4, wounds: 16, stride: 97, clocks: 1, shops: 8, hub_kills: 6 };
    /// What is told in figures.
    pub const LONG: Amount =
        Amount { kills: 1_000, levels: 120, wounds: 2_000, stride: 1, clocks: 250, shops: 10_000, hub_kills: 400 };
}

/// What a trial stands on.
#[derive(Clone, Debug)]
pub struct Ground {
    /// Where it may write; nothing else is there.
    pub folder: PathBuf,
    /// The program that does the work in a process of its own.
    pub program: PathBuf,
    /// Everything random comes from it.
    pub seed: u64,
    /// How much is tried.
    pub amount: Amount,
    /// When each trial ends at the latest, whatever it has not tried; none: at its end.
    pub longest: Option<Duration>,
}

impl Ground {
    /// Whether a trial that began at `start` has to end, which stands in its tally then.
    pub fn is_over(&self, start: Instant, tally: &mut Tally) -> bool {
        let over = self.longest.is_some_and(|longest| start.elapsed() > longest);
        if over {
            tally.not_run.push(format!("what comes after {} tries: the time was over", tally.tried));
        }
        over
    }

    /// A stream of chance for one trial.
    pub fn chance(&self, trial: u64) -> Chance {
        Chance::new(self.seed ^ trial.wrapping_mul(0x9E37_79B9_7F4A_7C15))
    }
}

/// What came of a trial.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// What it is called.
    pub name: &'static str,
    /// Times it was tried.
    pub tried: u64,
    /// What happened how often.
    pub seen: BTreeMap<&'static str, u64>,
    /// Everything that was lost or wrong, in words.
    pub losses: Vec<String>,
    /// What could not be tried here, and why.
    pub not_run: Vec<String>,
}

impl Tally {
    /// Nothing tried yet.
    pub fn of(name: &'static str) -> Tally {
        Tally { name, ..Tally::default() }
    }

    /// Something happened.
    pub fn see(&mut self, what: &'static str) {
        *self.seen.entry(what).or_default() += 1;
    }

    /// How often something happened.
    pub fn count(&self, what: &str) -> u64 {
        self.seen.get(what).copied().unwrap_or_default()
    }

    /// One try, and whatever it found wrong.
    pub fn take(&mut self, case: impl FnOnce() -> String, came: Result<()>) {
        self.tried += 1;
        if let Err(wrong) = came {
            self.losses.push(format!("{}: {wrong:#}", case()));
        }
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:<26} tried {:>6}   losses {:>3}", self.name, self.tried, self.losses.len())?;
        for (what, times) in &self.seen {
            write!(f, "   {what} {times}")?;
        }
        for why in &self.not_run {
            write!(f, "\n{:<26} NOT RUN: {why}", "")?;
        }
        for loss in self.losses.iter().take(20) {
            write!(f, "\n{:<26} LOST: {loss}", "")?;
        }
        Ok(())
    }
}
