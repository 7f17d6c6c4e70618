//! Exact numbers as a meter shows them, and time as it is handed in.
//!
//! A measured value is a count of display digits with a place and a unit, never a binary float.

mod day;
mod decimal;
mod figure;
#[cfg(test)]
mod tests;

pub use day::{Day, NotADay};
pub use decimal::Decimal;
pub use figure::{Figure, NotAFigure};

use serde::{Deserialize, Serialize};
use std::fmt;

/// What is measured. The codes are the Bluetooth Assigned Numbers unit UUIDs (see [`Unit::from_assigned`]).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Unit {
    /// Electrical resistance.
    Ohm,
    /// Electrical potential difference.
    Volt,
    /// Temperature in degree Celsius.
    Celsius,
}

impl Unit {
    /// The unit of a Bluetooth unit UUID: 0x272A ohm, 0x2728 volt, 0x272F degree Celsius
    /// (Bluetooth Assigned Numbers, `uuids/units.yaml`). Others are `None`.
    pub fn from_assigned(code: u16) -> Option<Unit> {
        match code {
            0x272A => Some(Unit::Ohm),
            0x2728 => Some(Unit::Volt),
            0x272F => Some(Unit::Celsius),
            _ => None,
        }
    }

    /// The sign printed after a number.
    pub fn sign(self) -> &'static str {
        match self {
            Unit::Ohm => "Ω",
            Unit::Volt => "V",
            Unit::Celsius => "°C",
        }
    }
}

/// Most decimal places a [`Decimal`] and a [`Quantity`] can have.
pub const MAX_PLACES: u8 = 12;

/// An exact decimal with its unit: `digits` × 10^−`places`. `0.350` keeps its last zero, because a
/// meter that shows it has a finer step than one that shows `0.35`.
///
/// Travels as `{"value":"0.350","unit":"ohm"}`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, as = "Written"))]
#[serde(try_from = "Written", into = "Written")]
pub struct Quantity {
    digits: i64,
    places: u8,
    unit: Unit,
}

/// How a [`Quantity`] is written down.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, rename = "Quantity"))]
pub struct Written {
    /// Decimal point, all digits as shown.
    pub value: String,
    /// The unit.
    pub unit: Unit,
}

/// Why a text is not a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NumberError {
    /// Nothing was typed.
    #[error("no number")]
    Empty,
    /// A character that has no place in a number, with its position from 1, blanks in front not counted.
    #[error("not a digit at character {0}")]
    NotADigit(usize),
    /// Both `1,234` and `1.234` can mean a thousand or a decimal: the person is asked.
    #[error("one comma or point before three digits: is it a decimal sign?")]
    Ambiguous,
    /// More digits or places than are kept.
    #[error("more digits than can be kept")]
    TooLong,
}

impl Quantity {
    /// `digits` × 10^−`places`; `None` if `places` is over [`MAX_PLACES`].
    ///
    /// ```
    /// use evenwire_core::unit::{Quantity, Unit};
    /// assert_eq!(Quantity::new(185, 2, Unit::Ohm).unwrap().to_string(), "1.85");
    /// ```
    pub fn new(digits: i64, places: u8, unit: Unit) -> Option<Quantity> {
        (places <= MAX_PLACES).then_some(Quantity { digits, places, unit })
    }

    /// `mantissa` × 10^`exponent`: a positive exponent becomes trailing zeros. `None` when it
    /// leaves the range of `i64` or of [`MAX_PLACES`].
    pub fn scaled(mantissa: i64, exponent: i32, unit: Unit) -> Option<Quantity> {
        if exponent > 0 {
            let factor = 10i64.checked_pow(u32::try_from(exponent).ok()?)?;
            Quantity::new(mantissa.checked_mul(factor)?, 0, unit)
        } else {
            Quantity::new(mantissa, u8::try_from(exponent.checked_neg()?).ok()?, unit)
        }
    }

    /// A decimal with a point, as a file or a meter writes it: `-0.35`, `12`, `+1.50`.
    ///
    /// # Errors
    /// [`NumberError`] with the place that is wrong. Thousands separators are not accepted.
    pub fn parse(text: &str, unit: Unit) -> Result<Quantity, NumberError> {
        Decimal::parse(text).map(|decimal| decimal.with_unit(unit))
    }

    /// What a person typed: decimal comma and point are both accepted.
    ///
    /// # Errors
    /// [`NumberError::Ambiguous`] for one sign before exactly three digits with a leading digit
    /// other than zero (`1,234`), unless `decimal_confirmed`; otherwise as [`Quantity::parse`].
    pub fn typed(text: &str, unit: Unit, decimal_confirmed: bool) -> Result<Quantity, NumberError> {
        Decimal::typed(text, decimal_confirmed).map(|decimal| decimal.with_unit(unit))
    }

    /// The count of smallest display digits.
    pub fn digits(self) -> i64 {
        self.digits
    }

    /// Decimal places shown.
    pub fn places(self) -> u8 {
        self.places
    }

    /// The number without its unit.
    pub fn decimal(self) -> Decimal {
        Decimal { digits: self.digits, places: self.places }
    }

    /// The unit.
    pub fn unit(self) -> Unit {
        self.unit
    }

    /// One in the last place shown: the display step when the meter counts by one.
    pub fn last_place(self) -> Quantity {
        Quantity { digits: 1, ..self }
    }

    /// For statistics only (`verdict`, `sweep`): nearest binary float.
    pub fn to_f64(self) -> f64 {
        self.decimal().to_f64()
    }

    /// The same amount with `places` decimal places, or `None` if digits would be lost or overflow.
    pub fn with_places(self, places: u8) -> Option<Quantity> {
        self.decimal().with_places(places).map(|decimal| decimal.with_unit(self.unit))
    }

    /// Exact comparison of two amounts of the same unit; `None` when the units differ.
    pub fn compare(self, other: Quantity) -> Option<std::cmp::Ordering> {
        (self.unit == other.unit).then(|| self.decimal().compare(other.decimal()))
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.decimal().fmt(f)
    }
}

impl From<Quantity> for Written {
    fn from(quantity: Quantity) -> Written {
        Written { value: quantity.to_string(), unit: quantity.unit }
    }
}

impl TryFrom<Written> for Quantity {
    type Error = NumberError;
    fn try_from(written: Written) -> Result<Quantity, NumberError> {
        Quantity::parse(&written.value, written.unit)
    }
}

/// Milliseconds of a clock that counts sleep and starts anew at boot.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, type = "number"))]
#[serde(transparent)]
pub struct Millis(pub u64);

impl Millis {
    /// Time since `earlier`; zero if `earlier` is later.
    pub fn since(self, earlier: Millis) -> Millis {
        Millis(self.0.saturating_sub(earlier.0))
    }
}

/// Names one run of the machine between two boots. Empty when it cannot be read.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct BootId(pub String);

/// A moment on the wall clock with its offset, RFC 3339. For display and the record; it orders nothing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, type = "string"))]
#[serde(try_from = "String", into = "String")]
pub struct Stamp(String);

impl Stamp {
    /// # Errors
    /// The text is not an RFC 3339 date and time with an offset.
    pub fn parse(text: &str) -> Result<Stamp, NotAStamp> {
        Stamp::try_from(text.to_owned())
    }

    /// The text as it was given.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Date and time where it was written, to the minute, for a screen: "2026-03-01 10:42".
    pub fn to_minute(&self) -> String {
        let minute = self.0.get(..16).unwrap_or(&self.0);
        minute.replace(['T', 't', '_'], " ")
    }

    /// Milliseconds since 1970-01-01T00:00Z.
    pub fn unix_millis(&self) -> i64 {
        self.0.parse::<jiff::Timestamp>().expect("checked when made").as_millisecond()
    }
}

/// A text that is not a date and time with an offset.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("not an RFC 3339 date and time with an offset")]
pub struct NotAStamp;

impl TryFrom<String> for Stamp {
    type Error = NotAStamp;
    fn try_from(text: String) -> Result<Stamp, NotAStamp> {
        let _: jiff::Timestamp = text.parse().map_err(|_| NotAStamp)?;
        Ok(Stamp(text))
    }
}

impl From<Stamp> for String {
    fn from(stamp: Stamp) -> String {
        stamp.0
    }
}

/// The time, as it is handed to core with every input. Core has no clock of its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Now {
    /// Clock that counts sleep.
    pub boot: Millis,
    /// Which boot it counts from.
    pub boot_id: BootId,
    /// Wall clock, for display.
    pub wall: Stamp,
}
