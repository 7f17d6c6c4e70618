//! A stream of readings while the part is turned or flexed: does the resistance jump, does the contact drop out?
//!
//! [`examine`] reads from top to bottom like the work: clean the stream, find the level it runs along and how much
//! it wanders, mark what lies off it, name it.

pub mod cases;
mod events;
mod level;
pub(crate) mod lenient;
pub(crate) mod numbers;
pub mod plan;
#[cfg(test)]
mod tests;
mod trace;
pub mod written;

pub use trace::{EventKind, Gap, SweepCode, SweepEvent, SweepInput, SweepOutcome, SweepSample, SweepVerdict};

use level::Baseline;
use numbers::{at_most, below, median};
use std::collections::BTreeSet;

/// The jump looked for unless told otherwise, in ohms: ten times the wander of a sound contact.
pub const JUMP_OHM: f64 = 0.05;
/// The shortest stream that can be steady unless told otherwise, in seconds: two passes of the turn.
pub const MIN_S: f64 = 10.0;
/// Display steps a threshold has at least: one for flicker, one for rounding, one to spare.
pub const THRESHOLD_STEPS: f64 = 3.0;
/// Robust deviations of the stream itself a threshold has at least.
pub const THRESHOLD_NOISE: f64 = 4.0;
/// The fewest readings of a steady stream.
pub const MIN_SAMPLES: usize = 30;
/// The fewest readings a second of a steady stream: a slower one misses a fault of one second.
pub const MIN_RATE: f64 = 1.5;
/// A hole is longer than this, in seconds …
pub const GAP_S: f64 = 1.0;
/// … and longer than this many usual intervals.
pub const GAP_INTERVALS: f64 = 3.0;
/// That many single excursions are a fault.
pub const SPIKES: usize = 3;
/// Over-range at an end up to this long, in seconds, is a clip going on or off.
pub const TRIM_S: f64 = 2.0;
/// A threshold over this many times the wanted one hides what is sought.
pub const NOISY: f64 = 2.0;
/// Events within so many degrees are at one spot.
pub const SAME_ANGLE_DEG: f64 = 15.0;
/// Readings from here on are over-range: no ribbon is a kilo-ohm.
pub const OPEN_OHM: f64 = 1000.0;
/// A level that moves faster than this, in ohms a second, is reported as drift (0.1 ohm a minute).
pub const DRIFT_OHM_PER_S: f64 = 0.1 / 60.0;
/// A display as fine as this, in ohms, flickers while it lives …
pub const FINE_STEP_OHM: f64 = 0.001;
/// … within this many readings.
pub const LIVE_SAMPLES: usize = 60;

/// A cleaned reading: time, ohms (`None` = over-range), degrees.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Point {
    t: f64,
    ohms: Option<f64>,
    angle: Option<f64>,
}

/// Says what a stream shows. Never fails: a stream that proves nothing says so by its verdict.
///
/// Times in seconds, values in ohms. Takes samples in any quality; see [`SweepSample`] for what is left out.
pub fn examine(input: &SweepInput) -> SweepOutcome {
    let mut codes = BTreeSet::new();
    let points = readings_that_advance(&input.samples, &mut codes);
    let Some(points) = without_clip_handling(points.as_slice(), &mut codes) else {
        return nothing_finite(&points, codes);
    };
    let spacing = Spacing::of(points);
    let base = Baseline::of(points);
    let wanted = input.jump.max(THRESHOLD_STEPS * input.resolution);
    let threshold = wanted.max(THRESHOLD_NOISE * base.noise);
    if below(DRIFT_OHM_PER_S * 60.0, base.raw_slope.abs() * 60.0)
        && below(threshold, base.raw_slope.abs() * spacing.duration)
    {
        codes.insert(SweepCode::Drift);
    }
    let events = events::found(points, &base, threshold, &spacing);
    if events::two_at_one_place(&events) {
        codes.insert(SweepCode::SameAngle);
    }
    if at_most(input.resolution, FINE_STEP_OHM) && points.len() >= LIVE_SAMPLES && never_changed(points) {
        codes.insert(SweepCode::DisplayNeverMoved);
    }
    let verdict = name_it(&events, &spacing, input.min_s, below(NOISY * wanted, threshold));
    if verdict == SweepVerdict::Steady && !events.is_empty() {
        codes.insert(SweepCode::SpikeSeen);
    }
    SweepOutcome {
        verdict,
        codes,
        events,
        baseline: Some(base.level),
        slope: Some(base.slope),
        noise: Some(base.noise),
        threshold: Some(threshold),
        rate: spacing.rate(),
        gaps: spacing.gaps,
    }
}

/// Keeps what is a reading and later than the one before.
fn readings_that_advance(samples: &[SweepSample], codes: &mut BTreeSet<SweepCode>) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::with_capacity(samples.len());
    for sample in samples {
        let ohms = match sample.ohms {
            None => Some(None),
            Some(x) if x.is_nan() || x == f64::NEG_INFINITY => None,
            Some(x) if x >= OPEN_OHM => Some(None),
            Some(x) => Some(Some(x)),
        };
        let advances = sample.t.is_finite() && kept.last().is_none_or(|last| sample.t > last.t);
        match ohms {
            Some(ohms) if advances => {
                kept.push(Point { t: sample.t, ohms, angle: sample.angle.filter(|a| a.is_finite()) });
            }
            _ => {
                codes.insert(SweepCode::BadSamples);
            }
        }
    }
    kept
}

/// Cuts a short over-range at either end. `None` when nothing finite was read at all.
fn without_clip_handling<'a>(points: &'a [Point], codes: &mut BTreeSet<SweepCode>) -> Option<&'a [Point]> {
    let first = points.iter().position(|p| p.ohms.is_some())?;
    let last = points.iter().rposition(|p| p.ohms.is_some())?;
    let start = if at_most(points[first].t - points[0].t, TRIM_S) { first } else { 0 };
    let end = if at_most(points[points.len() - 1].t - points[last].t, TRIM_S) { last } else { points.len() - 1 };
    if start > 0 || end < points.len() - 1 {
        codes.insert(SweepCode::EndsTrimmed);
    }
    Some(&points[start..=end])
}

fn nothing_finite(points: &[Point], mut codes: BTreeSet<SweepCode>) -> SweepOutcome {
    let verdict = if points.len() >= MIN_SAMPLES {
        codes.insert(SweepCode::OpenThroughout);
        SweepVerdict::Dropout
    } else {
        SweepVerdict::TooFewSamples
    };
    let spacing = Spacing::of(points);
    SweepOutcome {
        verdict,
        codes,
        events: Vec::new(),
        baseline: None,
        slope: None,
        noise: None,
        threshold: None,
        rate: spacing.rate(),
        gaps: spacing.gaps,
    }
}

/// How the readings lie in time.
#[derive(Debug)]
pub(crate) struct Spacing {
    count: usize,
    duration: f64,
    usual: f64,
    gaps: Vec<Gap>,
}

impl Spacing {
    fn of(points: &[Point]) -> Spacing {
        let intervals: Vec<f64> = points.windows(2).map(|pair| pair[1].t - pair[0].t).collect();
        let usual = median(&intervals).unwrap_or(0.0);
        let gaps = points
            .iter()
            .zip(&intervals)
            .filter(|(_, length)| is_gap(**length, usual))
            .map(|(point, length)| Gap { start: point.t, length: *length })
            .collect();
        let duration = match points {
            [first, .., last] => last.t - first.t,
            _ => 0.0,
        };
        Spacing { count: points.len(), duration, usual, gaps }
    }

    fn rate(&self) -> Option<f64> {
        (self.duration > 0.0).then(|| (self.count - 1) as f64 / self.duration)
    }

    /// True when the stream has a hole between two times.
    fn gap_between(&self, from: f64, to: f64) -> bool {
        self.gaps.iter().any(|gap| gap.start >= from && gap.start < to)
    }
}

/// Two places, in degrees, are one spot.
pub(crate) fn at_one_place(a: f64, b: f64) -> bool {
    at_most((a - b).abs(), SAME_ANGLE_DEG)
}

/// An interval of `length` seconds is a hole where one of `usual` seconds is usual.
pub(crate) fn is_gap(length: f64, usual: f64) -> bool {
    below(GAP_S, length) && below(GAP_INTERVALS * usual, length)
}

fn never_changed(points: &[Point]) -> bool {
    points.windows(2).all(|pair| match (pair[0].ohms, pair[1].ohms) {
        (Some(a), Some(b)) => at_most(a, b) && at_most(b, a),
        _ => false,
    })
}

/// The first that applies: proven faults first, then what makes the stream prove nothing, then steady.
fn name_it(events: &[SweepEvent], spacing: &Spacing, min_s: f64, noisy: bool) -> SweepVerdict {
    let count = |kind| events.iter().filter(|event| event.kind == kind).count();
    if count(EventKind::Dropout) > 0 {
        SweepVerdict::Dropout
    } else if count(EventKind::Jump) > 0 || count(EventKind::Spike) >= SPIKES {
        SweepVerdict::Jump
    } else if !spacing.gaps.is_empty() {
        SweepVerdict::GapInStream
    } else if !at_most(min_s, spacing.duration) {
        SweepVerdict::TooShort
    } else if spacing.count < MIN_SAMPLES || !spacing.rate().is_some_and(|rate| at_most(MIN_RATE, rate)) {
        SweepVerdict::TooFewSamples
    } else if noisy {
        SweepVerdict::Noisy
    } else {
        SweepVerdict::Steady
    }
}
