//! Second signatures.

use super::OfficeCode;
use evenwire_core::report::Unsigned;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A step that waits for the signature of a second person, and how it stands with that.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeSecond {
    /// What waits there.
    #[cfg_attr(test, ts(type = "import('./Unsigned').Unsigned"))]
    pub waits: Unsigned,
    /// What somebody signed here last; none: nobody did.
    pub given: Option<OfficeGiven>,
    /// Why whoever looks cannot sign it; none: they can.
    pub refused: Option<OfficeCode>,
}

/// A signature that was given here and does not stand in the record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfficeGiven {
    /// Who signed.
    pub name: String,
    /// When.
    pub at: String,
    /// Why the device did not take it, or never will; none: it was not heard of since.
    pub refused: Option<OfficeCode>,
}

/// Somebody signs a step as second person.
#[derive(Clone, Debug, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(deny_unknown_fields)]
pub struct SignatureAsk {
    /// The device whose version of the job is signed.
    #[cfg_attr(test, ts(as = "String"))]
    pub device: Uuid,
    /// The step.
    pub step: String,
    /// Which settling of it was seen.
    pub doing: u32,
    /// How many entries of the job the page showed: [`super::OfficeVersion::entries`].
    pub entries: u32,
    /// Their own password, once more.
    pub password: String,
}
