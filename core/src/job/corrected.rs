//! What a job was called before it was corrected.

use super::state::Job;
use crate::record::{Details, Earlier, Hash};
use crate::unit::Stamp;

/// What a job was called before it was corrected.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Corrected {
    /// Order number or name.
    pub order: String,
    /// Vehicle in short words.
    pub vehicle: String,
    /// When something else was put in their place.
    pub until: Stamp,
}

/// A text that something else was put in place of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Correction {
    /// Name of the field, as in [`Command::CorrectJob`](super::Command::CorrectJob) and [`Details`].
    pub field: &'static str,
    /// What stood there; may be empty.
    pub before: String,
    /// Until when.
    pub until: Stamp,
}

/// Every field of the details by its name.
fn fields(details: &Details) -> [(&'static str, &str); 7] {
    let Details { customer, phone, plate, vin, odometer, technician, complaint } = details;
    [
        ("customer", customer),
        ("phone", phone),
        ("plate", plate),
        ("vin", vin),
        ("odometer", odometer),
        ("technician", technician),
        ("complaint", complaint),
    ]
}

impl Job {
    /// Names say nothing about the part: no verdict and no fact rests on them.
    pub(super) fn correct(&mut self, (order, vehicle): (String, String), personal: Hash, wall: &Stamp) {
        let order = std::mem::replace(&mut self.order, order);
        let vehicle = std::mem::replace(&mut self.vehicle, vehicle);
        self.corrected.push(Corrected { order, vehicle, until: wall.clone() });
        self.personal = personal;
    }

    /// What stood in place of order, vehicle and `details` before, oldest first within each field. `earlier` as kept
    /// beside the ledger; erased with the details.
    pub fn corrections(&self, details: &Details, earlier: &[Earlier]) -> Vec<Correction> {
        let mut all = Vec::new();
        for (at, before) in self.corrected.iter().enumerate() {
            let next = self.corrected.get(at + 1).map(|next| (next.order.as_str(), next.vehicle.as_str()));
            let after = next.unwrap_or((&self.order, &self.vehicle));
            let pairs = [("order", before.order.as_str(), after.0), ("vehicle", before.vehicle.as_str(), after.1)];
            all.extend(pairs.into_iter().filter_map(|pair| correction(pair, &before.until)));
        }
        for (at, before) in earlier.iter().enumerate() {
            let after = earlier.get(at + 1).map_or(details, |next| &next.details);
            let both = fields(&before.details).into_iter().zip(fields(after));
            let pairs = both.map(|((field, before), (_, after))| (field, before, after));
            all.extend(pairs.filter_map(|pair| correction(pair, &before.until)));
        }
        all
    }
}

fn correction((field, before, after): (&'static str, &str, &str), until: &Stamp) -> Option<Correction> {
    (before != after).then(|| Correction { field, before: before.to_owned(), until: until.clone() })
}
