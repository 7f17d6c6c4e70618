//! What is true of each job, told by what the world did and by what was written down. Written without the code under
//! test: which steps touch, end and make what stands here once more, by hand.

use super::books::{BOOKS, Book, NONE};
use crate::record::{Alike, Done, Event, Lamp, Outcome, Sealed};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Two minutes, milliseconds.
const FLOOR: u64 = 120_000;
/// Four hours, milliseconds.
const LAPSE: u64 = 4 * 3_600_000;

/// What is so, and the step that made it so.
type Made<T> = Option<(T, String)>;

/// The truth of one job.
#[derive(Default)]
pub(super) struct JobTruth {
    book: Option<&'static Book>,
    /// It follows a file that was changed.
    pub(super) own_file: bool,
    /// The steps in their order, read off the file.
    order: Vec<String>,
    wait_ms: u64,
    /// Everybody who does it or did.
    technicians: BTreeSet<Uuid>,
    /// A reading was taken back: what was signed may wait again.
    reading_gone: bool,
    /// True time of the last confirmed disconnection, if nothing speaks against it since.
    off_at: Made<u64>,
    proven: Made<()>,
    away: Made<()>,
    bag_out: bool,
    bars_out: bool,
    loose_out: bool,
    supply_off: bool,
    before_saved: bool,
    after_scan: Made<bool>,
    codes_stored: bool,
    lamp_on: bool,
    pub(super) waits_for_second: BTreeSet<String>,
    /// Who signed which step second.
    seconds: BTreeMap<String, Uuid>,
    outcome: Option<Outcome>,
    pub(super) finished: bool,
}

/// The truth of all jobs.
#[derive(Default)]
pub(super) struct Truth {
    pub(super) jobs: BTreeMap<Uuid, JobTruth>,
    /// Only taken in again: nothing is asked of it.
    silent: bool,
    pub(super) seen: BTreeMap<&'static str, u64>,
}

impl Truth {
    /// The machine was started anew: no credit for what was before.
    pub(super) fn started_anew(&mut self) {
        for job in self.jobs.values_mut() {
            (job.off_at, job.proven) = (None, None);
        }
    }

    /// The ledger is an older one: what it does not tell was never acknowledged to whoever reads it now.
    pub(super) fn told_by(entries: &[Sealed], seen: BTreeMap<&'static str, u64>) -> Truth {
        let mut truth = Truth { silent: true, seen, ..Truth::default() };
        entries.iter().for_each(|sealed| truth.learn(sealed, 0, true));
        truth.silent = false;
        truth.started_anew();
        truth
    }

    /// This job was on the bench: nobody knows what became of the other vehicles.
    pub(super) fn others_left(&mut self, id: Uuid) {
        for (_, other) in self.jobs.iter_mut().filter(|(other, _)| **other != id) {
            (other.off_at, other.proven, other.away, other.supply_off) = (None, None, None, false);
        }
    }

    /// An entry was written at this true time; `readable`: the boot could be told.
    pub(super) fn learn(&mut self, sealed: &Sealed, at: u64, readable: bool) {
        let entry = sealed.entry();
        let Some(id) = entry.job else { return };
        let event = entry.event().expect("own events are known");
        self.others_left(id);
        let job = self.jobs.entry(id).or_default();
        if !self.silent {
            let late = matches!(event, Event::StepSigned(_))
                || (matches!(event, Event::TechnicianNamed { .. }) && job.technicians.is_empty());
            assert!(!job.finished || late, "{event:?} after the end");
            job.check(&event, at);
        }
        job.take(&event, at, readable);
        let counted = match &event {
            Event::TouchTaken(_) | Event::IsolationTaken(_) | Event::SweepTaken(_) => "readings",
            Event::JobFinished {} if job.outcome == Some(Outcome::Repaired) => "closed as repaired",
            Event::JobFinished {} if job.book.is_some() => "closed otherwise",
            Event::StepDone(_) => "steps done",
            Event::StepSigned(_) => "signed by a second",
            Event::SupplySeen { .. } => "supply seen",
            Event::TakenUpAfterAnother { .. } => "taken up after another",
            _ => return,
        };
        *self.seen.entry(counted).or_default() += u64::from(!self.silent);
    }
}

impl JobTruth {
    pub(super) fn has_procedure(&self) -> bool {
        self.book.is_some()
    }

    fn is(&self, of: fn(&Book) -> &'static [&'static str], step: &str) -> bool {
        self.book.is_some_and(|book| of(book).contains(&step))
    }

    /// The two minutes are over, no supply since, and dead was proven since.
    fn is_safe(&self, at: u64, what: &str) {
        let (off, _) = self.off_at.as_ref().unwrap_or_else(|| panic!("{what}: no confirmed disconnection stands"));
        let passed = at - off;
        assert!(passed >= FLOOR.max(self.wait_ms), "{what}: {passed} ms since the last disconnection");
        assert!(passed < LAPSE, "{what}: {passed} ms, and nobody knows who was at the vehicle");
        assert!(self.proven.is_some(), "{what}: not proven dead since the last disconnection");
    }

    /// Invariants (a) to (d).
    fn check(&self, event: &Event, at: u64) {
        let Some(book) = self.book else { return };
        match event {
            Event::StepBegun(said) => self.check_step(&said.step, "begun", at),
            Event::StepDone(said) => {
                let step = said.step.as_str();
                self.check_step(step, "done", at);
                if self.is(|book| book.wait, step) {
                    let (off, _) = self.off_at.as_ref().expect("a wait is over that counts from nothing");
                    assert!(at - off >= FLOOR.max(self.wait_ms), "the wait took {} ms", at - off);
                }
            }
            Event::TouchTaken(fact) => self.check_reading(book, &[fact.conductor], at),
            Event::SweepTaken(fact) => self.check_reading(book, &[fact.conductor], at),
            Event::IsolationTaken(fact) => {
                let wires: Vec<u32> = std::iter::once(fact.a).chain(fact.other).collect();
                self.check_reading(book, &wires, at);
            }
            Event::JobFinished {} => self.check_end(),
            Event::StepSigned(said) => {
                assert!(!self.technicians.is_empty(), "nobody knows who did it");
                assert!(!self.technicians.contains(&said.said), "nobody is their own second");
                let waits = self.waits_for_second.contains(&said.step) || self.reading_gone;
                assert!(waits, "{} waits for nobody", said.step);
            }
            _ => {}
        }
    }

    fn check_step(&self, step: &str, how: &str, at: u64) {
        if self.is(|book| book.restraint, step) {
            self.is_safe(at, &format!("{step} {how}"));
        }
        if self.is(|book| book.inflator_plug, step) {
            assert!(self.away.is_some(), "{step} {how} with the inflator in its place");
        }
        if self.is(|book| book.erases, step) {
            assert!(self.before_saved, "codes are erased before they were saved");
        }
    }

    fn check_reading(&self, book: &Book, wires: &[u32], at: u64) {
        // Every conductor of the three is read with the supply off. Where no plug is of a restraint system, a file of the
        // shop may say otherwise.
        if !(self.own_file && book.id == BOOKS[1].id) {
            self.is_safe(at, &format!("a reading of {wires:?} in {}, changed: {}", book.id, self.own_file));
        }
        assert!(wires.iter().all(|wire| !book.never.contains(wire)), "{wires:?} may lead to an inflator");
        if book.id == BOOKS[0].id && wires.iter().any(|wire| *wire < 4) {
            assert!(self.away.is_some(), "a reading of {wires:?} with the inflator in its place");
        }
    }

    fn check_end(&self) {
        assert!(!self.loose_out, "closed with a load or a pin out");
        assert!(!self.bars_out, "closed with a bar held open");
        if self.outcome == Some(Outcome::Repaired) {
            assert!(!self.bag_out, "repaired with the inflator away");
            let (awake, _) = self.after_scan.as_ref().expect("repaired without a scan at the end");
            assert!(*awake, "repaired on a scan of a vehicle without supply");
            assert!(!self.codes_stored, "repaired with a code stored");
            assert!(!self.lamp_on, "repaired with the lamp on");
        }
    }

    fn take(&mut self, event: &Event, at: u64, readable: bool) {
        match event {
            Event::ProcedureBegun(fact) => {
                self.book = BOOKS.iter().find(|book| fact.text.contains(&format!("id = \"{}", book.id)));
                let book = self.book.expect("one of the three, or made of one");
                let (_, steps) = fact.text.split_once("[[steps]]").expect("a procedure has steps");
                let steps = steps.split("[[steps]]");
                self.order = steps.map(|step| step.split('"').nth(1).expect("its id").to_owned()).collect();
                self.wait_ms = shortest_wait(&fact.text).unwrap_or(book.wait_ms);
                self.technicians.extend(fact.technician);
                self.own_file = fact.text.contains(&format!("id = \"{}-", self.book.map_or("", |book| book.id)));
            }
            Event::StepBegun(said) => self.begin(&said.step),
            Event::StepDone(said) => self.done(&said.step, &said.said.done, at, readable),
            Event::StepSkipped(said) => {
                self.waits_for_second.remove(&said.step);
                self.seconds.remove(&said.step);
            }
            Event::StepsReopened(said) => self.reopen(&said.step),
            Event::TechnicianNamed { person } => {
                self.technicians.insert(*person);
                // What this person signed second waits again.
                let theirs = self.seconds.iter().filter(|(_, who)| *who == person).map(|(step, _)| step.clone());
                self.waits_for_second.extend(theirs);
                self.seconds.retain(|_, who| who != person);
            }
            Event::ReadingWithdrawn { .. } | Event::TouchUndone { .. } => self.reading_gone = true,
            // What was read may be set aside with it: a comparison then waits for nobody and is to be made again.
            Event::MeterUsed { .. } | Event::ZeroTaken(_) => {
                self.reading_gone = true;
                let compares = self.book.map_or(NONE, |book| book.compares_with_good);
                self.waits_for_second.retain(|step| !compares.contains(&step.as_str()));
            }
            Event::StepSigned(said) => {
                self.waits_for_second.remove(&said.step);
                self.seconds.insert(said.step.clone(), said.said);
            }
            Event::SupplySeen { .. } => (self.off_at, self.proven, self.supply_off) = (None, None, false),
            Event::JobFinished {} => self.finished = true,
            _ => {}
        }
    }

    /// What is done in a step may have been done as soon as it was begun.
    fn begin(&mut self, step: &str) {
        self.waits_for_second.remove(step);
        self.seconds.remove(step);
        if self.is(|book| book.on, step) {
            (self.off_at, self.proven, self.supply_off) = (None, None, false);
        }
        if self.is(|book| book.off, step) {
            self.after_scan = None;
        }
        if self.is(|book| book.puts_bag_on, step) {
            self.away = None;
        }
        self.bag_out |= self.is(|book| book.takes_bag_off, step);
        self.bars_out |= self.is(|book| book.opens_bars, step);
        self.loose_out |= self.is(|book| book.fits, step);
    }

    fn done(&mut self, step: &str, done: &Done, at: u64, readable: bool) {
        let by = step.to_owned();
        if self.is(|book| book.off, step) {
            (self.off_at, self.proven, self.supply_off) = (readable.then(|| (at, by.clone())), None, true);
        }
        if self.is(|book| book.prove, step) {
            let Done::ProvenDead { before, points, after } = done else { panic!("{done:?} proves nothing") };
            let volt = |q: &crate::unit::Quantity| q.to_f64().abs();
            assert!(volt(before) >= 1.0 && volt(after) >= 1.0, "the meter was tried on something live");
            assert!(!points.is_empty() && points.iter().all(|point| volt(point) <= 0.5), "{points:?} is not dead");
            self.proven = self.off_at.is_some().then(|| ((), by.clone()));
        }
        if self.is(|book| book.takes_bag_off, step) {
            self.away = Some(((), by.clone()));
        }
        if self.is(|book| book.puts_bag_on, step) {
            self.bag_out = false;
        }
        self.bars_out &= !self.is(|book| book.frees_bars, step);
        self.loose_out &= !self.is(|book| book.takes_back, step);
        let mut second = self.is(|book| book.signs_second, step);
        match done {
            Done::Codes { codes, no_scanner, lamp } => {
                self.before_saved |= step == "before-scan";
                if !no_scanner {
                    self.codes_stored = !codes.is_empty();
                }
                if let Some(lamp) = lamp {
                    self.lamp_on = *lamp != Lamp::WentOff;
                }
                if step == "after-scan" {
                    self.after_scan = (!no_scanner).then_some((!self.supply_off, by));
                }
            }
            Done::PartChosen { origin: crate::procedure::Origin::Used, .. } => second = true,
            Done::Compared { alike } if self.is(|book| book.compares_with_good, step) => second |= *alike != Alike::All,
            Done::Signed { outcome: Some(outcome) } => {
                self.outcome = Some(*outcome);
                second |= self.codes_stored || self.lamp_on;
            }
            _ => {}
        }
        if second {
            self.waits_for_second.insert(step.to_owned());
        }
    }

    fn reopen(&mut self, from: &str) {
        let from = self.order.iter().position(|step| step == from).expect("a step of it");
        let again: BTreeSet<&String> = self.order[from..].iter().collect();
        let undone = |by: &String| again.contains(by);
        if self.off_at.as_ref().is_some_and(|(_, by)| undone(by)) {
            (self.off_at, self.proven, self.supply_off) = (None, None, false);
        }
        self.proven.take_if(|(_, by)| undone(by));
        self.away.take_if(|(_, by)| undone(by));
        self.after_scan.take_if(|(_, by)| undone(by));
        self.waits_for_second.retain(|step| !again.contains(step));
        self.seconds.retain(|step, _| !again.contains(step));
    }
}

/// The shortest wait a file names, milliseconds.
fn shortest_wait(text: &str) -> Option<u64> {
    let waits = text.split("[[steps]]").filter(|step| step.contains("kind = \"wait\""));
    let one = |step: &str| {
        let written = step.split("at_least = \"").nth(1)?.split('"').next()?;
        let (number, unit) = written.split_once(' ')?;
        let seconds = number.parse::<u64>().ok()?;
        Some(if unit == "min" { seconds * 60_000 } else { seconds * 1_000 })
    };
    waits.filter_map(one).min()
}
