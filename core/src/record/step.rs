//! What was done of a procedure, as it is recorded. Figures are kept as they were published or typed.

use crate::dtc::TroubleCode;
use crate::procedure::{Amount, Origin};
use crate::unit::{BootId, Millis, Quantity};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A procedure is followed from here on. The job keeps the file whole: it is carried on by this version, whatever
/// becomes of the file, and whoever reads the record reads what was asked.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProcedureFact {
    /// The file.
    pub text: String,
    /// Who does the job, of those on the roster; none: nobody of the roster was named.
    pub technician: Option<Uuid>,
    /// Who stands for this version, beside its author; none: it is a draft.
    pub approved_by: Option<Uuid>,
}

/// When and in which run of the machine something about a step was said. The boot clock itself stands in the entry.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepFact<T> {
    /// The step, by its id in the file.
    pub step: String,
    /// The run of the machine the entry's clock counts in.
    pub boot: BootId,
    /// What was said.
    pub said: T,
}

/// A step was done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepDone {
    /// What the person wrote beside it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub words: String,
    /// What was done.
    pub done: Done,
}

/// What was done in a step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "what")]
pub enum Done {
    /// Done or looked at, and ticked.
    Ticked,
    /// It was not tested; the words say why.
    NotTested,
    /// The whole wait is over.
    Waited {
        /// Boot clock at its start.
        from_ms: Millis,
        /// What had to go by.
        required_ms: Millis,
        /// What went by, on the boot clock.
        passed_ms: Millis,
        /// How much more the wall clock says, milliseconds; noted when over five seconds, and decides nothing.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        wall_apart_ms: Option<i64>,
    },
    /// The supply was proven dead: a known source, the points in the order of the file, a known source again.
    ProvenDead {
        /// The known source before, volt.
        before: Quantity,
        /// The points, volt.
        points: Vec<Quantity>,
        /// The known source after, volt.
        after: Quantity,
    },
    /// Codes were read.
    Codes {
        /// Those that were stored; none: the scanner told that there is none.
        codes: Vec<TroubleCode>,
        /// There was no scanner.
        no_scanner: bool,
        /// What the lamp did, where that was looked at.
        lamp: Option<Lamp>,
    },
    /// Something was measured; the readings stand in entries of their own.
    Measured {
        /// Zeros, touches, sweeps or isolation readings it rests on.
        readings: Vec<Uuid>,
    },
    /// A group was judged; the verdict stands in an entry of its own.
    Compared {
        /// What was found.
        alike: Alike,
    },
    /// The coil stands in its centre.
    Centred {
        /// Counted, or left as it came.
        how: CentredHow,
    },
    /// A bolt was tightened.
    Tightened {
        /// As published.
        value: Amount,
        /// The wrench, by the shop's name for it.
        wrench: String,
        /// What the wrench was set to, where an adapter changes it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        set_to: Option<Amount>,
        /// Largest setting of the wrench, if it was said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        wrench_most: Option<Amount>,
    },
    /// A value was read from the vehicle.
    Read {
        /// As read: one, or the lowest and the highest of those that were seen.
        values: Vec<Amount>,
        /// Within what the file asks for.
        within: bool,
    },
    /// It was signed by whoever does the job.
    Signed {
        /// How the job ends, where it ends with this signature.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        outcome: Option<Outcome>,
    },
    /// A part was chosen.
    PartChosen {
        /// The number on it.
        number: String,
        /// New, used or rebuilt.
        origin: Origin,
        /// Where it comes from.
        from: String,
    },
}

/// What the warning lamp did when the ignition was switched on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Lamp {
    /// It came on for its check and went off.
    WentOff,
    /// It stayed on, or came on again.
    StayedOn,
    /// It never came on: the lamp itself is in doubt.
    NeverCame,
}

/// What comparing a group came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Alike {
    /// Every conductor of it.
    All,
    /// At least one is not.
    NotAll,
    /// It cannot be told.
    CannotTell,
}

/// How a coil came to stand in its centre.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "by")]
pub enum CentredHow {
    /// Its lock or seal is whole: it was not turned.
    Sealed,
    /// Counted from end to end, half of it back, then both sides.
    Counted {
        /// From end to end.
        total: Amount,
        /// Free to the left.
        left: Amount,
        /// Free to the right.
        right: Amount,
    },
}

/// How a job ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// It is repaired.
    Repaired,
    /// It is not.
    NotRepaired,
    /// The customer did not want it repaired.
    Refused,
}
