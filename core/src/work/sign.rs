//! Who does the job, and what a second person signs.

use super::decide::{StepRefusal, said};
use super::state::{How, StepState, Work};
use crate::record::Event;
use crate::unit::Now;
use uuid::Uuid;

impl Work {
    /// The event of a second person's signature under a step that waits for one. `seen` is the doing of it that the
    /// person had before them.
    ///
    /// # Errors
    /// Nothing waits for it, it was done again since it was seen, nobody knows who does the job, or it is somebody who
    /// does it or did.
    pub fn sign(&self, (step, seen): (&str, u32), person: Uuid, now: &Now) -> Result<Vec<Event>, StepRefusal> {
        let step = self.procedure.step(step).ok_or(StepRefusal::NoSuchStep)?;
        match self.states.get(&step.id) {
            Some(StepState { wants_second: true, second: None, how: How::Done(_), doing, .. }) => {
                if *doing != seen {
                    return Err(StepRefusal::SeenOtherwise);
                }
            }
            _ => return Err(StepRefusal::NothingToSign),
        }
        self.may_be_second(person)?;
        Ok(vec![Event::StepSigned(said(step, person, now))])
    }

    /// This person had no hand in the job.
    ///
    /// # Errors
    /// [`StepRefusal::DoerUnknown`], [`StepRefusal::OwnSecond`].
    pub fn may_be_second(&self, person: Uuid) -> Result<(), StepRefusal> {
        if self.technician.is_none() {
            return Err(StepRefusal::DoerUnknown);
        }
        if self.doers.contains(&person) { Err(StepRefusal::OwnSecond) } else { Ok(()) }
    }

    /// Everybody who does the job or did, of those who were named.
    pub fn doers(&self) -> impl Iterator<Item = Uuid> {
        self.doers.iter().copied()
    }

    /// Somebody does the job from here on.
    pub(super) fn named(&mut self, person: Uuid) {
        self.technician = Some(person);
        self.doers.insert(person);
        // Nobody is their own second, whatever came first.
        for state in self.states.values_mut().filter(|state| state.second == Some(person)) {
            state.second = None;
        }
    }

    pub(super) fn signed(&mut self, step: &str, person: Uuid) {
        if let Some(state) = self.states.get_mut(step) {
            state.second = Some(person);
        }
    }
}
