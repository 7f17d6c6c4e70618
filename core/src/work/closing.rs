//! What stands in the way of closing a job, and what a second person has to sign.

use super::state::{How, StepState, Work};
use crate::dtc::TroubleCode;
use crate::procedure::{Fact, Origin, SignOff, Step, StepKind};
use crate::record::{Alike, Done, Outcome, StepDone};
use crate::unit::Now;

/// Something that is open at the end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Open {
    /// This step was neither done nor left out for a reason.
    Step(String),
    /// So many substitute loads are not back.
    Loads(u8),
    /// So many lock pins are not back.
    Locks(u8),
    /// This shorting bar is held open.
    BarHeldOpen(String),
    /// This inflator is not back in its place.
    InflatorAway(String),
    /// The lamp did not come on and go off.
    Lamp,
    /// These codes are stored.
    Codes(Vec<TroubleCode>),
    /// The codes were not read at the end.
    NoAfterScan,
    /// This value is not within what the file asks for.
    Value(String),
}

impl Work {
    /// What is open when the job is to end like this, at the step that closes it. Loads, pins and bars stand in the way
    /// of every end; the rest only of a job that is called repaired.
    pub fn open_at_the_end(&self, outcome: Outcome, now: &Now) -> Vec<Open> {
        let mut open = Vec::new();
        let (loads, locks) = self.counted_out();
        open.extend((loads > 0).then_some(Open::Loads(loads)));
        open.extend((locks > 0).then_some(Open::Locks(locks)));
        open.extend(self.out.bars.iter().cloned().map(Open::BarHeldOpen));
        if outcome != Outcome::Repaired {
            return open;
        }
        open.extend(self.out.inflators.iter().cloned().map(Open::InflatorAway));
        if self.stands(&Fact::AfterScanSaved, now).is_err() {
            open.push(Open::NoAfterScan);
        } else if !self.trouble.0.is_empty() {
            open.push(Open::Codes(self.trouble.0.clone()));
        }
        open.extend(self.stands(&Fact::LampOff, now).is_err().then_some(Open::Lamp));
        for step in &self.procedure.steps {
            match self.states.get(&step.id).map(|state| &state.how) {
                None if !step.kind.closes() => open.push(Open::Step(step.id.clone())),
                Some(How::Done(StepDone { done: Done::Read { within: false, .. }, .. })) => {
                    open.push(Open::Value(step.id.clone()));
                }
                _ => {}
            }
        }
        open
    }

    /// A second person has to sign: the file says so, a used part of a restraint system is to be fitted, a part that is
    /// not shown to be alike is, or the job ends with the lamp on or a code stored.
    pub(super) fn wants_second(&self, step: &Step, done: &Done) -> bool {
        let used = matches!(done, Done::PartChosen { origin: Origin::Used, .. });
        let unlike = matches!(&step.kind, StepKind::Compare(compare) if compare.known_good)
            && !matches!(done, Done::Compared { alike: Alike::All });
        let trouble = step.kind.closes() && self.is_in_trouble();
        step.sign_off == SignOff::Second || (used && self.is_restraint()) || unlike || trouble
    }

    /// A code is stored or the lamp is on, as known last: until a scan says otherwise, whatever is to be done again since.
    pub fn is_in_trouble(&self) -> bool {
        !self.trouble.0.is_empty() || self.trouble.1
    }

    /// Some plug of the procedure belongs to a restraint system.
    pub fn is_restraint(&self) -> bool {
        let plugs = 0..u8::try_from(self.procedure.circuits.plugs.len()).unwrap_or(u8::MAX);
        plugs.into_iter().any(|plug| self.procedure.circuits.is_restraint(plug))
    }

    /// Steps that wait for the signature of a second person.
    pub fn waits_for_second(&self) -> impl Iterator<Item = &str> {
        let waits = |state: &StepState| state.wants_second && state.second.is_none();
        self.states.iter().filter(move |(_, state)| waits(state)).map(|(id, _)| id.as_str())
    }
}
