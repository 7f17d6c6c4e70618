//! What every encoding gives: a state or an exact number, with the step its digits show.

use super::Shown;
use crate::unit::{Quantity, Unit};

/// One number as its bytes say it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Number {
    /// A value, over-range or blank.
    pub shown: Shown,
    /// One in the last place, where the bytes tell it; `None` for most over-range and blank displays.
    pub last_place: Option<Quantity>,
}

/// The number has more digits or places than a [`Quantity`] keeps. It is refused, never rounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("more digits than can be kept")]
pub struct TooManyDigits;

impl Number {
    /// The overload sign.
    pub const OVER_RANGE: Number = Number { shown: Shown::OverRange, last_place: None };
    /// Nothing that can be read.
    pub const BLANK: Number = Number { shown: Shown::Blank, last_place: None };

    /// `mantissa` × 10^`exponent` with one in the last place beside it; a positive exponent becomes
    /// trailing zeros and a step of that power of ten.
    ///
    /// # Errors
    /// [`TooManyDigits`] outside of what [`Quantity::scaled`] keeps.
    pub fn scaled(mantissa: i64, exponent: i32, unit: Unit) -> Result<Number, TooManyDigits> {
        let value = Quantity::scaled(mantissa, exponent, unit).ok_or(TooManyDigits)?;
        let last_place = Quantity::scaled(1, exponent, unit).ok_or(TooManyDigits)?;
        Ok(Number { shown: Shown::Value(value), last_place: Some(last_place) })
    }
}
