//! What a step is, and what each kind holds. Figures are [`Amount`]s as they were published; `source` names one of the
//! head's sources, `None` means the shop's own.

use super::amount::Amount;
use super::fact::Fact;
use super::texts::Texts;
use crate::sweep::plan::{Movement, SweepPlan};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// What a step is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StepKind {
    /// Something is done and ticked.
    Do,
    /// Something is looked at and ticked.
    Check,
    /// The wait for the restraint unit.
    Wait(Wait),
    /// The supply is proven dead.
    ProveDead(ProveDead),
    /// Codes are read.
    Codes(Codes),
    /// The leads are zeroed.
    Zero(Zero),
    /// Conductors are measured end to end.
    Measure(Measuring),
    /// Conductors are measured while the part moves.
    Sweep(Sweeping),
    /// Conductors are measured against each other and the body.
    Isolation(Isolation),
    /// A group is judged.
    Compare(Compare),
    /// The coil's centre is found by counting.
    Centre(Centre),
    /// A bolt is tightened.
    Torque(Torque),
    /// A value is read from the vehicle.
    LiveValue(LiveValue),
    /// A photo is taken.
    Photo {
        /// What must be seen.
        shows: Texts,
    },
    /// Somebody signs.
    Sign(Sign),
    /// Something is written down.
    Note,
    /// A part is chosen and named.
    Part(NewPart),
}

/// The wait for the restraint unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wait {
    /// How long, 120 s to 3 h.
    pub at_least: Amount,
    /// Where the time is printed.
    pub source: Option<String>,
    /// What the time counts from.
    pub starts: Fact,
    /// The wait starts again when one of these ends; cable off is always among them.
    pub restarts: BTreeSet<Fact>,
}

/// The supply is proven dead: known source, points, known source again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProveDead {
    /// Where to measure; at least one. Never a plug of a restraint system.
    pub points: Vec<ProvedPoint>,
    /// Dead below this, at most half a volt.
    pub limit: Amount,
    /// Where the limit is printed.
    pub source: Option<String>,
    /// The live source the meter is tried on before.
    pub known_before: Texts,
    /// The live source it is tried on after.
    pub known_after: Texts,
}

/// A point where the supply is proven dead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProvedPoint {
    /// Its name.
    pub name: Texts,
    /// The plug it is in, if it is in one of the circuits.
    pub plug: Option<u8>,
}

/// When codes are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum CodesWhen {
    /// Before anything else.
    Before,
    /// In between, to see what a substitute load changes.
    During,
    /// At the end.
    After,
}

/// Codes are read: a list with failure type bytes, or free text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Codes {
    /// When.
    pub when: CodesWhen,
    /// They are erased in this step, too.
    pub erases: bool,
}

/// The leads are zeroed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Zero {
    /// Leads and clips, shorted as they will be used.
    pub leads: Texts,
    /// Most they may have moved when they are zeroed again.
    pub drift: Amount,
    /// Or so many display steps, whichever is larger.
    pub drift_steps: u8,
    /// Where the drift limit is printed.
    pub source: Option<String>,
    /// The same leads are zeroed again in a later step.
    pub repeat_at_end: bool,
    /// The earlier step this one repeats.
    pub again: Option<String>,
}

/// What a reading may be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    /// Lowest allowed.
    pub low: Option<Amount>,
    /// Highest allowed, above the lowest.
    pub high: Option<Amount>,
    /// Where it is printed.
    pub source: Option<String>,
}

/// Conductors are measured end to end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Measuring {
    /// Which, indices; at least one.
    pub wires: BTreeSet<usize>,
    /// Touches wanted of each, 1 to 4.
    pub touches: u8,
    /// What they may read.
    pub limit: Option<Limit>,
    /// Leads of the meter, 2 or 4.
    pub leads: u8,
}

/// Conductors are measured while the part moves.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sweeping {
    /// Which, indices; at least one.
    pub wires: BTreeSet<usize>,
    /// How the part is moved.
    pub plan: SweepPlan,
    /// Places to dwell at, besides.
    pub marks: Vec<Texts>,
    /// A jump of this is a fault.
    pub jump: Amount,
    /// Or of so many display steps, whichever is larger.
    pub jump_steps: u8,
    /// Shortest trace.
    pub at_least: Amount,
    /// Where the jump limit is printed.
    pub source: Option<String>,
}

/// Conductors are measured against each other and the body.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Isolation {
    /// Pairs of conductors, indices; the second one `None` is the body. At least one.
    pub pairs: BTreeSet<(usize, Option<usize>)>,
    /// Sound above this.
    pub above: Amount,
    /// Bars have to be open for it.
    pub bars_open: bool,
    /// Where the limit is printed.
    pub source: Option<String>,
}

/// A group is judged by the conductor-consistency test.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Compare {
    /// The group.
    pub group: String,
    /// Compared with a part known to be good, too.
    pub known_good: bool,
}

/// The coil's centre is found by counting.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Centre {
    /// Turns from end to end.
    pub total: Amount,
    /// Turns back from the end: half of them.
    pub back: Amount,
    /// Turns that must be free on each side.
    pub free_each_side: Amount,
    /// Where the plug stands then.
    pub plug_angle: Option<Amount>,
    /// Where the figures are printed.
    pub source: Option<String>,
}

/// A bolt is tightened. The wrench that did it is always asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Torque {
    /// As it was published.
    pub value: Amount,
    /// The same in another unit, as it was published beside it; never computed.
    pub also: Option<Amount>,
    /// Lowest and highest allowed, as published.
    pub range: Option<(Amount, Amount)>,
    /// Turned on by this angle afterwards.
    pub angle: Option<Amount>,
    /// A new fastener is needed.
    pub new_fastener: bool,
    /// Length of the wrench and of the adapter on it, together or not at all.
    pub lengths: Option<(Amount, Amount)>,
    /// Where the value is printed.
    pub source: Option<String>,
}

/// A value is read from the vehicle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LiveValue {
    /// What it is called.
    pub name: Texts,
    /// What it should be and by how much it may differ.
    pub target: Option<(Amount, Amount)>,
    /// By how much it may wander.
    pub steady_within: Option<Amount>,
    /// The vehicle stores the present position as zero.
    pub stores_zero: bool,
    /// Where the figures are printed.
    pub source: Option<String>,
}

/// Somebody signs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sign {
    /// As what.
    pub role: Texts,
    /// The job ends with it.
    pub closes: bool,
}

/// Where a part comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// New.
    New,
    /// Used.
    Used,
    /// Rebuilt.
    Rebuilt,
}

/// A part is chosen and named: number, origin, where it comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewPart {
    /// What it is.
    pub name: Texts,
    /// What it may be; at least one.
    pub may_be: BTreeSet<Origin>,
}

impl StepKind {
    /// The word for it in a file.
    pub fn word(&self) -> &'static str {
        match self {
            StepKind::Do => "do",
            StepKind::Check => "check",
            StepKind::Wait(_) => "wait",
            StepKind::ProveDead(_) => "prove-dead",
            StepKind::Codes(_) => "codes",
            StepKind::Zero(_) => "zero",
            StepKind::Measure(_) => "measure",
            StepKind::Sweep(_) => "sweep",
            StepKind::Isolation(_) => "isolation",
            StepKind::Compare(_) => "compare",
            StepKind::Centre(_) => "centre",
            StepKind::Torque(_) => "torque",
            StepKind::LiveValue(_) => "live-value",
            StepKind::Photo { .. } => "photo",
            StepKind::Sign(_) => "sign",
            StepKind::Note => "note",
            StepKind::Part(_) => "part",
        }
    }

    /// The conductors the clips go to, indices.
    pub fn wires(&self) -> BTreeSet<usize> {
        match self {
            StepKind::Measure(measuring) => measuring.wires.clone(),
            StepKind::Sweep(sweeping) => sweeping.wires.clone(),
            StepKind::Isolation(isolation) => {
                isolation.pairs.iter().flat_map(|(one, other)| std::iter::once(*one).chain(*other)).collect()
            }
            _ => BTreeSet::new(),
        }
    }

    /// An ohmmeter is used.
    pub fn uses_ohms(&self) -> bool {
        matches!(self, StepKind::Zero(_) | StepKind::Measure(_) | StepKind::Sweep(_) | StepKind::Isolation(_))
    }

    /// The vehicle has to be awake for it.
    pub fn needs_supply(&self) -> bool {
        matches!(self, StepKind::Codes(_) | StepKind::LiveValue(_))
    }

    /// A coil is turned in it.
    pub fn turns_the_coil(&self) -> bool {
        let turning = |sweeping: &Sweeping| matches!(sweeping.plan.movement, Movement::Turns { .. });
        matches!(self, StepKind::Centre(_)) || matches!(self, StepKind::Sweep(sweeping) if turning(sweeping))
    }

    /// It ends the job.
    pub fn closes(&self) -> bool {
        matches!(self, StepKind::Sign(sign) if sign.closes)
    }
}
