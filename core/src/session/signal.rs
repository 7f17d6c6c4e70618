//! What is heard, seen or felt without looking.

use serde::{Deserialize, Serialize};

/// The distinct signals of measuring.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Signal {
    /// A touch was taken and recorded.
    Taken,
    /// The contact does not stand still.
    Unsteady,
    /// Stop: look at the screen.
    Stop,
    /// The part is to be at the next mark now.
    Mark,
}
