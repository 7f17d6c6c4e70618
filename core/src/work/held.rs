//! Facts that stand, and why others do not.

use super::wait::passed;
use crate::procedure::Fact;
use crate::unit::{BootId, Millis, Now, Stamp};

/// Cable off, and what rests on it, is believed for four hours (our own limit): longer, and nobody knows who was at
/// the vehicle meanwhile.
const SAFE_FOR: Millis = Millis(4 * 3_600_000);
/// A zero is believed for half an hour (our own limit): clips get dirty, and the bench gets warmer.
const ZERO_FOR: Millis = Millis(30 * 60_000);

/// A fact that was made so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Held {
    /// The step that made it so.
    pub step: String,
    /// The run of the machine then.
    pub boot: BootId,
    /// Boot clock then.
    pub at: Millis,
    /// Wall clock then, for the screen.
    pub wall: Stamp,
}

/// Why a fact does not stand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Why {
    /// Nothing made it so yet.
    NotYet,
    /// The supply was on, or may have been.
    SupplySeen(Stamp),
    /// This step was begun, which ends it.
    StepBegun(String, Stamp),
    /// The step that made it so is to be done again.
    Reopened(Stamp),
    /// Another job was on the bench meanwhile.
    OtherJob(Stamp),
    /// The device was started anew, or nobody can tell.
    OtherBoot,
    /// The clock stands before the moment it was made so.
    ClockWentBack,
    /// It was made so too long ago.
    TooOld,
    /// What it rests on does not stand.
    RestsOn(Fact),
    /// The job was at another device meanwhile.
    HandedOver(Stamp),
    /// The readings it rests on were set aside: another meter, or a zero that moved.
    ReadingsGone(Stamp),
}

/// For how long a fact is believed; `None`: as long as nothing ends it.
pub(super) fn believed_for(fact: &Fact) -> Option<Millis> {
    match fact {
        Fact::CableOff | Fact::WaitDone | Fact::DeadProven => Some(SAFE_FOR),
        Fact::ZeroValid => Some(ZERO_FOR),
        _ => None,
    }
}

/// The fact that has to stand for this one to stand.
pub(super) fn rests_on(fact: &Fact) -> Option<Fact> {
    matches!(fact, Fact::WaitDone | Fact::DeadProven).then_some(Fact::CableOff)
}

impl Held {
    /// Young enough, in this run of the machine. What is believed for ever is believed across them.
    pub(super) fn is_fresh(&self, fact: &Fact, now: &Now) -> Result<(), Why> {
        let Some(most) = believed_for(fact) else { return Ok(()) };
        let age = passed(&self.boot, self.at, now)?;
        if age < most { Ok(()) } else { Err(Why::TooOld) }
    }
}
