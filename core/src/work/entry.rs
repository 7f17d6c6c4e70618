//! What a person asks for at a step. Texts, because they are typed: decimal comma or point.

use crate::procedure::Origin;
use crate::record::{Lamp, Outcome};
use serde::{Deserialize, Serialize};

/// What is asked for at a step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "act")]
pub enum StepAct {
    /// The cautions of the step were read: begin it.
    Begin,
    /// It is done.
    Done {
        /// What the person wrote beside it.
        words: String,
        /// What was entered.
        entry: StepEntry,
    },
    /// Leave it out, for a reason.
    Skip {
        /// Why.
        reason: String,
    },
    /// Do this step and all below it again, for a reason.
    Again {
        /// Why.
        reason: String,
    },
}

/// What was entered at a step, by its kind.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "entry")]
pub enum StepEntry {
    /// Done, looked at, written down or photographed; and what is measured, once it was.
    Tick,
    /// It was not tested; the words say why.
    NotTested,
    /// Volts read on the known source, the points in their order, and the known source again.
    ProveDead {
        /// Before.
        before: String,
        /// At each point.
        points: Vec<String>,
        /// After.
        after: String,
    },
    /// Codes, one a line; the scanner shows none; or there is no scanner.
    Codes {
        /// As typed, one a line.
        list: String,
        /// The scanner says that nothing is stored.
        none_stored: bool,
        /// There is no scanner here; the words say why.
        no_scanner: bool,
        /// What the lamp did.
        lamp: Option<Lamp>,
    },
    /// How the centre was found.
    Centre(CentreEntry),
    /// How a bolt was tightened.
    Torque {
        /// The shop's name of the wrench.
        wrench: String,
        /// Its largest setting, in the unit the figure is published in; may be empty.
        #[serde(default)]
        most: String,
        /// A new fastener was fitted.
        new_fastener: bool,
        /// It was turned on by the angle.
        angle_turned: bool,
    },
    /// What the vehicle showed: one value, or the lowest and the highest.
    Value {
        /// Numbers in the unit of the file.
        values: Vec<String>,
    },
    /// A signature of whoever does the job.
    Sign {
        /// How the job ends, where it ends with this signature.
        outcome: Option<Outcome>,
    },
    /// A part.
    Part {
        /// The number on it.
        number: String,
        /// New, used or rebuilt.
        origin: Origin,
        /// Where it comes from.
        from: String,
    },
}

/// How the centre was found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct CentreEntry {
    /// Lock or seal is whole: it was not turned, and nothing was counted.
    pub sealed: bool,
    /// Turns from end to end.
    pub total: String,
    /// Turns free to the left.
    pub left: String,
    /// Turns free to the right.
    pub right: String,
}
