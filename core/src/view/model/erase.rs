//! What a screen sees of erasing.

use serde::{Deserialize, Serialize};

/// Erasing what is personal of a closed job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct EraseView {
    /// What goes and what stays, who may, and what is out of reach.
    pub words: String,
    /// That it was done, and when; empty before.
    pub done: String,
}
