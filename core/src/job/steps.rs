//! The steps of a procedure in a job: what they share with the readings.

use super::proofs::Since;
use super::refusal::Refusal;
use super::state::Job;
use crate::procedure::{Fact, Measuring, Step, StepKind, Sweeping};
use crate::record::{
    Alike, BarState, Done, Event, Outcome, PhotoFact, ProcedureFact, StepDone, StepFact, SweepFact, TouchFact,
};
use crate::sweep::SweepVerdict;
use crate::unit::{Now, Stamp};
use crate::verdict::ConductorState;
use crate::verdict::words::Language;
use crate::verdict::written::Judgement;
use crate::work::{StepAct, StepEntry, StepRefusal, Work};
use std::collections::BTreeSet;
use uuid::Uuid;

/// Most photos of a job.
pub const MAX_PHOTOS: usize = 60;

impl Job {
    /// The events that make the job follow a procedure.
    ///
    /// # Errors
    /// It follows one, was measured without one, or the file cannot be read.
    pub fn begin_procedure(&self, fact: ProcedureFact, language: Language) -> Result<Vec<Event>, Refusal> {
        self.is_open()?;
        if self.work.is_some() {
            return Err(StepRefusal::ProcedureBegun.into());
        }
        if self.was_measured() {
            return Err(Refusal::PartMeasured);
        }
        let work = Work::begun(&fact).ok_or(StepRefusal::NoSuchProcedure)?;
        let mut part = work.procedure.circuits.part(language, touches_of(&work));
        for (index, conductor) in part.conductors.iter_mut().enumerate() {
            conductor.limit = work.limit_of(index, language);
        }
        Ok(vec![Event::ProcedureBegun(fact), Event::PartDescribed { part }])
    }

    /// The events of something at a step of the procedure.
    ///
    /// # Errors
    /// [`Refusal`], and nothing changes.
    pub fn at_step(&self, (step, act): (&str, &StepAct), now: &Now) -> Result<Vec<Event>, Refusal> {
        self.is_open()?;
        let work = self.work.as_ref().ok_or(StepRefusal::NoProcedure)?;
        let kind = work.procedure.step(step).ok_or(StepRefusal::NoSuchStep)?;
        let mut events = match act {
            StepAct::Begin => {
                let mut read = work.procedure.demanded_cautions(kind);
                read.extend(&kind.cautions);
                read.retain(|caution| !self.cautions.contains(caution));
                read.into_iter().map(|caution| Event::CautionAccepted { caution }).collect()
            }
            _ => Vec::new(),
        };
        // What is signed is what stands: readings since the comparison are judged with the rest.
        let outdated = self.verdict.as_ref().is_some_and(|verdict| verdict.outdated);
        let judges = matches!(kind.kind, StepKind::Compare(_)) || (matches!(kind.kind, StepKind::Sign(_)) && outdated);
        let judgement = if judges { self.judged() } else { None };
        let measured = self.measured(kind, judgement.as_ref());
        let worse = self.compared_otherwise();
        let decided = match act {
            StepAct::Begin if worse.iter().any(|other| other == step) => work.compare_again(kind, now)?,
            _ => work.decide((step, act), measured, now)?,
        };
        if let Some(first) = worse.into_iter().next().filter(|_| signs_that_it_is_so(kind, act)) {
            return Err(StepRefusal::CompareFirst { step: first }.into());
        }
        if let Some(done) = decided.iter().find_map(done_of) {
            events.extend(judgement.map(|judgement| Event::Judged { judgement }));
            events.extend(self.with_the_step(kind, done));
        }
        events.extend(decided);
        Ok(events)
    }

    /// The event of a photo that is kept; none when the same one is kept for the same step already.
    ///
    /// # Errors
    /// The job is closed, what is personal of it was erased, it has no such step, or holds [`MAX_PHOTOS`].
    pub fn keep_photo(&self, fact: PhotoFact) -> Result<Vec<Event>, Refusal> {
        self.is_open()?;
        if self.erased.is_some() {
            return Err(Refusal::Erased);
        }
        if let Some(step) = &fact.step {
            let work = self.work.as_ref().ok_or(StepRefusal::NoProcedure)?;
            work.procedure.step(step).ok_or(StepRefusal::NoSuchStep)?;
            // A photo shows what was done in the step, so the step was begun.
            if work.open.as_ref() != Some(step) {
                return Err(StepRefusal::NotBegun.into());
            }
        }
        let same = |kept: &PhotoFact| (kept.photo, &kept.step) == (fact.photo, &fact.step);
        let kept_for_it = self.photos.iter().any(same)
            && fact.step.as_ref().is_none_or(|step| self.work.as_ref().is_some_and(|work| work.photos_of(step) > 0));
        if kept_for_it {
            return Ok(Vec::new());
        }
        if self.photos.len() >= MAX_PHOTOS { Err(Refusal::TooManyPhotos) } else { Ok(vec![Event::PhotoTaken(fact)]) }
    }

    /// A second person's signature under the doing of a step that this person saw.
    ///
    /// # Errors
    /// Nothing waits for it, it was done again since or would come out otherwise now, or this person had a hand in the
    /// job. A job that was closed may still wait for one.
    pub fn sign_step(&self, (step, seen): (&str, u32), person: Uuid, now: &Now) -> Result<Vec<Event>, Refusal> {
        self.may_go_on()?;
        let work = self.work.as_ref().ok_or(StepRefusal::NoProcedure)?;
        if self.compared_otherwise().iter().any(|other| other == step) {
            return Err(StepRefusal::CompareFirst { step: step.to_owned() }.into());
        }
        Ok(work.sign((step, seen), person, now)?)
    }

    /// It can be said who does the job: as long as it is open, and of a closed one if nobody said it before.
    ///
    /// # Errors
    /// The job follows no procedure, or is closed and it is known who did it.
    pub fn may_name_technician(&self) -> Result<(), Refusal> {
        self.may_go_on()?;
        let work = self.work.as_ref().ok_or(StepRefusal::NoProcedure)?;
        if self.finished.is_some() && work.technician.is_some() { Err(Refusal::Finished) } else { Ok(()) }
    }

    /// Who does the job from here on.
    ///
    /// # Errors
    /// As [`Job::may_name_technician`].
    pub fn name_technician(&self, person: Uuid) -> Result<Vec<Event>, Refusal> {
        self.may_name_technician()?;
        let named = self.work.as_ref().is_some_and(|work| work.technician == Some(person));
        Ok(if named { Vec::new() } else { vec![Event::TechnicianNamed { person }] })
    }

    /// The supply was on.
    ///
    /// # Errors
    /// The job follows no procedure.
    pub fn supply_was_on(&self, now: &Now) -> Result<Vec<Event>, Refusal> {
        self.is_open()?;
        self.work.as_ref().ok_or(StepRefusal::NoProcedure)?;
        Ok(vec![Event::SupplySeen { boot: now.boot_id.clone(), volt: None }])
    }

    /// Back on the bench after another job: what made this vehicle safe is not believed any more. Said whether anything
    /// stands or not: a boot id that cannot be read now can be read again later, and the other job learns of it, too.
    pub fn taken_up_after_another(&self, now: &Now) -> Option<Event> {
        let followed = self.work.is_some() && self.finished.is_none() && self.may_go_on().is_ok();
        followed.then(|| Event::TakenUpAfterAnother { boot: now.boot_id.clone() })
    }

    /// Something may be read at the step that was begun. Without a procedure the order of the bench says so.
    ///
    /// # Errors
    /// The step is of another kind, or something it needs does not stand.
    pub(crate) fn may_read(&self, of: impl Fn(&StepKind) -> bool, now: &Now) -> Result<(), Refusal> {
        match &self.work {
            None => Ok(()),
            Some(work) => Ok(work.may_read(of, now).map(|_| ())?),
        }
    }

    /// The comparisons that come out worse by what was read since they were kept, by their steps. How they came out is
    /// kept, and what was signed under them was signed for that.
    pub fn compared_otherwise(&self) -> Vec<String> {
        let compared = self.work.as_ref().filter(|_| self.finished.is_none()).map(|work| work.compared());
        let Some((work, compared)) = self.work.as_ref().zip(compared).filter(|(_, compared)| !compared.is_empty())
        else {
            return Vec::new();
        };
        let given = self.verdict.as_ref();
        let anew = if given.is_some_and(|given| given.outdated) { self.judged() } else { None };
        let Some(judgement) = anew.as_ref().or(given.map(|given| &given.judgement)) else { return Vec::new() };
        let worse = |group: &str, was: Alike| far(alike(judgement, &work.procedure.circuits.group(group))) > far(was);
        compared.into_iter().filter(|(_, group, was)| worse(group, *was)).map(|(step, ..)| step.to_owned()).collect()
    }

    /// The step of the procedure to do now: one that was begun, else the first that is to be done or done again, a
    /// comparison that comes out worse now among them.
    pub fn step_now(&self, now: &Now) -> Option<&Step> {
        let work = self.work.as_ref()?;
        if let Some(open) = work.open_step() {
            return Some(open);
        }
        let (worse, next) = (self.compared_otherwise(), work.step_now(now));
        let first = |step: &&Step| worse.contains(&step.id) || next.is_some_and(|next| next.id == step.id);
        work.procedure.steps.iter().find(first)
    }

    /// It is not closed, and may be gone on with.
    pub(crate) fn is_open(&self) -> Result<(), Refusal> {
        if self.finished.is_some() { Err(Refusal::Finished) } else { self.may_go_on() }
    }

    /// What goes into the record with a step that was done: what its facts say of the bars, and a new part on the bench.
    fn with_the_step(&self, step: &Step, done: &Done) -> Vec<Event> {
        if matches!(done, Done::PartChosen { .. }) {
            return self.to_the_next_part();
        }
        let bars = self.work.as_ref().map(|work| work.procedure.circuits.bars.as_slice()).unwrap_or_default();
        let state = |fact: &Fact| {
            let (id, open) = match fact {
                Fact::BarOpen(id) => (id, true),
                Fact::BarRestored(id) => (id, false),
                _ => return None,
            };
            let bar = bars.iter().find(|bar| bar.id == *id)?;
            let small = |index: usize| u32::try_from(index).unwrap_or(u32::MAX);
            let opened = if open { step.id.clone() } else { String::new() };
            let (a, b) = (small(bar.pair.0), small(bar.pair.1));
            Some(Event::BarStated { bar: BarState { a, b, present: Some(true), opened, restored: !open } })
        };
        step.gives.iter().filter_map(state).collect()
    }

    /// What the part before read is what the next one is held against, as far as it can be judged.
    fn to_the_next_part(&self) -> Vec<Event> {
        let mut events = Vec::new();
        if let Some(old) = self.as_old_part() {
            events.push(Event::OldPartTaken { old });
        }
        events.push(Event::NextPart {});
        events
    }

    pub(super) fn next_part(&mut self) {
        self.touches.clear();
        self.chosen = None;
        self.verdict = None;
        self.proofs.isolation.clear();
        self.proofs.sweeps.clear();
        self.proofs.bars.clear();
        self.proofs.retired = None;
    }

    /// A step that measures was begun: what its conductors read at another one, or before it was to be done again, is not
    /// judged beside what they read now.
    pub(super) fn measured_anew(&mut self, step: &str) {
        let Some(work) = &self.work else { return };
        let Some(StepKind::Measure(measuring)) = work.procedure.step(step).map(|step| &step.kind) else { return };
        let earlier = |fact: &TouchFact| {
            measuring.wires.contains(&(fact.conductor as usize)) && !work.was_read_at(step, fact.touch)
        };
        let mut changed = false;
        for kept in self.touches.iter_mut().filter(|kept| !kept.undone && earlier(&kept.fact)) {
            (kept.undone, changed) = (true, true);
        }
        if changed {
            self.outdate(Since::Readings);
        }
    }

    /// A zero of which the readings were set aside is no zero.
    pub(super) fn zero_still_stands(&mut self, wall: &Stamp) {
        if self.proofs.zeros.is_empty()
            && let Some(work) = &mut self.work
        {
            work.zero_gone(wall);
        }
    }

    /// What the readings come to at a step that is measured; `None` at every other one.
    fn measured(&self, step: &Step, judgement: Option<&Judgement>) -> Option<Result<Done, StepRefusal>> {
        // What was read at another step, or before this one was to be done again, says nothing of now.
        let here = |reading: Uuid| self.work.as_ref().is_some_and(|work| work.was_read_at(&step.id, reading));
        let readings: Vec<Option<Uuid>> = match &step.kind {
            StepKind::Zero(zero) => {
                if zero.again.is_some() && self.work.as_ref().is_some_and(|work| work.measured_again_first().is_some())
                {
                    return Some(Err(StepRefusal::ZeroMoved));
                }
                let newest = self.proofs.zeros.last().map(|zero| zero.zero);
                vec![newest.filter(|zero| here(*zero))]
            }
            StepKind::Measure(measuring) => self.touches_of(measuring, &here),
            StepKind::Sweep(sweeping) => {
                let swept = |wire: &usize| {
                    let mut sweeps = self.proofs.sweeps_of(u32::try_from(*wire).ok()?);
                    sweeps.rfind(|sweep| here(sweep.sweep) && counts(sweeping, sweep)).map(|sweep| sweep.sweep)
                };
                sweeping.wires.iter().map(swept).collect()
            }
            StepKind::Isolation(isolation) => {
                let small = |index: usize| u32::try_from(index).ok();
                let read = |(a, b): &(usize, Option<usize>)| {
                    let newest = self.proofs.isolation_of(small(*a)?, b.and_then(small)).map(|fact| fact.reading);
                    newest.filter(|reading| here(*reading))
                };
                isolation.pairs.iter().map(read).collect()
            }
            StepKind::Compare(compare) => {
                let wires = self.work.as_ref()?.procedure.circuits.group(&compare.group);
                let alike = judgement.map_or(Alike::CannotTell, |judgement| alike(judgement, &wires));
                return Some(Ok(Done::Compared { alike }));
            }
            _ => return None,
        };
        let missing = readings.iter().filter(|reading| reading.is_none()).count();
        Some(match u32::try_from(missing) {
            Ok(0) => Ok(Done::Measured { readings: readings.into_iter().flatten().collect() }),
            missing => Err(StepRefusal::Unread { missing: missing.unwrap_or(u32::MAX) }),
        })
    }

    /// The touches a measuring step rests on; `None` for each that is missing.
    fn touches_of(&self, measuring: &Measuring, here: &dyn Fn(Uuid) -> bool) -> Vec<Option<Uuid>> {
        let of = |wire: &usize| {
            let standing: Vec<Uuid> = u32::try_from(*wire)
                .map(|conductor| self.standing(conductor).map(|touch| touch.touch).filter(|t| here(*t)).collect())
                .unwrap_or_default();
            let lacking = usize::from(measuring.touches).saturating_sub(standing.len());
            standing.into_iter().map(Some).chain(std::iter::repeat_n(None, lacking))
        };
        measuring.wires.iter().flat_map(of).collect()
    }
}

/// What the verdict says of the conductors of a group.
pub(crate) fn alike(judgement: &Judgement, wires: &BTreeSet<usize>) -> Alike {
    let of_group = |c: u32| wires.contains(&(c as usize));
    let states: Vec<_> = judgement.conductors.iter().filter(|c| of_group(c.conductor)).map(|c| c.state).collect();
    let bad = |state: &ConductorState| !matches!(state, ConductorState::Consistent | ConductorState::Undecided);
    if states.iter().any(bad) {
        Alike::NotAll
    } else if states.len() == wires.len()
        && !states.is_empty()
        && states.iter().all(|s| *s == ConductorState::Consistent)
    {
        Alike::All
    } else {
        Alike::CannotTell
    }
}

/// How far from alike.
fn far(alike: Alike) -> u8 {
    match alike {
        Alike::All => 0,
        Alike::CannotTell => 1,
        Alike::NotAll => 2,
    }
}

/// Somebody signs a verdict on the way, or that the job is repaired. That it is not may be signed at any time.
fn signs_that_it_is_so(step: &Step, act: &StepAct) -> bool {
    match (&step.kind, act) {
        (StepKind::Sign(sign), StepAct::Begin) => !sign.closes,
        (StepKind::Sign(sign), StepAct::Done { entry: StepEntry::Sign { outcome }, .. }) => {
            !sign.closes || *outcome == Some(Outcome::Repaired)
        }
        _ => false,
    }
}

fn done_of(event: &Event) -> Option<&Done> {
    match event {
        Event::StepDone(StepFact { said: StepDone { done, .. }, .. }) => Some(done),
        _ => None,
    }
}

/// Touches wanted of each conductor: the most any step asks for.
fn touches_of(work: &Work) -> u8 {
    let of = |step: &Step| match &step.kind {
        StepKind::Measure(measuring) => measuring.touches,
        _ => 1,
    };
    work.procedure.steps.iter().map(of).max().unwrap_or(1)
}

/// The sweep says something of the conductor, and is as long as the step wants it.
pub(crate) fn counts(sweeping: &Sweeping, sweep: &SweepFact) -> bool {
    let told = matches!(sweep.finding.verdict, SweepVerdict::Steady | SweepVerdict::Jump | SweepVerdict::Dropout);
    told && sweep.to_ms.since(sweep.from_ms).0 >= sweeping.at_least.millis().unwrap_or(0)
}
