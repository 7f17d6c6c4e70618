//! Personal details stand beside the ledger; an entry holds only a commitment to them.

use super::hash::Hash;
use crate::unit::Stamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Longest text kept in one field, in characters.
pub const MAX_FIELD: usize = 500;

/// Personal details of one job. Erasable; the chain of entries stays whole without them.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Details {
    /// Customer's name.
    pub customer: String,
    /// Phone.
    pub phone: String,
    /// Number plate.
    pub plate: String,
    /// Vehicle identification number as typed.
    pub vin: String,
    /// What the odometer shows, with its unit, as typed.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub odometer: String,
    /// Technician's name.
    pub technician: String,
    /// The complaint in the customer's words.
    pub complaint: String,
}

impl Details {
    /// Name of the first field that is too long to be kept.
    pub fn too_long(&self) -> Option<&'static str> {
        [
            ("customer", &self.customer),
            ("phone", &self.phone),
            ("plate", &self.plate),
            ("vin", &self.vin),
            ("odometer", &self.odometer),
            ("technician", &self.technician),
            ("complaint", &self.complaint),
        ]
        .into_iter()
        .find(|(_, text)| text.chars().count() > MAX_FIELD)
        .map(|(name, _)| name)
    }
}

/// Details that were corrected: what stood there before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Earlier {
    /// When something else was put in their place.
    pub until: Stamp,
    /// As they were.
    pub details: Details,
}

/// How both are written.
#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    details: &'a Details,
    #[serde(skip_serializing_if = "<[Earlier]>::is_empty")]
    earlier: &'a [Earlier],
}

#[derive(Deserialize)]
struct Before {
    #[serde(default)]
    earlier: Vec<Earlier>,
}

/// Details with the salt that hides them in their commitment. Without salt and details a commitment
/// tells nothing, not even to somebody who guesses.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptDetails {
    /// The job they belong to.
    pub job: Uuid,
    /// 32 random bytes.
    pub salt: [u8; 32],
    /// JSON of [`Details`] and of what stood there before, exactly as committed to.
    pub text: String,
}

impl KeptDetails {
    /// `details` as they are kept.
    pub fn new(job: Uuid, salt: [u8; 32], details: &Details) -> KeptDetails {
        KeptDetails::corrected((job, salt), details, &[])
    }

    /// `details` in place of `earlier` ones, oldest first.
    pub fn corrected((job, salt): (Uuid, [u8; 32]), details: &Details, earlier: &[Earlier]) -> KeptDetails {
        let text = serde_json::to_string(&Written { details, earlier }).expect("details are texts");
        KeptDetails { job, salt, text }
    }

    /// `SHA-256(salt ‖ text)`, which stands in the ledger.
    pub fn commitment(&self) -> Hash {
        Hash::of_two(&self.salt, self.text.as_bytes())
    }

    /// What stood there before the details, oldest first, if they are those that were committed to.
    pub fn earlier(&self, commitment: Hash) -> Vec<Earlier> {
        let before = |text| serde_json::from_str::<Before>(text).ok();
        let found = (self.commitment() == commitment).then(|| before(&self.text)).flatten();
        found.map_or(Vec::new(), |before| before.earlier)
    }

    /// The details, if they are readable and are those that were committed to.
    pub fn opened(&self, commitment: Hash) -> Option<Details> {
        (self.commitment() == commitment).then(|| serde_json::from_str(&self.text).ok()).flatten()
    }
}
