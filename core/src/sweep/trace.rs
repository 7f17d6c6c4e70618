//! What goes into a sweep examination and what comes out of it.

use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// One reading of a stream, taken while the part is turned or flexed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SweepSample {
    /// Seconds since any fixed start; must grow from sample to sample. A sample that does not is dropped.
    pub t: f64,
    /// Ohms as shown, or `None` for over-range. 1000 ohm and more, and +∞, count as over-range;
    /// NaN and -∞ are not readings and are dropped.
    pub ohms: Option<f64>,
    /// Degrees from centre, clockwise positive, if known.
    pub angle: Option<f64>,
}

/// A stream of readings and what is asked of it.
#[derive(Clone, Debug, PartialEq)]
pub struct SweepInput {
    /// The meter's display step in ohms, above 0.
    pub resolution: f64,
    /// The stream in the order it came.
    pub samples: Vec<SweepSample>,
    /// The smallest jump looked for, in ohms; 0.05 unless told otherwise.
    pub jump: f64,
    /// The shortest stream that may be called steady, in seconds; 10 unless told otherwise.
    pub min_s: f64,
}

/// What a stream shows. A fault in a poor stream is still a fault; a poor stream without one is never steady.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum SweepVerdict {
    /// No jump larger than the threshold, and the stream is long, dense and quiet enough to say so.
    Steady,
    /// The resistance jumped while the part moved.
    Jump,
    /// The contact was lost while the part moved.
    Dropout,
    /// The stream has a hole in which a fault could hide.
    GapInStream,
    /// The stream is shorter than asked.
    TooShort,
    /// Too few readings, or too few a second, to see a fault of one second.
    TooFewSamples,
    /// The readings wander so much that the jump looked for would drown in it.
    Noisy,
}

impl SweepVerdict {
    /// True for a proven fault (a jump or a dropout). The poor streams are neither a fault nor steady.
    pub fn is_fault(self) -> bool {
        matches!(self, SweepVerdict::Jump | SweepVerdict::Dropout)
    }
}

/// What else is to be said about a stream.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "SCREAMING_SNAKE_CASE")]
pub enum SweepCode {
    /// Samples that were no readings, or did not advance in time, were left out.
    BadSamples,
    /// Over-range of at most two seconds at an end, while a clip went on or off, was cut away.
    EndsTrimmed,
    /// Over-range from the first reading to the last.
    OpenThroughout,
    /// The level moved faster than warming leads explain: let it warm, sweep again.
    Drift,
    /// Two events at the same place of the turn.
    SameAngle,
    /// A fine display that never changed a digit: is it live?
    DisplayNeverMoved,
    /// A single small excursion, too little to condemn.
    SpikeSeen,
}

/// The sort of an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum EventKind {
    /// At least one reading was over-range.
    Dropout,
    /// Two readings or more off the baseline, or one by more than twice the threshold.
    Jump,
    /// One reading off the baseline by no more than twice the threshold.
    Spike,
}

/// A stretch of the stream that lies off its baseline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SweepEvent {
    /// What it is.
    pub kind: EventKind,
    /// Time of the first reading off the baseline, in seconds of the input.
    pub start: f64,
    /// Seconds from the first to the last such reading, plus one usual interval.
    pub duration: f64,
    /// How many readings lie off the baseline.
    pub samples: usize,
    /// The reading furthest from the baseline, minus the baseline, in ohms. `None` for a dropout.
    pub peak: Option<f64>,
    /// Degrees at the peak, or at the first over-range reading of a dropout.
    pub angle: Option<f64>,
}

/// A hole in the stream.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Time of the last reading before the hole, in seconds of the input.
    pub start: f64,
    /// Seconds without a reading.
    pub length: f64,
}

/// Everything a sweep shows.
#[derive(Clone, Debug, PartialEq)]
pub struct SweepOutcome {
    /// The finding.
    pub verdict: SweepVerdict,
    /// What else is to be said.
    pub codes: BTreeSet<SweepCode>,
    /// What lies off the baseline, in time order.
    pub events: Vec<SweepEvent>,
    /// Level at the first reading, in ohms. `None` when nothing finite was read.
    pub baseline: Option<f64>,
    /// Drift taken off, ohms a second, at most 0.05 ohm a minute either way.
    pub slope: Option<f64>,
    /// Robust standard deviation of the readings about the baseline, in ohms.
    pub noise: Option<f64>,
    /// The smallest jump this stream can show, in ohms.
    pub threshold: Option<f64>,
    /// Holes in the stream.
    pub gaps: Vec<Gap>,
    /// Readings a second, over the whole stream. `None` with fewer than two readings.
    pub rate: Option<f64>,
}
