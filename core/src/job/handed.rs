//! A job that goes from device to device.

use super::refusal::{HandRefusal, Refusal};
use super::state::Job;
use crate::record::{Entry, Event, Hash, PublicKey, Release};
use crate::unit::{Now, Stamp};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Longest words for whom a job is handed to, in characters.
const MAX_TO: usize = 60;

/// How a job went from device to device.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Hands {
    /// Every time it was handed over, oldest first.
    pub over: Vec<HandOver>,
    /// Commitments to name and role of those who are named in it and are of no roster here: as was said with each
    /// hand-over, and with each signature of the office.
    pub people: BTreeMap<Uuid, Hash>,
    /// Everybody of a roster who is named in it.
    pub named: BTreeSet<Uuid>,
    /// It has to be said which meter is used from here on: the one before is at another bench, or is not.
    pub meter_anew: bool,
    /// Nothing was done since it was taken over.
    pub fresh: bool,
}

/// One time a job was handed over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HandOver {
    /// To whom, in the words of whoever handed it over; may be empty.
    pub to: String,
    /// When.
    pub at: Stamp,
    /// The device that did.
    pub device: Uuid,
    /// Its key.
    pub key: PublicKey,
    /// What became of it.
    pub then: Then,
}

/// What became of a job that was handed over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Then {
    /// Nothing that is known here.
    Waits,
    /// The same device went on with it.
    TakenBack(Stamp),
    /// Another device took it over.
    Claimed {
        /// When.
        at: Stamp,
        /// Which.
        device: Uuid,
    },
}

impl Hands {
    /// The hand-over after which this ledger does not go on with the job.
    pub fn away(&self) -> Option<&HandOver> {
        self.over.last().filter(|over| over.then == Then::Waits)
    }

    /// When it came here the last time, and from whom.
    pub fn taken_over(&self) -> Option<(&HandOver, &Stamp)> {
        self.over.iter().rev().find_map(|over| match &over.then {
            Then::Claimed { at, .. } => Some((over, at)),
            _ => None,
        })
    }

    /// Takes in an event of the job; `entry` as it was written first.
    pub(super) fn follow(&mut self, event: &Event, entry: &Entry) {
        self.fresh &= matches!(event, Event::CautionAccepted { .. });
        match event {
            Event::JobReleased(release) => self.released(release, entry),
            Event::JobTakenBack { .. } => self.then(Then::TakenBack(entry.wall.clone())),
            Event::JobClaimed(_) => {
                self.then(Then::Claimed { at: entry.wall.clone(), device: entry.device });
                (self.meter_anew, self.fresh) = (true, true);
            }
            Event::MeterUsed { .. } => self.meter_anew = false,
            Event::ProcedureBegun(fact) => self.named.extend(fact.technician.iter().chain(&fact.approved_by)),
            Event::TechnicianNamed { person } => drop(self.named.insert(*person)),
            Event::StepSigned(said) => drop(self.named.insert(said.said)),
            Event::StepSignedAtOffice(signed) => {
                self.named.insert(signed.person);
                self.people.insert(signed.person, signed.personal);
            }
            _ => {}
        }
    }

    fn released(&mut self, release: &Release, entry: &Entry) {
        self.people.extend(&release.people);
        self.over.push(HandOver {
            to: release.to.clone(),
            at: entry.wall.clone(),
            device: entry.device,
            key: release.key,
            then: Then::Waits,
        });
    }

    fn then(&mut self, then: Then) {
        if let Some(over) = self.over.last_mut() {
            over.then = then;
        }
    }
}

impl Job {
    /// It is at another bench now, in other hands, or was: what was read aloud before was not read for what lies there now.
    pub(super) fn taken_over(&mut self) {
        self.cautions.clear();
        self.chosen = None;
    }

    /// Nothing but time stands in the way of going on with it: it is understood, and was not handed over.
    ///
    /// # Errors
    /// [`Refusal::NewerProgram`], [`HandRefusal::Away`].
    pub(crate) fn may_go_on(&self) -> Result<(), Refusal> {
        // What is not understood could be the very thing that forbids the next step.
        if self.newer_entries {
            return Err(Refusal::NewerProgram);
        }
        match self.hands.away() {
            Some(over) => Err(HandRefusal::Away { to: over.to.clone() }.into()),
            None => Ok(()),
        }
    }

    /// To whom a job is to be handed, as it is kept.
    ///
    /// # Errors
    /// It is closed, not understood, or handed over already; the words are too long.
    pub(crate) fn may_release(&self, to: &str) -> Result<String, Refusal> {
        self.is_open()?;
        let to = to.trim();
        if to.chars().count() > MAX_TO {
            return Err(Refusal::TooLong { field: "to".into() });
        }
        Ok(to.to_owned())
    }

    /// The event of going on with a job that was handed over.
    ///
    /// # Errors
    /// It was not.
    pub(crate) fn take_back(&self, now: &Now) -> Result<Vec<Event>, Refusal> {
        if self.newer_entries {
            return Err(Refusal::NewerProgram);
        }
        self.hands.away().ok_or(HandRefusal::NotAway)?;
        Ok(vec![Event::JobTakenBack { boot: now.boot_id.clone() }])
    }
}
