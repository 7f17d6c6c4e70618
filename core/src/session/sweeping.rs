//! A sweep that is going on: readings and marks as they come.

use crate::meter::{Reading, Shown};
use crate::record::Sample;
use crate::sweep::plan::{PlacedMark, SweepPlan, degrees, place_at};
use crate::sweep::{JUMP_OHM, MIN_S, SweepInput, SweepOutcome, SweepSample, examine};
use crate::unit::{Millis, Quantity, Unit};

/// A sweep ends by itself after so many readings …
pub const MOST_READINGS: usize = 60_000;
/// … or so many milliseconds.
pub const LONGEST_MS: u64 = 600_000;
/// After the last mark of a paced sweep the part stands still for so long, then it ends by itself.
const REST_MS: u64 = 1_000;
/// While it runs it is looked at so often.
const LOOK_MS: u64 = 500;

/// The readings and marks of a sweep.
#[derive(Clone, Debug)]
pub struct Run {
    /// Index of the conductor.
    pub conductor: u32,
    /// How the part is moved.
    pub plan: SweepPlan,
    /// The plan is still being chosen: no clip is asked for.
    pub(super) planning: bool,
    readings: Vec<(Millis, Shown)>,
    marks: Vec<PlacedMark>,
    step: Quantity,
    /// What a procedure calls a jump, ohm; it counts where it is finer than the rule.
    jump: Option<Quantity>,
    looked: Option<(Millis, SweepOutcome)>,
    mode: Option<(u32, bool)>,
}

/// What a reading did to a sweep.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kept {
    /// It waits for the first value, or took the reading in.
    Goes,
    /// It cannot go on: other connection, other unit, hold, low battery, zero switched.
    Broken,
    /// It has as much as it can hold.
    Full,
}

impl Run {
    /// A sweep that waits for its first value; `step` is that of the instrument.
    pub(super) fn new((conductor, plan): (u32, SweepPlan), step: Quantity, jump: Option<Quantity>) -> Run {
        let (readings, marks) = (Vec::new(), Vec::new());
        Run { conductor, plan, planning: false, readings, marks, step, jump, looked: None, mode: None }
    }

    /// The same before its plan is confirmed.
    pub(super) fn with_plan_open(self) -> Run {
        Run { planning: true, ..self }
    }

    /// The plan is still being chosen.
    pub fn is_planning(&self) -> bool {
        self.planning
    }

    /// Takes the next reading in.
    pub(super) fn hear(&mut self, reading: &Reading) -> Kept {
        let mode = (reading.generation, reading.flags.relative);
        let other = matches!(reading.shown, Shown::Value(v) if v.unit() != Unit::Ohm);
        let unfit = other || reading.flags.hold || reading.flags.low_battery;
        if self.readings.is_empty() {
            // Clips in the air: the trace begins with the first value.
            if unfit || !matches!(reading.shown, Shown::Value(_)) {
                return Kept::Goes;
            }
            self.mode = Some(mode);
            self.marks.push(PlacedMark { at_ms: reading.at, milli: self.plan.marks()[0] });
        } else if unfit || self.mode != Some(mode) {
            return Kept::Broken;
        }
        if reading.shown == Shown::Blank {
            return Kept::Goes;
        }
        if let Some(step) = reading.step.filter(|s| s.compare(self.step).is_some_and(|o| o.is_gt())) {
            self.step = step;
        }
        self.readings.push((reading.at, reading.shown));
        let (first, last) = (self.readings[0].0, reading.at);
        if self.looked.as_ref().is_none_or(|(at, _)| last.since(*at).0 >= LOOK_MS) {
            self.looked = Some((last, self.examine()));
        }
        let full = self.readings.len() >= MOST_READINGS || last.since(first).0 >= LONGEST_MS;
        if full { Kept::Full } else { Kept::Goes }
    }

    /// The part is at the next mark.
    pub(super) fn mark(&mut self, at: Millis) -> bool {
        let Some(milli) = self.next_place().filter(|_| !self.readings.is_empty()) else { return false };
        let later = self.marks.last().is_none_or(|last| at > last.at_ms);
        if later {
            self.marks.push(PlacedMark { at_ms: at, milli });
        }
        later
    }

    /// Where the part is to be at the next mark, thousandths.
    pub fn next_place(&self) -> Option<i32> {
        self.plan.marks().get(self.marks.len()).copied()
    }

    /// Where it is to be moved now, and by when: the way the practice hands go.
    pub fn way(&self) -> Option<(i32, Option<Millis>)> {
        (!self.readings.is_empty()).then(|| self.next_place().map(|place| (place, self.next_tone())))?
    }

    /// When the next tone is due.
    pub fn next_tone(&self) -> Option<Millis> {
        let last = self.marks.last()?;
        (self.plan.pace_s > 0).then_some(Millis(last.at_ms.0 + u64::from(self.plan.pace_s) * 1_000))
    }

    /// When the next mark is set by itself, or the sweep ends by itself.
    pub fn due_at(&self) -> Option<Millis> {
        if self.plan.pace_s == 0 {
            return None;
        }
        match self.next_place() {
            Some(_) => self.next_tone(),
            None => self.marks.last().map(|last| Millis(last.at_ms.0 + REST_MS)),
        }
    }

    /// Readings so far.
    pub fn readings(&self) -> &[(Millis, Shown)] {
        &self.readings
    }

    /// Marks so far.
    pub fn marks(&self) -> &[PlacedMark] {
        &self.marks
    }

    /// Marks in all.
    pub fn mark_count(&self) -> usize {
        self.plan.marks().len()
    }

    /// Coarsest step so far.
    pub fn step(&self) -> Quantity {
        self.step
    }

    /// What it shows as of the newest look, at most half a second old.
    pub fn looked(&self) -> Option<&SweepOutcome> {
        self.looked.as_ref().map(|(_, outcome)| outcome)
    }

    /// What it shows now.
    pub fn examine(&self) -> SweepOutcome {
        examine(&input(&self.readings, &self.marks, self.step, self.jump))
    }
}

/// Readings with marks as the sweep rules take them: seconds from the first reading.
pub(crate) fn input(
    readings: &[(Millis, Shown)],
    marks: &[PlacedMark],
    step: Quantity,
    jump: Option<Quantity>,
) -> SweepInput {
    let first = readings.first().map_or(Millis(0), |(at, _)| *at);
    let mut samples: Vec<SweepSample> = Vec::with_capacity(readings.len());
    let mut before = None;
    let mut same = 0u32;
    for (at, shown) in readings {
        // Several readings of one notification bear one time; they follow each other by a microsecond.
        same = if before == Some(*at) { same + 1 } else { 0 };
        before = Some(*at);
        let ohms = match shown {
            Shown::Value(value) => Some(value.to_f64()),
            Shown::OverRange => None,
            Shown::Blank => continue,
        };
        let t = at.since(first).0 as f64 / 1_000.0 + f64::from(same) * 1e-6;
        let angle = place_at(marks, *at).map(|(milli, _)| degrees(milli));
        samples.push(SweepSample { t, ohms, angle });
    }
    let jump = jump.map_or(JUMP_OHM, |jump| jump.to_f64().min(JUMP_OHM));
    SweepInput { resolution: step.to_f64(), samples, jump, min_s: MIN_S }
}

/// The readings of stored samples between two times, as [`Run::readings`] had them.
pub(crate) fn readings_of(samples: &[Sample], (from, to): (Millis, Millis)) -> Vec<(Millis, Shown)> {
    let within = samples.iter().filter(|s| (from..=to).contains(&s.at));
    let all = within.flat_map(|s| s.shown.iter().map(move |shown| (s.at, *shown)));
    all.filter(|(_, shown)| *shown != Shown::Blank).collect()
}
