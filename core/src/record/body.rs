//! The body of an entry as it stands in its bytes. It is read only by whoever wants to know what happened: a hub reads
//! every entry of a shop's day, and a tree of each body was the larger part of that work.

use serde::{Deserialize, Serialize};
use serde_json::Value;
use serde_json::value::{RawValue, to_raw_value};
use std::fmt;

/// JSON text. What it says is not looked at before it is asked for.
#[derive(Clone, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Body(Box<RawValue>);

impl Body {
    /// Its text.
    pub fn text(&self) -> &str {
        self.0.get()
    }
}

impl From<&Value> for Body {
    fn from(value: &Value) -> Body {
        Body(to_raw_value(value).expect("a tree has only text keys"))
    }
}

impl PartialEq for Body {
    fn eq(&self, other: &Body) -> bool {
        self.text() == other.text()
    }
}

impl Eq for Body {}

impl fmt::Debug for Body {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.text())
    }
}
