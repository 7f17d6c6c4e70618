//! IEEE 754 binary32 and binary64 as the nearest decimal of a display.
//!
//! The bits are taken apart and scaled in whole numbers, so no rounding happens but the one to the
//! display's places.

use super::Shown;
use super::integer::Order;
use super::number::{Number, TooManyDigits};
use crate::unit::{MAX_PLACES, Quantity, Unit};

/// Width of a binary float.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FloatWidth {
    /// binary32, 4 bytes.
    Single,
    /// binary64, 8 bytes.
    Double,
}

impl FloatWidth {
    /// Bytes it takes.
    pub fn bytes(self) -> usize {
        match self {
            FloatWidth::Single => 4,
            FloatWidth::Double => 8,
        }
    }
}

/// How a binary float lies in bytes, and how many decimal places its display has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FloatShape {
    /// Its width.
    pub width: FloatWidth,
    /// Byte order.
    pub order: Order,
    /// Decimal places of the display, at most [`MAX_PLACES`]. Never guessed: a float does not tell them.
    pub places: u8,
}

impl FloatShape {
    /// The decimal with `places` places nearest to the float; a tie goes away from zero, as on a
    /// display. Infinite is over-range, not-a-number is blank. `None` when `bytes` has another length.
    ///
    /// # Errors
    /// [`TooManyDigits`] when the number does not fit, or `places` is over [`MAX_PLACES`].
    pub fn read(self, bytes: &[u8], unit: Unit) -> Option<Result<Number, TooManyDigits>> {
        if bytes.len() != self.width.bytes() {
            return None;
        }
        let add = |whole: u64, byte: &u8| (whole << 8) | u64::from(*byte);
        let bits = match self.order {
            Order::Little => bytes.iter().rev().fold(0, add),
            Order::Big => bytes.iter().fold(0, add),
        };
        Some(self.nearest(bits, unit))
    }

    fn nearest(self, bits: u64, unit: Unit) -> Result<Number, TooManyDigits> {
        let (exponent_bits, fraction_bits) = match self.width {
            FloatWidth::Single => (8u32, 23u32),
            FloatWidth::Double => (11, 52),
        };
        let top = (1u64 << exponent_bits) - 1;
        let fraction = bits & ((1 << fraction_bits) - 1);
        let biased = (bits >> fraction_bits) & top;
        let negative = (bits >> (exponent_bits + fraction_bits)) & 1 == 1;
        if biased == top {
            return Ok(if fraction == 0 { Number::OVER_RANGE } else { Number::BLANK });
        }
        if self.places > MAX_PLACES {
            return Err(TooManyDigits);
        }
        let significand = if biased == 0 { fraction } else { fraction | (1 << fraction_bits) };
        let bias = (top / 2).cast_signed();
        let power = biased.max(1).cast_signed() - bias - i64::from(fraction_bits);
        let size = scaled_by_two(u128::from(significand) * 10u128.pow(u32::from(self.places)), power)?;
        let digits = if negative { -size } else { size };
        let value = Quantity::new(digits, self.places, unit).ok_or(TooManyDigits)?;
        Ok(Number { shown: Shown::Value(value), last_place: Some(value.last_place()) })
    }
}

/// `whole` × 2^`power`, rounded half up. `whole` is below 2^93: 53 bits of significand, 40 of 10^12.
fn scaled_by_two(whole: u128, power: i64) -> Result<i64, TooManyDigits> {
    if whole == 0 || power < -100 {
        return Ok(0);
    }
    let result = match u32::try_from(power) {
        Ok(up) if up > 34 => return Err(TooManyDigits),
        Ok(up) => whole << up,
        Err(_) => {
            let down = u32::try_from(-power).expect("between 1 and 100, checked above");
            (whole + (1 << (down - 1))) >> down
        }
    };
    i64::try_from(result).map_err(|_| TooManyDigits)
}
