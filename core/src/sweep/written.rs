//! What a sweep showed, as it is written down: every figure as decimal text.

use super::{EventKind, Gap, SweepCode, SweepEvent, SweepOutcome, SweepVerdict};
use crate::unit::Figure;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Version of the rules that [`super::examine`] applies.
pub const RULES_VERSION: u16 = 1;

/// Events and holes that are written down at most; a stream with more is as bad as one with these.
pub const MOST_EVENTS: usize = 64;

/// The outcome of a sweep in the record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// Version of the rules it was found by.
    pub rules: u16,
    /// The finding.
    pub verdict: SweepVerdict,
    /// What else is to be said.
    pub codes: BTreeSet<SweepCode>,
    /// What lies off the baseline, in time order, at most the first [`MOST_EVENTS`].
    pub events: Vec<FoundEvent>,
    /// How many there were.
    pub events_in_all: u32,
    /// Level at the first reading, ohm.
    pub baseline: Option<Figure>,
    /// Drift taken off, ohm a second.
    pub slope: Option<Figure>,
    /// Robust standard deviation about the baseline, ohm.
    pub noise: Option<Figure>,
    /// The smallest jump this stream can show, ohm.
    pub threshold: Option<Figure>,
    /// Holes: (start, length), seconds from the first reading, at most the first [`MOST_EVENTS`].
    pub gaps: Vec<(Figure, Figure)>,
    /// Readings a second.
    pub rate: Option<Figure>,
}

/// One event of a [`Finding`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FoundEvent {
    /// What it is.
    pub kind: EventKind,
    /// Seconds from the first reading of the sweep.
    pub start: Figure,
    /// Seconds.
    pub duration: Figure,
    /// Readings off the baseline.
    pub samples: u32,
    /// Furthest from the baseline, ohm; none for a drop-out.
    pub peak: Option<Figure>,
    /// Degrees from centre, clockwise positive; none without marks.
    pub angle: Option<Figure>,
}

impl Finding {
    /// The finding of an outcome.
    pub fn write(outcome: &SweepOutcome) -> Finding {
        let figure = |value: Option<f64>| value.map(Figure::write);
        let event = |e: &SweepEvent| FoundEvent {
            kind: e.kind,
            start: Figure::write(e.start),
            duration: Figure::write(e.duration),
            samples: u32::try_from(e.samples).unwrap_or(u32::MAX),
            peak: figure(e.peak),
            angle: figure(e.angle),
        };
        let gap = |g: &Gap| (Figure::write(g.start), Figure::write(g.length));
        Finding {
            rules: RULES_VERSION,
            verdict: outcome.verdict,
            codes: outcome.codes.clone(),
            events: outcome.events.iter().take(MOST_EVENTS).map(event).collect(),
            events_in_all: u32::try_from(outcome.events.len()).unwrap_or(u32::MAX),
            baseline: figure(outcome.baseline),
            slope: figure(outcome.slope),
            noise: figure(outcome.noise),
            threshold: figure(outcome.threshold),
            gaps: outcome.gaps.iter().take(MOST_EVENTS).map(gap).collect(),
            rate: figure(outcome.rate),
        }
    }
}
