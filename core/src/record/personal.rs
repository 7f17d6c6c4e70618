//! Personal details stand beside the ledger; an entry holds only a commitment to them.

use serde::{Deserialize, Serialize};

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
    /// Technician's name.
    pub technician: String,
    /// The complaint in the customer's words.
    pub complaint: String,
}
