//! One settled contact of the clips, as it goes into the record.

use crate::unit::{Millis, Quantity, Unit};
use serde::{Deserialize, Serialize};

/// How a touch came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TouchKind {
    /// It stood still and was taken by itself.
    Settled,
    /// It did not stand still; a person took the last second as it was.
    AsItWas,
    /// A person said the clips are on while the display showed over-range.
    OverRange,
    /// A person read the display and typed what it showed.
    Typed,
    /// A person read over-range on the display, the clips on.
    TypedOverRange,
}

impl TouchKind {
    /// The display was beyond its range.
    pub fn is_over_range(self) -> bool {
        matches!(self, TouchKind::OverRange | TouchKind::TypedOverRange)
    }

    /// A person typed it; no byte of a meter stands behind it.
    pub fn is_typed(self) -> bool {
        matches!(self, TouchKind::Typed | TouchKind::TypedOverRange)
    }
}

/// One contact of the clips.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Touch {
    /// How it came about.
    pub kind: TouchKind,
    /// Display digits of its readings in the last place; empty for over-range.
    pub digits: Vec<i64>,
    /// Decimal places of the digits.
    pub places: u8,
    /// Smallest display step while it was taken.
    pub step: Quantity,
    /// Arrival of its first reading, boot clock.
    pub from_ms: Millis,
    /// Arrival of its last reading.
    pub to_ms: Millis,
    /// The meter told that its relative zero was on: what it showed then is a difference to that zero.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub relative: bool,
    /// The meter told that it picks its range by itself (true) or that a hand has locked it (false); none: it does not
    /// tell.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub auto_range: Option<bool>,
}

impl Touch {
    /// Its readings in ohm, as shown.
    pub fn readings(&self) -> impl Iterator<Item = Quantity> + '_ {
        self.digits.iter().filter_map(|d| Quantity::new(*d, self.places, Unit::Ohm))
    }

    /// The reading in the middle, as shown, for a table; `None` for over-range.
    pub fn middle(&self) -> Option<Quantity> {
        let mut sorted = self.digits.clone();
        sorted.sort_unstable();
        sorted.get(sorted.len() / 2).and_then(|d| Quantity::new(*d, self.places, Unit::Ohm))
    }
}
