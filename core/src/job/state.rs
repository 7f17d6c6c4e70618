//! The state of a job: what its events add up to.

use super::corrected::Corrected;
use super::handed::Hands;
use super::proofs::{KeptReading, Proofs, Retired, Since};
use crate::caution::Caution;
use crate::meter::link::Source;
use crate::part::Part;
use crate::record::{Conditions, Event, Hash, Instrument, PhotoFact, Sealed, TouchFact, ZeroFact};
use crate::unit::Stamp;
use crate::verdict::written::Judgement;
use crate::work::Work;
use std::collections::BTreeSet;
use uuid::Uuid;

/// One job as its entries tell it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Job {
    /// Its id.
    pub id: Uuid,
    /// Order number or name.
    pub order: String,
    /// Vehicle in short words.
    pub vehicle: String,
    /// Commitment to the personal details.
    pub personal: Hash,
    /// Orders and vehicles that were corrected since, oldest first.
    pub corrected: Vec<Corrected>,
    /// When it was opened.
    pub opened: Stamp,
    /// Sequence of the entry that opened it.
    pub opened_by: u64,
    /// Hashes of its entries, in order, as [`Telling`](crate::record::Telling) has them.
    pub entries: Vec<Hash>,
    /// Cautions read.
    pub cautions: BTreeSet<Caution>,
    /// The part, once described.
    pub part: Option<Part>,
    /// The instrument in use.
    pub instrument: Option<Instrument>,
    /// Leads, temperature, bars.
    pub conditions: Conditions,
    /// Every touch ever taken, oldest first.
    pub touches: Vec<KeptTouch>,
    /// The conductor a person chose, and how many touches it shall have.
    pub chosen: Option<(u32, usize)>,
    /// What supports the readings.
    pub proofs: Proofs,
    /// Photos, oldest first.
    pub photos: Vec<PhotoFact>,
    /// The procedure it follows, if it follows one.
    pub work: Option<Box<Work>>,
    /// The newest verdict.
    pub verdict: Option<GivenVerdict>,
    /// Measuring goes on after the newest verdict.
    pub resumed: bool,
    /// When it was closed.
    pub finished: Option<Stamp>,
    /// When its personal details and photos were erased, if they were.
    pub erased: Option<Stamp>,
    /// How it went from device to device.
    pub hands: Hands,
    /// Entries of a newer program were met; they are kept and not understood.
    pub newer_entries: bool,
}

/// A touch of the record, and whether it was taken back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptTouch {
    /// As recorded.
    pub fact: TouchFact,
    /// Taken back, or another meter is in use since: it is not judged.
    pub undone: bool,
}

/// A verdict with its place in the record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GivenVerdict {
    /// What was judged.
    pub judgement: Judgement,
    /// Sequence of its entry.
    pub sequence: u64,
    /// When.
    pub at: Stamp,
    /// With which instrument.
    pub instrument: Option<Instrument>,
    /// Under which conditions.
    pub conditions: Conditions,
    /// Something it rests on changed since.
    pub outdated: bool,
    /// What changed since.
    pub since: BTreeSet<Since>,
}

impl Job {
    /// The job its stored entries tell, in order; `None` if the first one does not open it.
    pub fn from_entries(entries: &[Sealed]) -> Option<Job> {
        let (first, rest) = entries.split_first()?;
        let mut job = Job::open(first)?;
        rest.iter().for_each(|sealed| job.follow(sealed));
        Some(job)
    }

    /// The job a `job-opened` entry opens; `None` for any other entry.
    pub fn open(sealed: &Sealed) -> Option<Job> {
        let entry = sealed.told().entry();
        let event = sealed.event()?;
        let Event::JobOpened { order, vehicle, personal } = event else { return None };
        Some(Job {
            id: entry.job?,
            order,
            vehicle,
            personal,
            corrected: Vec::new(),
            opened: entry.wall.clone(),
            opened_by: sealed.entry().sequence,
            entries: vec![sealed.told().hash()],
            cautions: BTreeSet::new(),
            part: None,
            instrument: None,
            conditions: Conditions::default(),
            touches: Vec::new(),
            chosen: None,
            proofs: Proofs::default(),
            photos: Vec::new(),
            work: None,
            verdict: None,
            resumed: false,
            finished: None,
            erased: None,
            hands: Hands::default(),
            newer_entries: false,
        })
    }

    /// Takes in the next entry of this job. Cannot fail: what it does not know it marks as newer.
    pub fn follow(&mut self, sealed: &Sealed) {
        let entry = sealed.told().entry();
        if self.hands.away().is_none() || entry.kind != "details-erased" {
            self.entries.push(sealed.told().hash());
        }
        match sealed.event() {
            Some(event) => {
                self.hands.follow(&event, entry);
                if let Some(work) = &mut self.work {
                    work.follow(&event, entry.elapsed_ms, &entry.wall);
                }
                self.apply(event, sealed.entry().sequence, &entry.wall);
                self.zero_still_stands(&entry.wall);
            }
            None => self.newer_entries = true,
        }
    }

    fn apply(&mut self, event: Event, sequence: u64, wall: &Stamp) {
        match event {
            Event::CautionAccepted { caution } => {
                self.cautions.insert(caution);
            }
            Event::PartDescribed { part } => {
                // What was chosen was a conductor of the description before.
                self.chosen = None;
                self.outdate(Since::Part);
                self.part = Some(part);
            }
            Event::MeterUsed { instrument } => self.use_meter(instrument, wall),
            Event::ConditionsStated { conditions } => {
                self.outdate(Since::Bench);
                self.conditions = conditions;
            }
            Event::ConductorChosen { conductor } => self.choose(conductor),
            Event::TouchTaken(fact) => self.take(fact, wall),
            Event::TouchUndone { touch } => self.undo(touch),
            Event::ZeroTaken(fact) => self.zero(fact, wall),
            Event::ResistorRead(fact) => self.proofs.resistors.push(fact),
            Event::BarStated { bar } => {
                // In a procedure they spring back when all is read: what was read while they were open stays so.
                if self.work.is_none() || !bar.restored {
                    self.outdate(Since::Readings);
                }
                self.proofs.bars.insert((bar.a.min(bar.b), bar.a.max(bar.b)), bar);
            }
            Event::IsolationTaken(fact) => {
                self.outdate(Since::Readings);
                self.proofs.isolation.push(KeptReading::new(fact));
            }
            Event::SweepTaken(fact) => {
                self.outdate(Since::Readings);
                self.proofs.sweeps.push(KeptReading::new(fact));
            }
            Event::ReadingWithdrawn { reading } => {
                self.outdate(Since::Readings);
                self.proofs.withdraw(reading);
            }
            Event::OldPartTaken { old } => {
                self.outdate(Since::Part);
                self.proofs.old = Some(old);
            }
            Event::Judged { judgement } => {
                self.resumed = false;
                self.verdict = Some(GivenVerdict {
                    judgement,
                    sequence,
                    at: wall.clone(),
                    instrument: self.instrument.clone(),
                    conditions: self.conditions.clone(),
                    outdated: false,
                    since: BTreeSet::new(),
                });
            }
            Event::MeasuringResumed {} => self.resumed = true,
            Event::JobFinished {} => self.finished = Some(wall.clone()),
            Event::JobCorrected { order, vehicle, personal } => self.correct((order, vehicle), personal, wall),
            Event::JobClaimed(_) | Event::JobTakenBack { .. } => self.taken_over(),
            Event::DetailsErased {} => self.erased = Some(wall.clone()),
            Event::StepBegun(said) => self.measured_anew(&said.step),
            other => self.apply_of_procedure(other),
        }
    }

    /// What belongs to a procedure or to photos. What the procedure follows itself, and what belongs to the device, says
    /// nothing more about the job.
    fn apply_of_procedure(&mut self, event: Event) {
        match event {
            Event::ProcedureBegun(fact) => match Work::begun(&fact) {
                Some(work) => self.work = Some(Box::new(work)),
                // A file this program cannot read is of a newer one: nothing may be guessed of its steps.
                None => self.newer_entries = true,
            },
            Event::PhotoTaken(photo) => self.photos.push(photo),
            Event::NextPart {} => self.next_part(),
            _ => {}
        }
    }

    pub(super) fn outdate(&mut self, since: Since) {
        if let Some(verdict) = &mut self.verdict {
            verdict.outdated = true;
            verdict.since.insert(since);
        }
    }

    /// The comparison rests on one meter: its offset is in every reading and cancels. Readings of another one
    /// do not stand beside it.
    fn use_meter(&mut self, instrument: Instrument, wall: &Stamp) {
        self.outdate(Since::Bench);
        let same = |before: &Instrument| (&before.identity, before.source) == (&instrument.identity, instrument.source);
        if !self.instrument.as_ref().is_some_and(same) {
            self.set_touches_aside(Retired::OtherInstrument, wall);
            self.proofs.other_instrument();
        }
        self.instrument = Some(instrument);
    }

    fn set_touches_aside(&mut self, why: Retired, wall: &Stamp) {
        let standing = self.touches.iter_mut().filter(|kept| !kept.undone);
        let gone: BTreeSet<Uuid> = standing.map(|kept| (kept.undone = true, kept.fact.touch).1).collect();
        if !gone.is_empty() {
            self.proofs.retired = Some(why);
        }
        if let Some(work) = &mut self.work {
            work.readings_gone(&gone, wall);
        }
    }

    /// The zero of the leads. One that moved too far, or was made another way, retires what was read before it.
    fn zero(&mut self, fact: ZeroFact, wall: &Stamp) {
        self.outdate(Since::Readings);
        let switched = self.reads_relative().is_some_and(|was| was != fact.taken.relative);
        let by_file = |step| self.work.as_ref().and_then(|work| work.zero_may_move(step));
        if let Some(why) = self.proofs.zero_moved(&fact, by_file).or(switched.then_some(Retired::OtherZero)) {
            self.set_touches_aside(why, wall);
            self.proofs.zeros.clear();
        }
        self.proofs.zeros.push(fact);
    }

    /// The standing touches were shown as differences to the meter's own zero; `None` before the first one.
    pub(super) fn reads_relative(&self) -> Option<bool> {
        self.newest_touch().map(|t| t.taken.relative)
    }

    fn choose(&mut self, conductor: u32) {
        let goal = self.wanted().max(self.standing(conductor).count() + 1);
        self.chosen = Some((conductor, goal));
    }

    /// One comparison has one zero: once the meter's own was switched, what was read before does not stand beside
    /// what is read now.
    fn take(&mut self, fact: TouchFact, wall: &Stamp) {
        self.outdate(Since::Readings);
        let conductor = fact.conductor;
        if self.reads_relative().is_some_and(|was| was != fact.taken.relative) {
            self.set_touches_aside(Retired::OtherZero, wall);
        }
        self.proofs.zeros.retain(|zero| zero.taken.relative == fact.taken.relative);
        self.touches.push(KeptTouch { fact, undone: false });
        if self.measured_conductors().iter().all(|c| self.standing(*c).count() >= self.wanted()) {
            self.proofs.retired = None;
        }
        if self.chosen.is_some_and(|(chosen, goal)| chosen == conductor && self.standing(conductor).count() >= goal) {
            self.chosen = None;
        }
    }

    fn undo(&mut self, touch: Uuid) {
        self.outdate(Since::Readings);
        let Some(kept) = self.touches.iter_mut().find(|k| k.fact.touch == touch) else { return };
        kept.undone = true;
        let conductor = kept.fact.conductor;
        self.choose(conductor);
    }

    /// Its meter has no radio: the person reads and types.
    pub fn is_typed(&self) -> bool {
        self.instrument.as_ref().is_some_and(|i| i.source == Source::Typed)
    }

    /// Touches wanted on each conductor.
    pub fn wanted(&self) -> usize {
        self.part.as_ref().map_or(0, |p| usize::from(p.touches_wanted))
    }

    /// Touches of one conductor that were not taken back, oldest first.
    pub fn standing(&self, conductor: u32) -> impl Iterator<Item = &TouchFact> {
        self.touches.iter().filter(move |k| !k.undone && k.fact.conductor == conductor).map(|k| &k.fact)
    }

    /// The newest touch that was not taken back.
    pub fn newest_touch(&self) -> Option<&TouchFact> {
        self.touches.iter().rev().find(|k| !k.undone).map(|k| &k.fact)
    }

    /// Indices of the conductors that are measured and judged, in the order of the part.
    pub fn measured_conductors(&self) -> Vec<u32> {
        let Some(part) = &self.part else { return Vec::new() };
        let may_clip = |index: &u32| part.clip_points(*index as usize).is_ok();
        (0u32..).take(part.conductors.len()).filter(may_clip).collect()
    }

    /// Those that are asked for now: all, or those of the step that is done.
    pub fn asked_conductors(&self) -> Vec<u32> {
        let mut asked = self.measured_conductors();
        if let Some(work) = &self.work {
            let wires = work.wires_now();
            asked.retain(|conductor| wires.contains(&(*conductor as usize)));
        }
        asked
    }

    /// The conductor to clip next: the one chosen, else the first that lacks a touch.
    pub fn next_conductor(&self) -> Option<u32> {
        if let Some((chosen, _)) = self.chosen {
            return Some(chosen);
        }
        self.asked_conductors().into_iter().find(|c| self.standing(*c).count() < self.wanted())
    }
}
