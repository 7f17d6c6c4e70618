//! What supports the readings, and what is done beside the conductors.

use super::{CautionView, TraceView};
use crate::record::BarState;
use crate::sweep::plan::SweepPlan;
use serde::{Deserialize, Serialize};

/// What the clips are doing.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct ContactView {
    /// `lift`, `clip`, `settling`, `unsteady`, `will-not-stand`, `taken`, `over-range`, `off`.
    pub state: String,
    /// In words.
    pub words: String,
    /// Progress of settling in thousandths.
    pub settling: u32,
    /// The key that takes an unsteady contact as it is would be obeyed now.
    pub can_take_as_it_is: bool,
    /// The key that takes over-range as open would be obeyed now.
    pub can_take_over_range: bool,
    /// Words on the key that takes over-range, here or typed; they differ once the conductor was taken as open before.
    /// Empty where over-range is never meant.
    pub over_range_key: String,
    /// What over-range can mean now, or why it cannot be taken, in words; empty while nothing is to be said.
    pub over_range_words: String,
}

/// What is done beside the conductors.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum AsideKind {
    /// The leads are read.
    Zero,
    /// A known resistor is read.
    Resistor,
    /// Isolation is read.
    Isolation,
    /// A conductor is watched while the part is moved.
    Sweep,
}

/// What is being done beside the conductors. Its reading is taken by itself like a touch; then the conductors come
/// back by themselves.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct AsideView {
    /// What.
    pub kind: AsideKind,
    /// Its title: "Zero the leads".
    pub title: String,
    /// What to do now, in words.
    pub instruction: String,
    /// What follows from it, or what to know before; may be empty.
    pub hint: String,
    /// Words of the key that leaves it.
    pub back: String,
    /// Cautions to read first; nothing is taken before.
    pub cautions: Vec<CautionView>,
    /// What the clips are doing.
    pub contact: ContactView,
    /// The meter has no radio: the reading is typed.
    pub typed: bool,
    /// The sweep, if it is one.
    pub sweep: Option<SweepRunView>,
}

/// A sweep that is going on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct SweepRunView {
    /// Index of the conductor in the part.
    pub conductor: u32,
    /// How the part is moved; it may be changed while it is in state `plan`.
    pub plan: SweepPlan,
    /// The plan in words: where it goes, what the sign means, where to stop.
    pub plan_words: Vec<String>,
    /// Words on the key that confirms the plan; empty once it is confirmed.
    pub plan_key: String,
    /// Words on the key that leads back to the plan; only before anything was read.
    pub change_key: String,
    /// `plan` while it is being planned, `waits` for the first value, `runs`, or `moved`: every mark is passed.
    pub state: String,
    /// Which way to turn now: `clockwise`, `anticlockwise`, or empty.
    pub direction: String,
    /// What to do with the part now: "At the next tone: +1 turn."
    pub words: String,
    /// Where the part is to be next: "+1 turn"; empty after the last mark.
    pub next_mark: String,
    /// Words on the key that says the part is there; empty while a tone sets the marks or none is left.
    pub mark_key: String,
    /// Thousandths of the time to the next tone that are over; 0 without pace.
    pub to_tone: u32,
    /// Marks passed.
    pub marks_passed: u32,
    /// Marks in all.
    pub marks: u32,
    /// Words on the key that ends it; empty while nothing was read.
    pub end_key: String,
    /// Ending it is what is to be done now; otherwise that key is a quiet one.
    pub ends_by_key: bool,
    /// The trace so far.
    pub trace: TraceView,
}

/// One line of proof: a state to be drawn by shape and word, and a sentence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct ProofLine {
    /// `none` (not done), `good`, `bad`, `open` (cannot tell, or to be done again).
    pub state: String,
    /// In words.
    pub words: String,
}

/// The shorting bar of a pair.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct BarRow {
    /// As stated; of a pair nobody spoke of yet, everything unknown.
    pub bar: BarState,
    /// "4 – 5".
    pub pair: String,
    /// Its state.
    pub line: ProofLine,
    /// A reading looks like a bar that nobody spoke of: "0.03 Ω across this pair: a bar?"
    pub hint: String,
}

/// Isolation of one pair.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct IsolationRow {
    /// The conductor.
    pub a: u32,
    /// The other one; none: metal.
    pub other: Option<u32>,
    /// "4 to 5", "4 to metal".
    pub pair: String,
    /// What was read: "> 20 MΩ (as entered for the meter)"; empty before.
    pub value: String,
    /// What it means.
    pub line: ProofLine,
    /// Names the reading, to take it back.
    pub reading: Option<String>,
}

/// The sweeps of one conductor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct SweepRow {
    /// Index in the part.
    pub conductor: u32,
    /// Its name.
    pub name: String,
    /// What all its sweeps say together.
    pub line: ProofLine,
    /// Each sweep, oldest first.
    pub sweeps: Vec<SweepLine>,
}

/// One sweep in the list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct SweepLine {
    /// Names it, to see its trace or take it back.
    pub sweep: String,
    /// What it showed, in words.
    pub words: String,
    /// It was taken back; shown struck through.
    pub withdrawn: bool,
}

/// The old part a candidate is compared with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OldPartView {
    /// Which: order and part.
    pub name: String,
    /// What is compared with what: "Level 0.34 Ω at 21 °C, read with bench meter 2 on 2026-03-01."
    pub words: String,
    /// "Alike within 0.12 Ω" or why that cannot be said; empty before the first verdict.
    pub alike: String,
}

/// What supports the readings.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct ProvingView {
    /// The zero of the leads.
    pub zero: ProofLine,
    /// The meter on a known resistor.
    pub check: ProofLine,
    /// Calibration is past its day, in calm words.
    pub calibration: Option<String>,
    /// Cautions to read before a bar is opened.
    pub bar_cautions: Vec<CautionView>,
    /// Every pair the part names as bridged, and every other one that was spoken of or looks like it.
    pub bars: Vec<BarRow>,
    /// Neighbours and metal.
    pub isolation: Vec<IsolationRow>,
    /// Every conductor that is measured.
    pub sweeps: Vec<SweepRow>,
    /// The plan of the newest sweep, to begin the next one with.
    pub plan: SweepPlan,
    /// A sweep can be started now: a meter with radio is in use.
    pub can_sweep: bool,
    /// The part it is compared with.
    pub old: Option<OldPartView>,
    /// "Conductor 4: newest sweep showed …", said once after an aside was taken; empty otherwise.
    pub last: String,
}
