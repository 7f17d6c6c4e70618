//! What was measured or stated, with the evidence it rests on.

use super::hash::Hash;
use crate::meter::link::Source;
use crate::settle::Touch;
use crate::sweep::plan::{PlacedMark, SweepPlan};
use crate::sweep::written::Finding;
use crate::unit::{Day, Figure, Millis, Quantity, Stamp};
use crate::verdict::ConductorState;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use uuid::Uuid;

/// One touch with the evidence it rests on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TouchFact {
    /// Its name in the record.
    pub touch: Uuid,
    /// Index in the part.
    pub conductor: u32,
    /// What settled.
    pub taken: Touch,
    /// Hashes of the closed chunks that hold its samples, oldest first.
    pub chunks: Vec<Hash>,
}

/// An instrument as it is known: by serial number or a person's label, never by a radio address.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Instrument {
    /// Serial number it told, or the shop's label.
    pub identity: String,
    /// The identity is a serial number the instrument told itself.
    pub told: bool,
    /// The name it announces.
    pub name: String,
    /// Where it is reached.
    pub source: Source,
    /// How its bytes are read: a profile's name, or "self-describing".
    pub profile: String,
    /// Smallest step of the display.
    pub step: Quantity,
    /// Accuracy in thousandths of a percent of the reading: 800 is 0.8 %.
    pub accuracy_milli_percent: u32,
    /// Accuracy in display counts.
    pub accuracy_counts: u32,
    /// Highest value of the range used.
    pub top: Quantity,
    /// Day its calibration is due, as entered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration_due: Option<Day>,
}

/// Circumstances of the measurement. What is not said is unknown, never assumed good.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Conditions {
    /// The meter subtracts the leads (relative zero set with these leads shorted).
    pub leads_zeroed: bool,
    /// Bench temperature, degree Celsius.
    pub temperature: Option<Quantity>,
    /// Every shorting bar is open (true), not (false), or nobody said.
    pub bars_open: Option<bool>,
}

/// What the leads read by themselves, the clips on each other.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ZeroFact {
    /// Its name in the record.
    pub zero: Uuid,
    /// What settled.
    pub taken: Touch,
    /// Bench temperature as stated then.
    pub temperature: Option<Quantity>,
    /// Hashes of the closed chunks that hold its samples.
    pub chunks: Vec<Hash>,
}

/// What the meter read on a resistor somebody knows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ResistorFact {
    /// Its name in the record.
    pub reading: Uuid,
    /// The value printed on the resistor, ohm.
    pub resistor: Quantity,
    /// Its tolerance in thousandths of a percent: 1000 is 1 %.
    pub tolerance_milli_percent: u32,
    /// What settled.
    pub taken: Touch,
    /// Hashes of the closed chunks that hold its samples.
    pub chunks: Vec<Hash>,
}

/// The shorting bar of a pair of conductors.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct BarState {
    /// One conductor: index in the part.
    pub a: u32,
    /// The other.
    pub b: u32,
    /// There is a bar, there is none, or nobody said.
    pub present: Option<bool>,
    /// How it is held open ("adapter", "mating plug"); empty: it is not.
    pub opened: String,
    /// It was let go again and springs back.
    pub restored: bool,
}

/// Isolation between a conductor and another one, or metal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct IsolationFact {
    /// Its name in the record.
    pub reading: Uuid,
    /// The conductor: index in the part.
    pub a: u32,
    /// The other conductor; none: metal.
    pub other: Option<u32>,
    /// What settled, or over-range by key.
    pub taken: Touch,
    /// Highest value the meter shows in the range used.
    pub top: Quantity,
    /// The bar between the two was open (true), not (false), or nobody said. Metal has none: true.
    pub bar_open: Option<bool>,
    /// Hashes of the closed chunks that hold its samples.
    pub chunks: Vec<Hash>,
}

/// A photo, by the hash of the bytes that are kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PhotoFact {
    /// SHA-256 of the JPEG.
    pub photo: Hash,
    /// The step of the procedure it shows; none: the job.
    pub step: Option<String>,
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
    /// Length of the JPEG.
    pub bytes: u32,
}

/// A conductor watched while the part was moved.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SweepFact {
    /// Its name in the record.
    pub sweep: Uuid,
    /// Index in the part.
    pub conductor: u32,
    /// How the part was to be moved.
    pub plan: SweepPlan,
    /// Arrival of its first reading, boot clock.
    pub from_ms: Millis,
    /// Arrival of its last reading.
    pub to_ms: Millis,
    /// Coarsest display step while it ran.
    pub step: Quantity,
    /// Where the part was when.
    pub marks: Vec<PlacedMark>,
    /// What it showed.
    pub finding: Finding,
    /// Hashes of the closed chunks that hold its samples, oldest first.
    pub chunks: Vec<Hash>,
}

/// What a part measured before read, kept with the job that is compared with it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OldPart {
    /// The job it was measured in.
    pub job: Uuid,
    /// That job's order and the part's name, for the screen.
    pub name: String,
    /// When its verdict was given.
    pub at: Stamp,
    /// Identity of the instrument it was read with.
    pub instrument: String,
    /// Level of the good conductors of each group (undeclared: ""), without leads.
    pub levels: BTreeMap<String, OldLevel>,
    /// Every conductor, in the order of the part.
    pub conductors: Vec<OldConductor>,
}

/// A level of good conductors.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OldLevel {
    /// Ohm, leads taken off.
    pub value: Figure,
    /// Standard uncertainty, ohm.
    pub u: Figure,
    /// Bench temperature, degree Celsius, if stated.
    pub temperature: Option<Figure>,
}

/// One conductor of an old part.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OldConductor {
    /// Its name.
    pub name: String,
    /// What it read, ohm, leads taken off; none if open or not decided.
    pub value: Option<Figure>,
    /// What was found.
    pub state: ConductorState,
}
