//! One step, whatever its kind.

use super::fact::Fact;
use super::kind::StepKind;
use super::texts::Texts;
use crate::caution::Caution;
use std::collections::BTreeSet;

/// A step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// Names it in the file and in the record.
    pub id: String,
    /// What it is called.
    pub title: Texts,
    /// What to do, two sentences at most.
    pub text: Texts,
    /// The name of a picture that is shown beside it.
    pub picture: Option<String>,
    /// Shown before it can be begun.
    pub cautions: BTreeSet<Caution>,
    /// What it is.
    pub kind: StepKind,
    /// What must be so before it.
    pub needs: BTreeSet<Fact>,
    /// Steps that must be done, or properly skipped, before it; all stand above it.
    pub after: BTreeSet<String>,
    /// What is so once it is done.
    pub gives: BTreeSet<Fact>,
    /// What is so no longer once it is begun, beside what the rules say by themselves.
    pub cancels: BTreeSet<Fact>,
    /// Plugs that are taken apart, mated or touched in it beside those of the conductors measured, indices.
    pub plugs: BTreeSet<u8>,
    /// The battery is connected in it. Ends cable off, wait and proof.
    pub battery_on: bool,
    /// Substitute loads and lock pins that are fitted and counted back in it.
    pub counted: Counted,
    /// What is kept to show that it was done.
    pub evidence: BTreeSet<Evidence>,
    /// When it may be skipped, in words; the person gives the reason. `None`: never.
    pub skip: Option<Texts>,
    /// Who signs it off.
    pub sign_off: SignOff,
}

/// Loose things fitted (out of the drawer) and counted back in a step, 0 to 20 each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counted {
    /// Substitute loads fitted.
    pub loads_out: u8,
    /// Substitute loads counted back.
    pub loads_in: u8,
    /// Lock pins fitted.
    pub locks_out: u8,
    /// Lock pins counted back.
    pub locks_in: u8,
}

/// What is kept to show that a step was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Evidence {
    /// A photo.
    Photo,
    /// A value that is read or typed.
    Value,
    /// A list.
    List,
    /// Words.
    Words,
}

/// Who signs a step off.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum SignOff {
    /// Whoever did it.
    #[default]
    Technician,
    /// A second person.
    Second,
}

impl Step {
    /// It cannot be skipped, whatever its file says: the safety of somebody hangs on it.
    pub fn must_be_done(&self) -> bool {
        let loose = (self.counted.loads_out, self.counted.loads_in) != (0, 0);
        self.gives.iter().any(Fact::guards) || self.battery_on || loose || self.kind.closes()
    }

    /// "Not tested" is an answer to it, with the reason: nothing hangs on it but what the customer is told.
    pub fn may_be_untested(&self) -> bool {
        let looked_at = matches!(self.kind, StepKind::Do | StepKind::Check | StepKind::LiveValue(_));
        looked_at && self.gives.is_empty() && self.plugs.is_empty() && !self.must_be_done()
    }

    /// What ends when the step is begun: what it says, and what the rules say by themselves.
    pub fn ends(&self) -> BTreeSet<Fact> {
        let mut ends = self.cancels.clone();
        if self.battery_on {
            ends.extend(Fact::SAFE);
        }
        if self.counted.loads_out > 0 {
            ends.insert(Fact::LoadsHome);
        }
        if self.counted.locks_out > 0 {
            ends.insert(Fact::LocksHome);
        }
        if self.kind.turns_the_coil() {
            ends.extend([Fact::Centred, Fact::LockIn]);
        }
        if self.gives.contains(&Fact::CableOff) {
            // What the lamp and the codes said holds only as long as nothing was opened again.
            ends.extend([Fact::AfterScanSaved, Fact::LampOff]);
        }
        ends.extend(self.gives.iter().filter_map(Fact::excludes));
        ends
    }
}
