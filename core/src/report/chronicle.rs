//! The entries of a job, read once more for what its state does not keep: when, with which meter, at which leads and
//! temperature, and at which of the parts that lay on the bench.

use crate::caution::Caution;
use crate::job::Job;
use crate::record::{
    Conditions, Event, Instrument, IsolationFact, PhotoFact, ResistorFact, Sealed, SweepFact, TouchFact, ZeroFact,
};
use crate::settle::Touch;
use crate::unit::{Quantity, Stamp};
use crate::work::Second;
use jiff::tz::TimeZone;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// All of it.
pub(super) struct Chronicle {
    /// The job as it stands; its stamps in the zone of the report.
    pub job: Job,
    /// Each part that lay on the bench, as its job stood when the next one came; the last is `job` itself.
    pub parts: Vec<Job>,
    /// Touches, oldest first.
    pub touches: Vec<Noted<TouchFact>>,
    /// Zeros of the leads.
    pub zeros: Vec<Noted<ZeroFact>>,
    /// Known resistors.
    pub resistors: Vec<Noted<ResistorFact>>,
    /// Isolation readings.
    pub isolation: Vec<Noted<IsolationFact>>,
    /// Sweeps.
    pub sweeps: Vec<Noted<SweepFact>>,
    /// Meters in the order they were first used.
    pub meters: Vec<Instrument>,
    /// What a person took back.
    pub taken_back: BTreeSet<Uuid>,
    /// Cautions in the order they were read.
    pub cautions: Vec<(Caution, Stamp)>,
    /// Photos, oldest first.
    pub photos: Vec<(PhotoFact, Stamp)>,
    /// What happened to the work beside its steps.
    pub incidents: Vec<(Incident, Stamp)>,
    /// Signatures of second persons: step, who, when; one of the office by the hub's clock, in the hub's zone.
    pub signed: Vec<(String, Second, Stamp)>,
    /// Who did the job when a step was said to be done, the newest time; none: nobody was named by then.
    pub done_by: BTreeMap<String, Option<Uuid>>,
    doer: Option<Uuid>,
    /// When the newest entry was written.
    pub newest: Stamp,
}

/// A fact with its circumstances.
pub(super) struct Noted<F> {
    /// As recorded.
    pub fact: F,
    /// When it was written down.
    pub at: Stamp,
    /// Index in [`Chronicle::meters`].
    pub meter: Option<usize>,
    /// Conditions as stated then.
    pub conditions: Conditions,
    /// What the leads read last before it, as shown.
    pub zero: Option<Quantity>,
    /// Index in [`Chronicle::parts`].
    pub part: usize,
}

/// What happened to the work beside its steps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Incident {
    /// The supply was on, or may have been; volt, if it was seen.
    SupplySeen(Option<Quantity>),
    /// Another job was on the bench meanwhile.
    AfterAnother,
    /// It was handed over.
    HandedOver,
    /// The device that had handed it over went on with it.
    TakenBack,
    /// Another device took it over.
    TakenOver,
    /// From this step on it was done again, for this reason.
    Reopened(String, String),
}

impl Chronicle {
    /// Reads the entries of one job, oldest first; `None` if the first one does not open it. Stamps are brought to
    /// `zone`, or left as they were written.
    pub fn read(entries: &[Sealed], zone: Option<&TimeZone>) -> Option<Chronicle> {
        let (first, rest) = entries.split_first()?;
        let first = in_zone(first, zone);
        let mut told = Chronicle {
            job: Job::open(&first)?,
            parts: Vec::new(),
            touches: Vec::new(),
            zeros: Vec::new(),
            resistors: Vec::new(),
            isolation: Vec::new(),
            sweeps: Vec::new(),
            meters: Vec::new(),
            taken_back: BTreeSet::new(),
            cautions: Vec::new(),
            photos: Vec::new(),
            incidents: Vec::new(),
            signed: Vec::new(),
            done_by: BTreeMap::new(),
            doer: None,
            newest: first.told().entry().wall.clone(),
        };
        let mut zero = None;
        let mut before_old = None;
        for sealed in rest.iter().map(|sealed| in_zone(sealed, zone)) {
            let entry = sealed.told().entry();
            let event = sealed.event();
            match event {
                // What it read is kept right before the next part comes. That alone must not outdate its verdict.
                Some(Event::OldPartTaken { .. }) => before_old = Some(told.job.clone()),
                Some(Event::NextPart {}) => {
                    told.parts.push(before_old.take().unwrap_or_else(|| told.job.clone()));
                }
                _ => before_old = None,
            }
            told.job.follow(&sealed);
            told.newest = entry.wall.clone();
            if let Some(event) = event {
                told.note(event, &entry.wall, &mut zero);
            }
        }
        if let Some(old) = &mut told.job.proofs.old {
            old.at = moved(&old.at, zone);
        }
        told.parts.push(told.job.clone());
        Some(told)
    }

    fn note(&mut self, event: Event, at: &Stamp, zero: &mut Option<Quantity>) {
        match event {
            Event::TouchTaken(fact) => {
                let noted = self.noted(fact, at, *zero);
                self.touches.push(noted);
            }
            Event::ZeroTaken(fact) => {
                let before = *zero;
                *zero = fact.taken.middle();
                let noted = self.noted(fact, at, before);
                self.zeros.push(noted);
            }
            Event::ResistorRead(fact) => {
                let noted = self.noted(fact, at, *zero);
                self.resistors.push(noted);
            }
            Event::IsolationTaken(fact) => {
                let noted = self.noted(fact, at, *zero);
                self.isolation.push(noted);
            }
            Event::SweepTaken(fact) => {
                let noted = self.noted(fact, at, *zero);
                self.sweeps.push(noted);
            }
            Event::MeterUsed { instrument } => {
                let same = |m: &Instrument| (&m.identity, m.source) == (&instrument.identity, instrument.source);
                if !self.meters.iter().any(same) {
                    // What other leads read says nothing of these.
                    *zero = None;
                    self.meters.push(instrument);
                }
            }
            Event::TouchUndone { touch } => drop(self.taken_back.insert(touch)),
            Event::ReadingWithdrawn { reading } => drop(self.taken_back.insert(reading)),
            Event::CautionAccepted { caution } => self.cautions.push((caution, at.clone())),
            Event::PhotoTaken(photo) => self.photos.push((photo, at.clone())),
            Event::SupplySeen { volt, .. } => self.incidents.push((Incident::SupplySeen(volt), at.clone())),
            Event::TakenUpAfterAnother { .. } => self.incidents.push((Incident::AfterAnother, at.clone())),
            Event::StepsReopened(said) => self.incidents.push((Incident::Reopened(said.step, said.said), at.clone())),
            Event::JobReleased(_) => self.incidents.push((Incident::HandedOver, at.clone())),
            Event::JobTakenBack { .. } => self.incidents.push((Incident::TakenBack, at.clone())),
            Event::JobClaimed(_) => {
                self.doer = None;
                self.incidents.push((Incident::TakenOver, at.clone()));
            }
            Event::ProcedureBegun(begun) => self.doer = begun.technician,
            Event::TechnicianNamed { person } => self.doer = Some(person),
            Event::StepDone(said) => drop(self.done_by.insert(said.step, self.doer)),
            Event::StepSigned(said) => {
                self.signed.push((said.step, Second { person: said.said, at_office: false }, at.clone()));
            }
            // The stamp of its entry says when the device heard of it.
            Event::StepSignedAtOffice(signed) => {
                let second = Second { person: signed.person, at_office: true };
                self.signed.push((signed.step, second, signed.at));
            }
            _ => {}
        }
    }

    fn noted<F>(&self, fact: F, at: &Stamp, zero: Option<Quantity>) -> Noted<F> {
        let of_job = |m: &Instrument| {
            self.job.instrument.as_ref().is_some_and(|i| (&i.identity, i.source) == (&m.identity, m.source))
        };
        Noted {
            fact,
            at: at.clone(),
            meter: self.meters.iter().position(of_job),
            conditions: self.job.conditions.clone(),
            zero,
            part: self.parts.len(),
        }
    }

    /// A touch that counts: neither taken back nor set aside.
    pub fn counts(&self, touch: &Noted<TouchFact>) -> bool {
        let kept = self.parts.get(touch.part).and_then(|job| {
            let mut all = job.touches.iter();
            all.find(|kept| kept.fact.touch == touch.fact.touch)
        });
        kept.is_some_and(|kept| !kept.undone)
    }

    /// How the meter stood to its leads in a reading: it took them off itself, what they read, or nothing known.
    pub fn leads_of<F>(&self, noted: &Noted<F>, taken: &Touch) -> Leads {
        match noted.zero {
            _ if taken.relative || noted.conditions.leads_zeroed => Leads::TakenOff,
            Some(zero) => Leads::Read(zero),
            None => Leads::Unknown,
        }
    }
}

/// The leads of a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Leads {
    /// The meter takes them off itself.
    TakenOff,
    /// They read this, and it is taken off by the rules.
    Read(Quantity),
    /// Nobody zeroed them.
    Unknown,
}

/// The same entry with its stamp in another zone: to read from, never to be kept.
fn in_zone(sealed: &Sealed, zone: Option<&TimeZone>) -> Sealed {
    sealed.timed(&|at: &Stamp| moved(at, zone))
}

/// The same moment as the clock of `zone` shows it.
pub(super) fn moved(at: &Stamp, zone: Option<&TimeZone>) -> Stamp {
    let Some(zone) = zone else { return at.clone() };
    let Ok(moment) = at.as_str().parse::<jiff::Timestamp>() else { return at.clone() };
    let text = moment.to_zoned_datetime(zone.clone()).strftime("%Y-%m-%dT%H:%M:%S%:z").to_string();
    Stamp::parse(&text).unwrap_or_else(|_| at.clone())
}
