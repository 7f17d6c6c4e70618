//! A verdict as it is written down: every figure as decimal text, so that the record holds no binary float.

use serde::{Deserialize, Serialize};

/// A figure with six decimal places, as text: "0.333333".
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Figure(pub String);

/// A verdict on the conductors of a part, with everything needed to show it again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Judgement {
    /// Version of the rules it was given by.
    pub rules: u16,
    /// `pass`, `fail` or `undecided`.
    pub set: String,
    /// Sorted codes.
    pub reasons: Vec<String>,
    /// Code of the next action.
    pub action: String,
    /// Conductor the action concerns: index in the part.
    pub action_conductor: Option<u32>,
    /// Every judged conductor.
    pub conductors: Vec<JudgedConductor>,
    /// Every group.
    pub groups: Vec<JudgedGroup>,
}

/// One conductor of a [`Judgement`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct JudgedConductor {
    /// Index in the part.
    pub conductor: u32,
    /// `consistent`, `high`, `low`, `open`, `unstable`, `undecided` or `not-measured`.
    pub verdict: String,
    /// What it would be with one more touch, if that is what is missing.
    pub provisional: Option<String>,
    /// What it was judged by.
    pub basis: String,
    /// Value, ohm.
    pub value: Option<Figure>,
    /// Difference to the reference, ohm.
    pub deviation: Option<Figure>,
    /// Standard uncertainty, ohm.
    pub standard: Option<Figure>,
    /// Expanded uncertainty (k = 2), ohm.
    pub expanded: Option<Figure>,
    /// Probability of being within tolerance.
    pub probability: Option<Figure>,
    /// Touches it rests on.
    pub touches: u32,
    /// Its codes, sorted.
    pub codes: Vec<String>,
}

/// One group of a [`Judgement`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct JudgedGroup {
    /// Its name; empty when not declared.
    pub name: String,
    /// `cluster`, `lone`, `ambiguous`, `known-good` or `none`.
    pub kind: String,
    /// Reference, ohm.
    pub reference: Option<Figure>,
    /// Tolerance upwards, ohm.
    pub tolerance: Option<Figure>,
    /// Tolerance downwards, ohm.
    pub low_tolerance: Option<Figure>,
    /// Conductors the reference rests on: indices in the part.
    pub members: Vec<u32>,
    /// `verified`, `unverified`, `implausible` or empty.
    pub level: String,
}
