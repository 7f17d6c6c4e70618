//! The people of the shop.

use serde::{Deserialize, Serialize};

/// Somebody who may sign.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct PersonLine {
    /// Names the person in a wish.
    pub person: String,
    /// Name; where it is not kept here, words that say so.
    pub name: String,
    /// What the person does in the shop; may be empty.
    pub role: String,
    /// How long no PIN of this person is looked at, in words: "Locked for 25 s."; empty: it is looked at.
    pub locked: String,
}
