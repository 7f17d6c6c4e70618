//! The wait for the restraint unit. Nothing shortens it.
//!
//! It counts on a clock that goes on while the machine sleeps, from the moment the record says that the last supply
//! went off, and only within one run of the machine. Whatever leaves a doubt starts it from zero.

use super::held::{Held, Why};
use crate::unit::{BootId, Millis, Now};

/// The shortest wait, milliseconds: two minutes (common practice, no source; makers publish one to ten minutes).
pub const WAIT_FLOOR: Millis = Millis(120_000);
/// Added to every wait: a clock that is being set right may run 500 parts per million fast, half a second in a
/// quarter of an hour.
const MARGIN: Millis = Millis(1_000);

/// The whole wait is over. Only [`evaluate`] makes one.
#[derive(Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct WaitOver {
    /// Boot clock at its start.
    pub from: Millis,
    /// What had to go by.
    pub required: Millis,
    /// What went by.
    pub passed: Millis,
}

/// How far a wait has come.
#[derive(Debug, PartialEq, Eq)]
pub enum Waiting {
    /// It does not count, and why.
    Stopped(Why),
    /// It counts.
    Counting {
        /// What has to go by still, milliseconds, above zero.
        left: Millis,
        /// What has to go by in all.
        required: Millis,
    },
    /// It is over.
    Over(WaitOver),
}

/// What has to go by: never below the floor, whatever a file says.
pub fn required(by_the_file: Option<u64>) -> Millis {
    let wanted = by_the_file.unwrap_or(0).max(WAIT_FLOOR.0);
    Millis(wanted.saturating_add(MARGIN.0))
}

/// How far the wait has come that counts from `since`.
pub(super) fn evaluate(since: &Held, required: Millis, now: &Now) -> Waiting {
    match passed(&since.boot, since.at, now) {
        Err(why) => Waiting::Stopped(why),
        Ok(passed) if passed >= required => Waiting::Over(WaitOver { from: since.at, required, passed }),
        Ok(passed) => Waiting::Counting { left: required.since(passed), required },
    }
}

/// What went by since `at` in the same run of the machine.
///
/// # Errors
/// Another run, one that cannot be told, or a clock that stands before `at`.
pub(super) fn passed(boot: &BootId, at: Millis, now: &Now) -> Result<Millis, Why> {
    let same = !boot.0.is_empty() && *boot == now.boot_id;
    if !same {
        return Err(Why::OtherBoot);
    }
    now.boot.0.checked_sub(at.0).map(Millis).ok_or(Why::ClockWentBack)
}
