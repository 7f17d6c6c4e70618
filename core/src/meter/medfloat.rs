//! Medical-device floats: a decimal mantissa and exponent, so every value is exact and shows its own
//! last place (Bluetooth formats medfloat16 and medfloat32, from IEEE 11073-20601).

use super::integer::sign_extended;
use super::number::{Number, TooManyDigits};
use crate::unit::Unit;

/// Width of a medfloat. Always least significant byte first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MedfloatWidth {
    /// 4 bits of exponent, 12 of mantissa (SFLOAT).
    Short,
    /// 8 bits of exponent, 24 of mantissa (FLOAT).
    Long,
}

impl MedfloatWidth {
    /// Bytes it takes.
    pub fn bytes(self) -> usize {
        match self {
            MedfloatWidth::Short => 2,
            MedfloatWidth::Long => 4,
        }
    }

    /// The number. Not-a-number, below-resolution and the reserved code are blank; both infinities
    /// are over-range. `None` when `bytes` has another length.
    ///
    /// The five special mantissas are states whatever the exponent beside them, because no number may
    /// use them.
    ///
    /// # Errors
    /// [`TooManyDigits`] when the exponent leaves what is kept.
    pub fn read(self, bytes: &[u8], unit: Unit) -> Option<Result<Number, TooManyDigits>> {
        if bytes.len() != self.bytes() {
            return None;
        }
        let raw = bytes.iter().rev().fold(0u64, |whole, byte| (whole << 8) | u64::from(*byte));
        let (mantissa_bits, exponent_bits) = match self {
            MedfloatWidth::Short => (12, 4),
            MedfloatWidth::Long => (24, 8),
        };
        let mantissa = sign_extended(raw, mantissa_bits);
        let exponent = sign_extended(raw >> mantissa_bits, exponent_bits);
        let half = 1i64 << (mantissa_bits - 1);
        let infinite = mantissa == half - 2 || mantissa == 2 - half;
        let unreadable = mantissa == half - 1 || mantissa == -half || mantissa == 1 - half;
        Some(if infinite {
            Ok(Number::OVER_RANGE)
        } else if unreadable {
            Ok(Number::BLANK)
        } else {
            let exponent = i32::try_from(exponent).expect("eight bits at most");
            Number::scaled(mantissa, exponent, unit)
        })
    }
}
