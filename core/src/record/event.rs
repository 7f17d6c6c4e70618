//! The events a ledger holds.

use super::hash::Hash;
use crate::caution::Caution;
use crate::meter::link::Source;
use crate::part::Part;
use crate::settle::Touch;
use crate::unit::Quantity;
use crate::verdict::words::Language;
use crate::verdict::written::Judgement;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Something that happened. Kebab-case names are the kinds of entries; none is ever renamed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "body", rename_all = "kebab-case")]
pub enum Event {
    /// A job was opened.
    JobOpened {
        /// Order number or name.
        order: String,
        /// Vehicle in short words.
        vehicle: String,
        /// Commitment to the personal details.
        personal: Hash,
    },
    /// A caution was read.
    CautionAccepted {
        /// Which.
        caution: Caution,
    },
    /// The part was described.
    PartDescribed {
        /// The description.
        part: Part,
    },
    /// The instrument the following readings come from.
    MeterUsed {
        /// The instrument.
        instrument: Instrument,
    },
    /// Leads, temperature and bars, as a person stated them.
    ConditionsStated {
        /// All of them.
        conditions: Conditions,
    },
    /// The clips go to this conductor next.
    ConductorChosen {
        /// Index in the part.
        conductor: u32,
    },
    /// A touch was taken.
    TouchTaken(TouchFact),
    /// A touch was taken back. It stays in the ledger and is not judged.
    TouchUndone {
        /// Which.
        touch: Uuid,
    },
    /// A verdict was given on the readings so far.
    Judged {
        /// All of it.
        judgement: Judgement,
    },
    /// Measuring goes on after a verdict.
    MeasuringResumed {},
    /// The job was closed.
    JobFinished {},
    /// A part was kept for later jobs. Belongs to no job.
    TemplateSaved {
        /// Name in the list; a newer one of the same name replaces it there.
        name: String,
        /// The part.
        part: Part,
    },
    /// What a person said about an instrument. Belongs to no job.
    MeterDescribed {
        /// The instrument.
        instrument: Instrument,
    },
    /// The language of the screens. Belongs to no job.
    LanguageChosen {
        /// Which.
        language: Language,
    },
}

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

impl Event {
    /// Version written for every kind so far.
    pub const VERSION: u16 = 1;

    /// Its kind and body, as they stand in an entry.
    pub fn parts(&self) -> (String, serde_json::Value) {
        let mut whole = serde_json::to_value(self).expect("an event has only text keys");
        let kind = whole["kind"].as_str().expect("tagged").to_owned();
        (kind, whole["body"].take())
    }

    /// Reads an entry's kind, version and body; `None` for one this program does not know.
    pub fn read(kind: &str, version: u16, body: &serde_json::Value) -> Option<Event> {
        if version != Event::VERSION {
            return None;
        }
        serde_json::from_value(serde_json::json!({ "kind": kind, "body": body })).ok()
    }

    /// It belongs to the device, not to the job on the bench.
    pub fn is_of_device(&self) -> bool {
        matches!(self, Event::TemplateSaved { .. } | Event::MeterDescribed { .. } | Event::LanguageChosen { .. })
    }
}
