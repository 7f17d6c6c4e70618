//! What comes out of a verdict.

use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The verdict on a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// The part as a whole.
    pub set: SetVerdict,
    /// Every code that stands anywhere, and HIGH, LOW, OPEN if a conductor is.
    pub reasons: BTreeSet<Code>,
    /// What to do next.
    pub action: NextAction,
    /// One finding for each conductor, in the order given.
    pub conductors: Vec<ConductorVerdict>,
    /// One finding for each group by name; the undeclared group is `""`.
    pub groups: BTreeMap<String, GroupVerdict>,
    /// Every conductor (at least one) was swept and its sweep was steady. Without it a pass is a pass at rest only.
    pub swept_steady: bool,
    /// Standard uncertainty in ohms of one touch, as used here.
    pub touch_u: f64,
}

/// The part as a whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum SetVerdict {
    /// Every conductor is consistent, and nothing stands against it. At rest, unless swept steady.
    Pass,
    /// At least one conductor is bad.
    Fail,
    /// Neither is proven; the next action says what would settle it.
    Undecided,
}

/// One conductor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum ConductorState {
    /// Within tolerance of its reference, or conforming to its limit.
    Consistent,
    /// Above, and outside tolerance even after taking off what meter, clips and rounding can do.
    High,
    /// Below, likewise.
    Low,
    /// Over-range with the clips on, in every touch.
    Open,
    /// It does not read the same twice, or its sweep shows a fault.
    Unstable,
    /// Not proven; its codes say why.
    Undecided,
}

/// What a conductor was judged by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// The level of its group.
    Group,
    /// The level of a part known to be good.
    KnownGood,
    /// A limit, its own or the part's ceiling.
    Limit,
}

/// How a group's reference was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum GroupKind {
    /// At least two conductors agree on it.
    Cluster,
    /// No two agree; the lowest stands for it.
    Lone,
    /// Two levels, and a bar or a width may explain it.
    Ambiguous,
    /// It comes from a part known to be good.
    KnownGood,
    /// Nothing to go by.
    None,
}

/// What is known about the height of a group's level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// By a limit or a part known to be good.
    Verified,
    /// They agree with each other, no more.
    Unverified,
    /// Higher than any ribbon should read.
    Implausible,
}

/// How a limit was met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum LimitResult {
    /// Inside by more than the expanded uncertainty.
    Conform,
    /// Outside by more than it.
    NotConform,
    /// Too close to say.
    Undecided,
}

/// Why. The product's own words; see [`super::words`] for sentences.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "SCREAMING_SNAKE_CASE")]
// In alphabetical order, so that a set of them comes out sorted by its words (a test holds us to it).
pub enum Code {
    /// Too close to the tolerance for any number of touches.
    AtTheLimit,
    /// Low as a pair reads whose shorting bar is closed.
    BarClosed,
    /// The limit says one thing, the group another.
    DiffersFromGroup,
    /// A conductor is high.
    High,
    /// It touches another conductor or metal.
    IsolationFault,
    /// The lead resistance is only guessed.
    LeadsNotZeroed,
    /// They agree on more than ribbon should read.
    LevelImplausible,
    /// They agree; that all are worn alike is not excluded.
    LevelUnverified,
    /// Too close to the limit to say.
    LimitGuardBand,
    /// A conductor is low.
    Low,
    /// Lower than it should be, but not provably.
    LowSuspect,
    /// Further touches can settle it.
    MoreTouches,
    /// No other conductor to compare with.
    NothingToCompare,
    /// No touch yet.
    NotMeasured,
    /// Condemning takes a second touch.
    OneTouch,
    /// One touch of several fell out of line.
    OneTouchDisagreed,
    /// A conductor is open.
    Open,
    /// Only two conductors carry the reference.
    PairOnly,
    /// So low that it touches another.
    Shorted,
    /// The display step is too coarse to tell.
    StepTooCoarse,
    /// The sweep showed a jump or a dropout.
    SweepFault,
    /// Its touches disagree.
    TouchesDisagree,
    /// Two levels in one group, and a bar or a width may explain it.
    TwoLevels,
    /// Clearly below zero: the zero is wrong.
    ZeroSuspect,
}

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "SCREAMING_SNAKE_CASE")]
pub enum ActionCode {
    /// Measure what has not been measured.
    Measure,
    /// Zero the leads and read again.
    ZeroLeads,
    /// The part is condemned.
    Replace,
    /// Look for the contact to a neighbour.
    CheckIsolation,
    /// Take the clips off and put them on again.
    TouchAgain,
    /// Read it while the part is turned.
    Sweep,
    /// Hold the shorting bars open and read again.
    OpenBars,
    /// Say which conductors should read alike.
    SetGroups,
    /// The limit needs a more accurate meter.
    BetterMeter,
    /// The comparison needs a finer display step.
    FinerMeter,
    /// A limit or a known-good value is needed.
    EnterLimit,
    /// Nothing is left to do.
    Done,
}

/// What to do next, and on which conductor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct NextAction {
    /// What.
    pub code: ActionCode,
    /// Index of the conductor it is about, if it is about one.
    pub conductor: Option<usize>,
}

/// The finding on a conductor. Numbers are `None` where there was nothing to compute them from.
#[derive(Clone, Debug, PartialEq)]
pub struct ConductorVerdict {
    /// The finding.
    pub state: ConductorState,
    /// What it would be if a second touch confirmed it.
    pub provisional: Option<ConductorState>,
    /// What it was judged by.
    pub basis: Option<Basis>,
    /// Median of the agreeing touches, ohms, zero taken off if one was given.
    pub value: Option<f64>,
    /// Value minus the (first) reference, ohms.
    pub deviation: Option<f64>,
    /// Standard uncertainty of the deviation, ohms.
    pub u: Option<f64>,
    /// Expanded uncertainty of the deviation, ohms, at least one display step.
    pub expanded: Option<f64>,
    /// Probability that the true deviation lies within tolerance, 0 to 1.
    pub probability: Option<f64>,
    /// Number of touches.
    pub touches: usize,
    /// Why.
    pub codes: BTreeSet<Code>,
    /// How its limit was met, if it has one and a value.
    pub limit: Option<LimitVerdict>,
    /// Whole percent above the reference, when consistent but worth watching in the sweep.
    pub watch_percent: Option<u32>,
}

/// The finding against a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitVerdict {
    /// Value without the leads, ohms.
    pub value: f64,
    /// Standard uncertainty, ohms.
    pub u: f64,
    /// Expanded uncertainty, ohms, at least one display step.
    pub expanded: f64,
    /// Highest allowed at the part's temperature, ohms.
    pub high: Option<f64>,
    /// Lowest allowed at the part's temperature, ohms.
    pub low: Option<f64>,
    /// How it was met.
    pub result: LimitResult,
    /// Probability that the true value lies within the limit, 0 to 1.
    pub probability: f64,
}

/// The finding on a group.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupVerdict {
    /// How the reference was found.
    pub kind: GroupKind,
    /// The (first) reference, ohms, leads included if they were not taken off.
    pub reference: Option<f64>,
    /// Its standard uncertainty, ohms.
    pub u_ref: Option<f64>,
    /// Ohms allowed above it.
    pub tolerance: Option<f64>,
    /// Ohms allowed below it.
    pub low_tolerance: Option<f64>,
    /// Indices of the conductors that carry it.
    pub members: Vec<usize>,
    /// Indices of the conductors that carry a second, lower level, if there is one.
    pub lower: Vec<usize>,
    /// What is known about its height.
    pub level: Level,
}
