//! The shop's hub, as a screen sees it.

use super::Notice;
use serde::{Deserialize, Serialize};

/// How things stand with the shop's hub.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct HubView {
    /// `none`: paired with nobody; `asked`: the office has to say yes; `paired`.
    pub state: String,
    /// With whom, in words.
    pub words: String,
    /// What both screens show while the office is asked: "042 917"; empty otherwise.
    pub digits: String,
    /// What is at the shop and what is not, in words; empty where nobody is paired.
    pub progress: String,
    /// Something is being sent.
    pub sending: bool,
    /// Everything that is on this device is there.
    pub complete: bool,
    /// What is in the way.
    pub trouble: Option<Notice>,
    /// The shop has to take the device in anew: the form for it is wanted though it is paired.
    pub pair_again: bool,
    /// Words from the office, oldest first.
    pub notes: Vec<HubNote>,
}

/// A word from the office.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct HubNote {
    /// Names it when it is put away.
    #[cfg_attr(test, ts(type = "number"))]
    pub number: u64,
    /// The job it is about; none: whoever holds the device.
    pub job: Option<String>,
    /// What it says.
    pub text: String,
}

/// Whether a job is at the shop.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct ShopMark {
    /// The hub has said that everything of it is there.
    pub safe: bool,
    /// That, or what is missing.
    pub words: String,
}
