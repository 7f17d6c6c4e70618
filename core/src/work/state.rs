//! What the entries of a job say of its procedure.

use super::held::{Held, Why, believed_for, rests_on};
use super::out::{Out, refitted};
use super::sign::Second;
use super::wait::{self, Waiting};
use crate::dtc::TroubleCode;
use crate::procedure::{CodesWhen, Fact, Procedure, Step, StepKind, Wait};
use crate::record::{Done, Event, Lamp, Outcome, ProcedureFact, StepDone};
use crate::unit::{BootId, Millis, Now, Stamp};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// A procedure and how far it has come.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Work {
    /// The version this job keeps.
    pub procedure: Procedure,
    /// Who does the job, of the roster.
    pub technician: Option<Uuid>,
    /// Everybody who does it or did.
    pub(super) doers: BTreeSet<Uuid>,
    /// Who stands for the version; none: a draft.
    pub approved_by: Option<Uuid>,
    /// The step that was begun and not done yet.
    pub open: Option<String>,
    /// Boot clock when it was begun.
    pub open_since: Millis,
    /// How the job ended.
    pub outcome: Option<Outcome>,
    pub(super) states: BTreeMap<String, StepState>,
    pub(super) held: BTreeMap<Fact, Held>,
    pub(super) lost: BTreeMap<Fact, Why>,
    pub(super) photos: BTreeMap<String, u32>,
    /// What may be out of its place.
    pub(super) out: Out,
    /// What was known last: the codes that are stored, and that the lamp is on.
    pub(super) trouble: (Vec<TroubleCode>, bool),
    /// What was read at each step since it was last to be done.
    pub(super) read: BTreeMap<String, BTreeSet<Uuid>>,
    /// What the wait counts from: the cable, or whatever started it again since.
    counts_from: Option<Held>,
    /// Times a step was settled.
    doings: u32,
    /// Up to this one of them, what was read and compared was gone on from: its verdict was signed and something below
    /// it begun, or another part is on the bench since.
    pub(super) past: u32,
    /// Steps that are to be done again because the readings they rest on were set aside.
    pub(super) lapsed: BTreeSet<String>,
    /// Signatures of the office that were taken, whatever became of them since.
    pub(super) of_office: BTreeSet<Uuid>,
}

/// A step that was done or left out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StepState {
    /// How.
    pub how: How,
    /// When, on the wall clock.
    pub at: Stamp,
    /// A second person has to sign it: the file says so, or what was done asks for it.
    pub wants_second: bool,
    /// The second person who signed it.
    pub second: Option<Second>,
    /// Which settling of a step of this job it was, from 1: done again, it is another one.
    pub doing: u32,
}

/// How a step was settled.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum How {
    /// It was done.
    Done(StepDone),
    /// It was left out, for this reason.
    Skipped(String),
}

/// When something was said.
struct When<'a> {
    boot: &'a BootId,
    at: Millis,
    wall: &'a Stamp,
}

impl Work {
    /// The procedure of a job as it was recorded; `None` if it is none for this program.
    pub fn begun(fact: &ProcedureFact) -> Option<Work> {
        let procedure = Procedure::parse(&fact.text).ok()?;
        Some(Work {
            procedure,
            technician: fact.technician,
            doers: fact.technician.into_iter().collect(),
            approved_by: fact.approved_by,
            open: None,
            open_since: Millis(0),
            outcome: None,
            states: BTreeMap::new(),
            held: BTreeMap::new(),
            lost: BTreeMap::new(),
            photos: BTreeMap::new(),
            out: Out::default(),
            trouble: (Vec::new(), false),
            read: BTreeMap::new(),
            counts_from: None,
            doings: 0,
            past: 0,
            lapsed: BTreeSet::new(),
            of_office: BTreeSet::new(),
        })
    }

    /// Takes in an event of its job: `at` and `wall` as they stand in its entry.
    pub fn follow(&mut self, event: &Event, at: Millis, wall: &Stamp) {
        match event {
            Event::StepBegun(said) => self.begin(&said.step, &When { boot: &said.boot, at, wall }),
            Event::StepDone(said) => self.done(&said.step, &said.said, &When { boot: &said.boot, at, wall }),
            Event::StepSkipped(said) => {
                self.settle(&said.step, How::Skipped(said.said.clone()), false, wall);
            }
            Event::StepsReopened(said) => self.reopen(&said.step, &When { boot: &said.boot, at, wall }),
            Event::StepSigned(said) => self.signed(&said.step, Second { person: said.said, at_office: false }),
            Event::StepSignedAtOffice(signed) => self.signed_at_office(signed),
            Event::TechnicianNamed { person } => self.named(*person),
            Event::ReadingWithdrawn { reading: gone } | Event::TouchUndone { touch: gone } => {
                self.signatures_lapse(*gone);
            }
            Event::PhotoTaken(photo) => {
                if let Some(step) = &photo.step {
                    self.photo_kept(step);
                }
            }
            Event::SupplySeen { boot, .. } => {
                let when = When { boot, at, wall };
                Fact::SAFE.iter().for_each(|fact| self.lose(fact, &Why::SupplySeen(wall.clone()), &when));
            }
            Event::TakenUpAfterAnother { boot } => {
                let when = When { boot, at, wall };
                let gone: Vec<Fact> = self.held.keys().filter(|fact| ends_with_another_job(fact)).cloned().collect();
                gone.iter().for_each(|fact| self.lose(fact, &Why::OtherJob(wall.clone()), &when));
            }
            Event::JobTakenBack { boot } => self.was_elsewhere(&When { boot, at, wall }),
            Event::JobClaimed(claimed) => {
                self.was_elsewhere(&When { boot: &claimed.boot, at, wall });
                // Who did it is known by name at most: nobody here has said with a PIN that it is theirs.
                self.technician = None;
            }
            Event::ZeroTaken(fact) => self.was_read(fact.zero),
            Event::TouchTaken(fact) => self.was_read(fact.touch),
            Event::IsolationTaken(fact) => self.was_read(fact.reading),
            Event::SweepTaken(fact) => self.was_read(fact.sweep),
            _ => {}
        }
    }

    /// The job was at another device: clocks of two machines are not counted together, and nobody here saw what was done
    /// there. A step that was begun is begun again, so that whoever goes on reads its cautions.
    fn was_elsewhere(&mut self, when: &When<'_>) {
        let ends = |fact: &&Fact| believed_for(fact).is_some() || ends_with_another_job(fact);
        let gone: Vec<Fact> = self.held.keys().filter(ends).cloned().collect();
        gone.iter().for_each(|fact| self.lose(fact, &Why::HandedOver(when.wall.clone()), when));
        self.open = None;
    }

    pub(super) fn photo_kept(&mut self, step: &str) {
        *self.photos.entry(step.to_owned()).or_default() += 1;
    }

    fn was_read(&mut self, reading: Uuid) {
        if let Some(open) = &self.open {
            self.read.entry(open.clone()).or_default().insert(reading);
        }
    }

    fn begin(&mut self, id: &str, when: &When<'_>) {
        let Some(step) = self.procedure.step(id).cloned() else { return };
        // Whoever comes back to a zero reads it then: what was read at it before may be what moved.
        if self.states.remove(id).is_some() || matches!(step.kind, StepKind::Zero(_)) {
            self.read.remove(id);
        }
        self.lapsed.remove(id);
        self.gone_on_from_what_was_signed(id);
        self.out.begin(&step);
        self.photos.remove(id);
        let why = Why::StepBegun(id.to_owned(), when.wall.clone());
        // What it made so before it is to make so again.
        let again = |(fact, held): &(&Fact, &Held)| held.step == id && **fact != Fact::BeforeScanSaved;
        let own: Vec<Fact> = self.held.iter().filter(again).map(|(fact, _)| fact.clone()).collect();
        let back = refitted(&self.procedure, &step).into_iter().map(Fact::InflatorAway);
        step.ends().into_iter().chain(back).chain(own).for_each(|fact| self.lose(&fact, &why, when));
        self.open = Some(id.to_owned());
        self.open_since = when.at;
    }

    fn done(&mut self, id: &str, said: &StepDone, when: &When<'_>) {
        let Some(step) = self.procedure.step(id).cloned() else { return };
        self.out.done(&step, &refitted(&self.procedure, &step));
        if let Done::Codes { codes, no_scanner, lamp } = &said.done {
            let (stored, on) = &mut self.trouble;
            if !no_scanner {
                stored.clone_from(codes);
            }
            *on = lamp.map_or(*on, |lamp| lamp != Lamp::WentOff);
            if *on {
                self.lose(&Fact::LampOff, &Why::StepBegun(id.to_owned(), when.wall.clone()), when);
            }
        }
        if matches!(said.done, Done::PartChosen { .. }) {
            // What was turned, locked and opened was the part before.
            let of_a_part = |fact: &&Fact| matches!(fact, Fact::Centred | Fact::LockIn | Fact::BarOpen(_));
            let before: Vec<Fact> = self.held.keys().filter(of_a_part).cloned().collect();
            let why = Why::StepBegun(id.to_owned(), when.wall.clone());
            before.iter().for_each(|fact| self.lose(fact, &why, when));
            self.past = self.doings;
        }
        for fact in given(&step, &said.done) {
            self.make(fact, id, when);
        }
        if let Done::Signed { outcome: Some(outcome) } = said.done {
            self.outcome = Some(outcome);
        }
        let second = self.wants_second(&step, &said.done);
        self.settle(id, How::Done(said.clone()), second, when.wall);
    }

    fn settle(&mut self, id: &str, how: How, wants_second: bool, wall: &Stamp) {
        if self.open.as_deref() == Some(id) {
            self.open = None;
        }
        self.lapsed.remove(id);
        self.doings = self.doings.saturating_add(1);
        let (at, doing) = (wall.clone(), self.doings);
        self.states.insert(id.to_owned(), StepState { how, at, wants_second, second: None, doing });
    }

    /// What was done from here on is done again; what those steps made so does not stand any more. The codes that were
    /// saved before stay saved.
    fn reopen(&mut self, from: &str, when: &When<'_>) {
        let ids: Vec<String> =
            self.procedure.steps.iter().skip_while(|step| step.id != from).map(|step| step.id.clone()).collect();
        for id in &ids {
            self.states.remove(id);
            self.photos.remove(id);
            self.read.remove(id);
            self.lapsed.remove(id);
        }
        let made_there = |held: &Held| ids.contains(&held.step);
        let gone: Vec<Fact> = self.held.iter().filter(|(_, held)| made_there(held)).map(|(f, _)| f.clone()).collect();
        let why = Why::Reopened(when.wall.clone());
        for fact in gone.iter().filter(|fact| **fact != Fact::BeforeScanSaved) {
            self.lose(fact, &why, when);
        }
        self.open = None;
        self.not_gone_on_from();
    }

    fn make(&mut self, fact: Fact, step: &str, when: &When<'_>) {
        let held = Held { step: step.to_owned(), boot: when.boot.clone(), at: when.at, wall: when.wall.clone() };
        if let Some(excluded) = fact.excludes() {
            let why = Why::StepBegun(step.to_owned(), when.wall.clone());
            self.lose(&excluded, &why, when);
        }
        if fact == Fact::CableOff {
            // Whatever was waited for and proven before belongs to another time of the cable.
            self.lose(&Fact::WaitDone, &Why::RestsOn(Fact::CableOff), when);
            self.lose(&Fact::DeadProven, &Why::RestsOn(Fact::CableOff), when);
            self.counts_from = Some(held.clone());
        }
        self.lost.remove(&fact);
        self.held.insert(fact, held);
    }

    fn lose(&mut self, fact: &Fact, why: &Why, when: &When<'_>) {
        if self.held.remove(fact).is_none() {
            return;
        }
        self.lost.insert(fact.clone(), why.clone());
        let restarts = self.waits().any(|wait| wait.restarts.contains(fact));
        if restarts {
            if let Some(from) = &mut self.counts_from {
                (from.at, from.boot) = (when.at, when.boot.clone());
            }
            if self.held.remove(&Fact::WaitDone).is_some() {
                self.lost.insert(Fact::WaitDone, Why::RestsOn(fact.clone()));
            }
        }
    }

    fn waits(&self) -> impl Iterator<Item = &Wait> {
        self.procedure.steps.iter().filter_map(|step| match &step.kind {
            StepKind::Wait(wait) => Some(wait),
            _ => None,
        })
    }

    /// Whether `fact` stands now.
    ///
    /// # Errors
    /// Why it does not.
    pub fn stands(&self, fact: &Fact, now: &Now) -> Result<&Held, Why> {
        let Some(held) = self.held.get(fact) else {
            return Err(self.lost.get(fact).cloned().unwrap_or(Why::NotYet));
        };
        held.is_fresh(fact, now)?;
        if let Some(below) = rests_on(fact) {
            self.stands(&below, now).map_err(|_| Why::RestsOn(below))?;
        }
        Ok(held)
    }

    /// How far the wait of a step has come.
    pub fn waiting(&self, wait: &Wait, now: &Now) -> Waiting {
        if let Err(why) = self.stands(&Fact::CableOff, now) {
            return Waiting::Stopped(why);
        }
        match &self.counts_from {
            None => Waiting::Stopped(Why::NotYet),
            Some(since) => wait::evaluate(since, wait::required(wait.at_least.millis()), now),
        }
    }

    /// When the time that is left changes by a second, while a wait counts.
    pub fn next_second(&self, now: &Now) -> Option<Millis> {
        let counting = |wait: &Wait| match self.waiting(wait, now) {
            Waiting::Counting { left, .. } => Some((left.0 - 1) % 1_000 + 1),
            _ => None,
        };
        let soonest = self.waits().filter_map(counting).min()?;
        Some(Millis(now.boot.0.saturating_add(soonest)))
    }

    /// How a step was settled; `None`: it is to be done.
    pub fn state(&self, step: &str) -> Option<&StepState> {
        self.states.get(step)
    }

    /// The step that makes `fact` so: the last one above `before` that does, else the first.
    pub fn maker(&self, fact: &Fact, before: &str) -> Option<&Step> {
        let makes = |step: &&Step| step.gives.contains(fact);
        let above = self.procedure.steps.iter().take_while(|step| step.id != before).filter(makes).last();
        above.or_else(|| self.procedure.steps.iter().find(makes))
    }

    /// The codes of the newest step that was done and read them then.
    pub fn codes(&self, when: CodesWhen) -> Option<(&[TroubleCode], Option<Lamp>)> {
        let of = |step: &&Step| matches!(&step.kind, StepKind::Codes(codes) if codes.when == when);
        let done = |step: &Step| match self.states.get(&step.id).map(|state| &state.how) {
            Some(How::Done(StepDone { done: Done::Codes { codes, lamp, no_scanner: false }, .. })) => {
                Some((codes.as_slice(), *lamp))
            }
            _ => None,
        };
        self.procedure.steps.iter().rev().filter(of).find_map(done)
    }

    /// It was read at this step since that was last to be done.
    pub fn was_read_at(&self, step: &str, reading: Uuid) -> bool {
        self.read.get(step).is_some_and(|read| read.contains(&reading))
    }

    /// Substitute loads and lock pins that may be out of their drawers.
    pub fn counted_out(&self) -> (u8, u8) {
        self.out.counted()
    }

    /// Photos kept for a step since it was begun.
    pub fn photos_of(&self, step: &str) -> u32 {
        self.photos.get(step).copied().unwrap_or(0)
    }
}

/// Who was at another vehicle does not know what became of this one: somebody may have put the inflator back.
fn ends_with_another_job(fact: &Fact) -> bool {
    Fact::SAFE.contains(fact) || matches!(fact, Fact::InflatorAway(_))
}

/// What a step makes so when it came out like this. A lamp that did not go off, and a scan without a scanner, make
/// less than the file hopes for; what was not tested makes nothing.
fn given(step: &Step, done: &Done) -> Vec<Fact> {
    let holds = |fact: &&Fact| match (fact, done) {
        (_, Done::NotTested) => false,
        (Fact::LampOff, Done::Codes { lamp, .. }) => *lamp == Some(Lamp::WentOff),
        (Fact::AfterScanSaved, Done::Codes { no_scanner, .. }) => !no_scanner,
        _ => true,
    };
    step.gives.iter().filter(holds).cloned().collect()
}
