//! The pictures: places on an axis are thousandths of its length, from the left or from the bottom.

use crate::sweep::{EventKind, SweepVerdict};
use serde::{Deserialize, Serialize};

/// Conductors of one group as rungs on a shared axis.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Ladder {
    /// The group, empty if none is declared.
    pub group: String,
    /// The axis is logarithmic, because a conductor is far off.
    pub logarithmic: bool,
    /// Labels along the axis.
    pub ticks: Vec<Tick>,
    /// The band in which conductors count as alike; `None` while there is no reference.
    pub band: Option<Band>,
    /// One rung per conductor, in the order of the part.
    pub rungs: Vec<Rung>,
    /// What the picture shows, in a sentence.
    pub sentence: String,
}

/// A label on the axis.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Tick {
    /// Thousandths of the axis.
    pub at: u32,
    /// The number there.
    pub label: String,
}

/// The reference band.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Band {
    /// Left edge, thousandths.
    pub from: u32,
    /// Right edge, thousandths.
    pub to: u32,
    /// The reference itself, thousandths.
    pub reference: u32,
    /// In words: "0.30 Ω, up to 0.50 Ω".
    pub words: String,
}

/// Shape of a mark; the shape says it before any colour does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Mark {
    /// Filled round: consistent.
    Consistent,
    /// Triangle up: high.
    High,
    /// Triangle down: low.
    Low,
    /// Cross: open.
    Open,
    /// Wave: unstable.
    Unstable,
    /// Open round with question mark: undecided.
    Undecided,
    /// Nothing measured yet.
    NotMeasured,
}

/// One conductor on the ladder.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Rung {
    /// Index in the part.
    pub conductor: u32,
    /// Its name.
    pub name: String,
    /// Shape of its mark.
    pub mark: Mark,
    /// The verdict in one word, in the language.
    pub word: String,
    /// Where its value stands, thousandths; `None` without a number (open stands at the right edge by itself).
    pub at: Option<u32>,
    /// Uncertainty bar, thousandths.
    pub bar: Option<(u32, u32)>,
    /// Its touches, thousandths.
    pub touches: Vec<u32>,
    /// Its value as text with unit, or "open".
    pub value: String,
    /// Difference to the reference with uncertainty, as text: "+11.67 ± 0.15 Ω"; empty if none.
    pub difference: String,
    /// Where the conductor of the same name of the old part stands, thousandths.
    pub old_at: Option<u32>,
    /// What that one read, as text with unit; empty without an old part.
    pub old_value: String,
    /// Its high limit, thousandths.
    pub limit_at: Option<u32>,
    /// Its limit in words with its source: "at most 1.00 Ω (shop's own)"; empty if none.
    pub limit_words: String,
}

/// A sweep as a trace over time, with what stands out of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct TraceView {
    /// Name of the conductor.
    pub name: String,
    /// The ohm axis is logarithmic, because something is far off.
    pub logarithmic: bool,
    /// Labels along the ohm axis.
    pub ohm_ticks: Vec<Tick>,
    /// Labels along the time axis, seconds from the first reading.
    pub time_ticks: Vec<Tick>,
    /// The marks on the time axis: "+1 turn".
    pub marks: Vec<Tick>,
    /// What counts as steady: lowest and highest place on the ohm axis.
    pub band: Option<(u32, u32)>,
    /// The trace: lines of (time, ohm), interrupted where nothing was read or over-range was shown.
    pub lines: Vec<Vec<(u32, u32)>>,
    /// Stretches of over-range: from, to on the time axis.
    pub outs: Vec<(u32, u32)>,
    /// What stands out, in time order.
    pub events: Vec<TraceEvent>,
    /// What the signs of places mean: "+ is clockwise"; empty where there are none.
    pub way_words: String,
    /// Labels along the way of the part; empty without marks.
    pub way_ticks: Vec<Tick>,
    /// Where on the way the events lie.
    pub places: Vec<TracePlace>,
    /// The events as a table.
    pub rows: Vec<TraceRow>,
    /// The finding; none while it runs.
    pub verdict: Option<SweepVerdict>,
    /// What the trace shows, in a sentence.
    pub sentence: String,
    /// What else is to be said: what it can show at all, drift, ends cut off.
    pub notes: Vec<String>,
}

/// An event on the time axis.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct TraceEvent {
    /// Counted from 1; the same in `places` and `rows`.
    pub number: u32,
    /// What it is; the shape of its sign.
    pub kind: EventKind,
    /// Begin on the time axis.
    pub from: u32,
    /// End on the time axis.
    pub to: u32,
    /// Its highest place on the ohm axis; none for a drop-out.
    pub top: Option<u32>,
}

/// An event on the way of the part.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct TracePlace {
    /// As in `events`.
    pub number: u32,
    /// What it is.
    pub kind: EventKind,
    /// Where it lies.
    pub at: u32,
    /// Where it could begin, since a hand does not turn evenly.
    pub from: u32,
    /// Where it could end.
    pub to: u32,
    /// In words: "+1.3 ± 0.3 turns".
    pub words: String,
    /// Another event of this conductor lies at the same place.
    pub repeats: bool,
}

/// An event in the table.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct TraceRow {
    /// As in `events`.
    pub number: u32,
    /// "Jump", "Drop-out", "Single reading".
    pub what: String,
    /// "4.2 s".
    pub start: String,
    /// "0.6 s".
    pub length: String,
    /// "+0.35 Ω", "open".
    pub height: String,
    /// "+1.3 ± 0.3 turns, seen twice"; empty without marks.
    pub place: String,
}
