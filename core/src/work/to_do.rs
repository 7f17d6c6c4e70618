//! What is to be done now, and what again.

use super::state::{How, StepState, Work};
use crate::procedure::{Step, StepKind};
use crate::unit::Now;
use std::collections::BTreeSet;

impl Work {
    /// It was done, and its readings were set aside, or something it made so stands no longer while a step that is to be
    /// done needs it.
    pub fn is_to_do_again(&self, step: &Step, now: &Now) -> bool {
        if self.lapsed.contains(&step.id) {
            return true;
        }
        let done = matches!(self.states.get(&step.id), Some(StepState { how: How::Done(_), .. }));
        let at = self.procedure.steps.iter().position(|other| other.id == step.id);
        let Some(at) = at.filter(|_| done) else { return false };
        let below = self.procedure.steps[at + 1..].iter();
        let open = |other: &Step| self.open.as_deref() == Some(other.id.as_str());
        let waiting: Vec<&Step> = below.filter(|o| !self.states.contains_key(&o.id) && !open(o)).collect();
        step.gives.iter().any(|fact| {
            let its_own = |other: &&&Step| self.maker(fact, &other.id).is_some_and(|maker| maker.id == step.id);
            let needed = waiting.iter().filter(its_own).any(|other| other.needs.contains(fact));
            needed && self.stands(fact, now).is_err()
        })
    }

    /// The step to do now: the one that was begun, else the first that is not settled or has to be done again.
    pub fn step_now(&self, now: &Now) -> Option<&Step> {
        if let Some(open) = self.open_step() {
            return Some(open);
        }
        let to_do = |step: &&Step| !self.states.contains_key(&step.id) || self.is_to_do_again(step, now);
        self.procedure.steps.iter().find(to_do)
    }

    /// The step that was begun.
    pub fn open_step(&self) -> Option<&Step> {
        self.open.as_deref().and_then(|id| self.procedure.step(id))
    }

    /// The step that was begun is read with an ohmmeter.
    pub fn reads_ohms(&self) -> bool {
        self.open_step().is_some_and(|step| step.kind.uses_ohms())
    }

    /// The conductors that are measured end to end in the step that was begun, indices.
    pub fn wires_now(&self) -> BTreeSet<usize> {
        match self.open_step().map(|step| &step.kind) {
            Some(StepKind::Measure(measuring)) => measuring.wires.clone(),
            _ => BTreeSet::new(),
        }
    }
}
