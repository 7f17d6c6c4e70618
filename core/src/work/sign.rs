//! Who does the job, and what a second person signs: at the device, or at the shop's office.

use super::decide::{StepRefusal, said};
use super::state::{How, StepState, Work};
use crate::procedure::Step;
use crate::record::{Event, OfficeSigned, same_name};
use crate::unit::Now;
use uuid::Uuid;

/// A second person.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Second {
    /// Who.
    pub person: Uuid,
    /// The signature was given at the shop's office, not with a PIN at the device.
    pub at_office: bool,
}

impl Work {
    /// The event of a second person's signature under a step that waits for one. `seen` is the doing of it that the
    /// person had before them. Whether they had a hand in it under another id says [`Work::may_be_second`].
    ///
    /// # Errors
    /// Nothing waits for it, it was done again since it was seen, nobody knows who does the job, or it is somebody who
    /// does it or did.
    pub fn sign(&self, (step, seen): (&str, u32), person: Uuid, now: &Now) -> Result<Vec<Event>, StepRefusal> {
        let step = self.waiting_step(step, seen)?;
        self.has_no_hand_in_it(person)?;
        Ok(vec![Event::StepSigned(said(step, person, now))])
    }

    /// The same for a signature that was given at the office.
    ///
    /// # Errors
    /// As [`Work::sign`].
    pub fn sign_at_office(&self, signed: &OfficeSigned) -> Result<Vec<Event>, StepRefusal> {
        self.waiting_step(&signed.step, signed.doing)?;
        self.has_no_hand_in_it(signed.person)?;
        Ok(vec![Event::StepSignedAtOffice(signed.clone())])
    }

    /// This signature of the office was taken, whatever became of it since.
    pub fn has_taken(&self, signature: Uuid) -> bool {
        self.of_office.contains(&signature)
    }

    fn waiting_step(&self, step: &str, seen: u32) -> Result<&Step, StepRefusal> {
        let step = self.procedure.step(step).ok_or(StepRefusal::NoSuchStep)?;
        match self.states.get(&step.id) {
            Some(StepState { wants_second: true, second: None, how: How::Done(_), doing, .. }) => {
                if *doing == seen {
                    Ok(step)
                } else {
                    Err(StepRefusal::SeenOtherwise)
                }
            }
            _ => Err(StepRefusal::NothingToSign),
        }
    }

    /// This person, of that name, had no hand in the job, not under another id either: whoever leaves the roster and comes
    /// back is somebody new on it and still the same person, and the office knows people by ids of its own. `name_of`
    /// names those who did it.
    ///
    /// # Errors
    /// [`StepRefusal::DoerUnknown`], [`StepRefusal::OwnSecond`], and [`StepRefusal::DoerNameless`] where somebody who did
    /// it has no name here: without one nobody can tell them apart.
    pub fn may_be_second<'a>(
        &self,
        (person, name): (Uuid, &str),
        name_of: impl Fn(Uuid) -> Option<&'a str>,
    ) -> Result<(), StepRefusal> {
        self.has_no_hand_in_it(person)?;
        let doers: Option<Vec<&str>> = self.doers.iter().map(|doer| name_of(*doer)).collect();
        let doers = doers.ok_or(StepRefusal::DoerNameless)?;
        if doers.iter().any(|other| same_name(other, name)) { Err(StepRefusal::OwnSecond) } else { Ok(()) }
    }

    fn has_no_hand_in_it(&self, person: Uuid) -> Result<(), StepRefusal> {
        if self.technician.is_none() {
            return Err(StepRefusal::DoerUnknown);
        }
        if self.doers.contains(&person) { Err(StepRefusal::OwnSecond) } else { Ok(()) }
    }

    /// Everybody who does the job or did, of those who were named.
    pub fn doers(&self) -> impl Iterator<Item = Uuid> {
        self.doers.iter().copied()
    }

    /// Everybody whose signature as second person stands.
    pub fn seconds(&self) -> impl Iterator<Item = Uuid> {
        self.states.values().filter_map(|state| Some(state.second?.person))
    }

    /// Somebody does the job from here on.
    pub(super) fn named(&mut self, person: Uuid) {
        self.technician = Some(person);
        self.doers.insert(person);
        // Nobody is their own second, whatever came first.
        for state in self.states.values_mut().filter(|state| state.second.is_some_and(|it| it.person == person)) {
            state.second = None;
        }
    }

    pub(super) fn signed(&mut self, step: &str, second: Second) {
        if let Some(state) = self.states.get_mut(step) {
            state.second = Some(second);
        }
    }

    pub(super) fn signed_at_office(&mut self, signed: &OfficeSigned) {
        self.of_office.insert(signed.signature);
        self.signed(&signed.step, Second { person: signed.person, at_office: true });
    }
}
