//! What is done beside the conductors: zero, known resistor, isolation, sweep. A reading that settles is taken for it,
//! then the conductors come back by themselves.

use super::sweeping::Kept;
use super::{Batch, Output, Run, Session, Signal, entered};
use crate::caution::Caution;
use crate::job::{Command, Job, Refusal};
use crate::meter::Reading;
use crate::meter::link::Source;
use crate::part::Point;
use crate::procedure::StepKind;
use crate::record::{Event, Hash, Instrument, IsolationFact, ResistorFact, SweepFact, ZeroFact};
use crate::settle::{Settler, Touch};
use crate::sweep::SweepVerdict;
use crate::sweep::plan::Movement;
use crate::sweep::written::Finding;
use crate::unit::{Millis, Now, Quantity};
use uuid::Uuid;

/// What was done beside the conductors last: told until the next wish or touch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DoneBeside {
    /// The leads were read.
    Zero,
    /// A known resistor was read.
    Resistor,
    /// Isolation was read.
    Isolation {
        /// The conductor.
        a: u32,
        /// The other one; none: metal.
        other: Option<u32>,
    },
    /// A sweep came to its end; its name in the record.
    Sweep(Uuid),
    /// A sweep was broken off; nothing of it is kept but the raw samples.
    Broken,
}

/// What is being done beside the conductors.
#[derive(Clone, Debug)]
pub enum Aside {
    /// The leads are read, clips on each other.
    Zero,
    /// A known resistor is read.
    Resistor {
        /// Its value, ohm.
        resistor: Quantity,
        /// Its tolerance, thousandths of a percent.
        tolerance_milli_percent: u32,
    },
    /// Isolation is read.
    Isolation {
        /// The conductor.
        a: u32,
        /// The other one; none: metal.
        other: Option<u32>,
    },
    /// A conductor is watched while the part is moved.
    Sweep(Box<Run>),
}

impl Aside {
    /// Cautions that have to be read before anything is taken.
    pub fn cautions(&self, job: &Job) -> Vec<Caution> {
        match self {
            Aside::Zero | Aside::Resistor { .. } => Vec::new(),
            Aside::Isolation { a, other } => {
                let bar = other.is_some_and(|b| job.bar_open(*a, b) == Some(true) && job.has_bar(*a, b));
                if bar { vec![Caution::C7, Caution::C9] } else { vec![Caution::C9] }
            }
            Aside::Sweep(run) if run.planning => Vec::new(),
            Aside::Sweep(run) => match run.plan.movement {
                Movement::Turns { .. } => vec![Caution::C8],
                Movement::Flexes { .. } => Vec::new(),
            },
        }
    }
}

impl Aside {
    /// The wish that begins it.
    fn wish(&self) -> Command {
        match self {
            Aside::Zero => Command::ZeroLeads,
            Aside::Resistor { resistor, .. } => {
                Command::CheckMeter { resistor: resistor.to_string(), tolerance_percent: String::new() }
            }
            Aside::Isolation { a, other } => Command::MeasureIsolation { a: *a, other: *other },
            Aside::Sweep(run) => Command::Sweep { conductor: run.conductor, plan: run.plan },
        }
    }
}

impl Session {
    /// What is being done beside the conductors.
    pub fn aside(&self) -> Option<&Aside> {
        self.aside.as_ref()
    }

    /// What was done beside the conductors last, while nothing was wished or touched since.
    pub fn done_beside(&self) -> Option<DoneBeside> {
        self.done_beside
    }

    /// The sweep that is going on.
    pub fn run(&self) -> Option<&Run> {
        match &self.aside {
            Some(Aside::Sweep(run)) => Some(run),
            _ => None,
        }
    }

    /// Cautions the aside still waits for.
    pub fn aside_cautions(&self) -> Vec<Caution> {
        let (Some(aside), Some(job)) = (&self.aside, &self.job) else { return Vec::new() };
        aside.cautions(job).into_iter().filter(|c| !job.cautions.contains(c)).collect()
    }

    /// Where the clips go for isolation or a sweep: two places, or one and metal. `None` for zero and resistor, and
    /// while cautions wait.
    pub fn aside_points(&self) -> Option<(Point, Option<Point>)> {
        if !self.aside_cautions().is_empty() {
            return None;
        }
        let part = self.job.as_ref()?.part.as_ref()?;
        let ends = |conductor: u32| part.clip_points(conductor as usize).ok();
        match self.aside.as_ref()? {
            Aside::Zero | Aside::Resistor { .. } => None,
            Aside::Isolation { a, other: None } => Some((ends(*a)?.0, None)),
            Aside::Isolation { a, other: Some(b) } => Some((ends(*a)?.0, Some(ends(*b)?.0))),
            Aside::Sweep(run) if run.planning => None,
            Aside::Sweep(run) => ends(run.conductor).map(|(from, to)| (from, Some(to))),
        }
    }

    pub(super) fn aside_wish(&mut self, wish: Command, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        match wish {
            Command::MarkSweep => {
                let Some(Aside::Sweep(run)) = &mut self.aside else { return Err(Refusal::NothingAside) };
                return if run.mark(now.boot) { Ok(()) } else { Err(Refusal::NothingSwept) };
            }
            Command::EndSweep => return self.end_sweep(now, outputs),
            Command::BackToConductors => {
                self.aside.take().ok_or(Refusal::NothingAside)?;
            }
            begins => self.aside = Some(self.begins(begins, now)?),
        }
        self.meters.announce(now.boot);
        Ok(())
    }

    fn begins(&self, wish: Command, now: &Now) -> Result<Aside, Refusal> {
        let job = self.job.as_ref().ok_or(Refusal::NoJob)?;
        job.may_prove()?;
        job.may_read(|kind| asks_for(kind, &wish), now)?;
        let instrument = self.instrument_at_hand()?;
        let confirmed = matches!(wish, Command::Sweep { .. });
        match wish {
            Command::CheckMeter { resistor, tolerance_percent } => Ok(Aside::Resistor {
                resistor: entered::positive("resistor", &resistor, false)?,
                tolerance_milli_percent: entered::milli_percent("tolerance_percent", &tolerance_percent, false)?,
            }),
            Command::MeasureIsolation { a, other } => {
                job.may_measure(a)?;
                if let Some(b) = other {
                    job.may_measure(b)?;
                    if a == b {
                        return Err(Refusal::SameConductor);
                    }
                    if job.bar_has_to_be_told(a, b) {
                        return Err(Refusal::BarFirst { a, b });
                    }
                }
                Ok(Aside::Isolation { a, other })
            }
            Command::PlanSweep { conductor, plan } | Command::Sweep { conductor, plan } => {
                job.may_measure(conductor)?;
                if instrument.source == Source::Typed {
                    return Err(Refusal::RadioNeeded);
                }
                if !plan.fits() {
                    return Err(Refusal::SweepPlan);
                }
                let jump = job.work.as_ref().and_then(|work| work.jump_wanted(conductor));
                let run = Run::new((conductor, plan), instrument.step, jump);
                Ok(Aside::Sweep(Box::new(if confirmed { run } else { run.with_plan_open() })))
            }
            _ => Ok(Aside::Zero),
        }
    }

    /// What the step asked for when it was begun it still asks for, and what it needs still stands.
    fn may_still_read(&self, now: &Now) -> Result<(), Refusal> {
        let (job, aside) =
            (self.job.as_ref().ok_or(Refusal::NoJob)?, self.aside.as_ref().ok_or(Refusal::NothingAside)?);
        job.may_read(|kind| asks_for(kind, &aside.wish()), now)
    }

    /// A touch that settled, was taken by key or typed, for what is done beside the conductors.
    pub(super) fn take_aside(&mut self, touch: Touch, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        if let Some(caution) = self.aside_cautions().first() {
            return Err(Refusal::CautionFirst { caution: *caution });
        }
        self.may_still_read(now)?;
        let over_range = touch.kind.is_over_range();
        if over_range && !matches!(self.aside, Some(Aside::Isolation { .. })) {
            return Err(Refusal::NothingToTake);
        }
        let top = self.instrument_at_hand()?.top;
        let (batch, chunks) = self.evidence(&touch, now);
        let job = self.job.as_ref().ok_or(Refusal::NoJob)?;
        let (id, taken) = (self.ids.id(now), touch);
        let (done, event) = match self.aside.as_ref().ok_or(Refusal::NothingAside)? {
            Aside::Zero => {
                let temperature = job.conditions.temperature;
                (DoneBeside::Zero, Event::ZeroTaken(ZeroFact { zero: id, taken, temperature, chunks }))
            }
            Aside::Resistor { resistor, tolerance_milli_percent } => (
                DoneBeside::Resistor,
                Event::ResistorRead(ResistorFact {
                    reading: id,
                    resistor: *resistor,
                    tolerance_milli_percent: *tolerance_milli_percent,
                    taken,
                    chunks,
                }),
            ),
            Aside::Isolation { a, other } => (
                DoneBeside::Isolation { a: *a, other: *other },
                Event::IsolationTaken(IsolationFact {
                    reading: id,
                    a: *a,
                    other: *other,
                    taken,
                    top,
                    bar_open: other.map_or(Some(true), |b| job.bar_open(*a, b)),
                    chunks,
                }),
            ),
            Aside::Sweep(_) => return Err(Refusal::NothingToTake),
        };
        self.aside = None;
        self.record_with(vec![event], batch, now, outputs);
        self.done_beside = Some(done);
        self.meters.announce(now.boot);
        outputs.push(Output::Signal(Signal::Taken));
        Ok(())
    }

    /// A reading of the meter in use, while a sweep goes on.
    pub(super) fn sweep_hears(&mut self, readings: &[Reading], now: &Now, outputs: &mut Vec<Output>) {
        if !self.sweep_listens() {
            return;
        }
        for reading in readings {
            let Some(Aside::Sweep(run)) = &mut self.aside else { return };
            match run.hear(reading) {
                Kept::Goes => {}
                Kept::Broken => return self.break_sweep(outputs),
                Kept::Full => {
                    // It has readings, so it ends.
                    let _ = self.end_sweep(now, outputs);
                }
            }
        }
    }

    /// A sweep takes readings: its cautions are read, its meter is there, and the clips went on after it was announced.
    /// How they went on is not part of the trace: a clip half on reads some hundred ohm, and that is no jump.
    fn sweep_listens(&self) -> bool {
        let ready = self.instrument_at_hand().is_ok() && self.aside_cautions().is_empty();
        let planned = self.run().is_some_and(|run| !run.planning);
        let begun = self.run().is_some_and(|run| !run.readings().is_empty());
        ready && planned && (begun || self.settler().is_some_and(Settler::past_onset))
    }

    /// The stream of a sweep that goes on is cut.
    pub(super) fn break_sweep(&mut self, outputs: &mut Vec<Output>) {
        if self.run().is_some_and(|run| !run.readings().is_empty()) {
            self.aside = None;
            self.done_beside = Some(DoneBeside::Broken);
            outputs.push(Output::Signal(Signal::Stop));
        }
    }

    /// Marks and the end of a paced sweep come by themselves.
    pub(super) fn pass_marks(&mut self, now: &Now, outputs: &mut Vec<Output>) {
        while let Some(Aside::Sweep(run)) = &mut self.aside {
            let Some(due) = run.due_at().filter(|due| *due <= now.boot) else { return };
            if run.next_place().is_some() {
                run.mark(due);
                outputs.push(Output::Signal(Signal::Mark));
            } else {
                // It has readings, so it ends.
                let _ = self.end_sweep(now, outputs);
            }
        }
    }

    fn end_sweep(&mut self, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        if let Err(refusal) = self.run().ok_or(Refusal::NothingAside).and_then(|_| self.may_still_read(now)) {
            self.break_sweep(outputs);
            return Err(refusal);
        }
        let run = self.run().ok_or(Refusal::NothingAside)?;
        let (first, last) = run.readings().first().zip(run.readings().last()).ok_or(Refusal::NothingSwept)?;
        let (from_ms, to_ms) = (first.0, last.0);
        let finding = Finding::write(&run.examine());
        let (conductor, plan, step, marks) = (run.conductor, run.plan, run.step(), run.marks().to_vec());
        let signal = match finding.verdict {
            SweepVerdict::Steady => Signal::Taken,
            SweepVerdict::Jump | SweepVerdict::Dropout => Signal::Stop,
            _ => Signal::Unsteady,
        };
        let (batch, chunks) = self.evidence_since(from_ms, now);
        let sweep = self.ids.id(now);
        let fact = SweepFact { sweep, conductor, plan, from_ms, to_ms, step, marks, finding, chunks };
        self.aside = None;
        self.record_with(vec![Event::SweepTaken(fact)], batch, now, outputs);
        self.done_beside = Some(DoneBeside::Sweep(sweep));
        self.meters.announce(now.boot);
        outputs.push(Output::Signal(signal));
        Ok(())
    }

    /// The instrument of the job, connected and described, or read by eye.
    ///
    /// # Errors
    /// The [`Refusal`] that says what is missing.
    pub(super) fn instrument_at_hand(&self) -> Result<&Instrument, Refusal> {
        let job = self.job.as_ref().ok_or(Refusal::NoJob)?;
        let used = job.instrument.as_ref().ok_or(Refusal::MeterFirst)?;
        if used.source == Source::Typed {
            return Ok(used);
        }
        let connection = self.meters.connection.as_ref().ok_or(Refusal::MeterFirst)?;
        let described = connection.described.as_ref().ok_or(Refusal::MeterUnknown)?;
        if used == described { Ok(used) } else { Err(Refusal::OtherMeter) }
    }

    /// Closes the chunk being gathered; its hash and those before it are the evidence of `touch`.
    pub(super) fn evidence(&mut self, touch: &Touch, now: &Now) -> (Batch, Vec<Hash>) {
        if touch.kind.is_typed() { (Batch::default(), Vec::new()) } else { self.evidence_since(touch.from_ms, now) }
    }

    fn evidence_since(&mut self, from: Millis, now: &Now) -> (Batch, Vec<Hash>) {
        let generation = self.meters.connection.as_ref().map_or(0, |c| c.generation);
        let chunk = self.close_chunk(generation, now);
        let hashes = self.meters.connection.as_ref().map(|c| c.chunks_since(from)).unwrap_or_default();
        (Batch { chunks: chunk.into_iter().collect(), ..Batch::default() }, hashes)
    }
}

/// The step of a procedure asks for what is wished.
fn asks_for(kind: &StepKind, wish: &Command) -> bool {
    let same = |one: &usize, other: u32| u32::try_from(*one).is_ok_and(|one| one == other);
    match (kind, wish) {
        (StepKind::Zero(_), Command::ZeroLeads) => true,
        (kind, Command::CheckMeter { .. }) => kind.uses_ohms(),
        (StepKind::Sweep(sweeping), Command::PlanSweep { conductor, .. } | Command::Sweep { conductor, .. }) => {
            sweeping.wires.iter().any(|wire| same(wire, *conductor))
        }
        (StepKind::Isolation(isolation), Command::MeasureIsolation { a, other }) => {
            isolation.pairs.iter().any(|(one, two)| match (two, other) {
                (None, None) => same(one, *a),
                (Some(two), Some(b)) => (same(one, *a) && same(two, *b)) || (same(one, *b) && same(two, *a)),
                _ => false,
            })
        }
        _ => false,
    }
}
