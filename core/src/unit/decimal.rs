//! An exact decimal without a unit: what is typed or printed, kept digit for digit.

use super::{MAX_PLACES, NumberError, Quantity, Unit};
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;
use std::fmt;

/// `digits` × 10^−`places`. `4.50` keeps its last zero. Travels as text: `"4.50"`.
///
/// Two of them are equal when they are written alike; [`Decimal::compare`] compares amounts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Decimal {
    pub(super) digits: i64,
    pub(super) places: u8,
}

impl Decimal {
    /// `digits` × 10^−`places`; `None` if `places` is over [`MAX_PLACES`].
    pub const fn new(digits: i64, places: u8) -> Option<Decimal> {
        if places <= MAX_PLACES { Some(Decimal { digits, places }) } else { None }
    }

    /// A decimal with a point: `-0.35`, `12`, `+1.50`. Thousands separators are not accepted.
    ///
    /// # Errors
    /// [`NumberError`] with the place that is wrong.
    pub fn parse(text: &str) -> Result<Decimal, NumberError> {
        let trimmed = text.trim();
        let (negative, body) = match trimmed.as_bytes().first() {
            None => return Err(NumberError::Empty),
            Some(b'-') => (true, &trimmed[1..]),
            Some(b'+') => (false, &trimmed[1..]),
            _ => (false, trimmed),
        };
        // Counted downwards: the range of `i64` reaches one further there.
        let mut digits: i64 = 0;
        let mut places: Option<u8> = None;
        let mut seen = false;
        let sign = trimmed.len() - body.len();
        for (index, character) in body.chars().enumerate() {
            match (character, places) {
                ('0'..='9', _) => {
                    seen = true;
                    let digit = i64::from(character as u8 - b'0');
                    digits = digits.checked_mul(10).and_then(|d| d.checked_sub(digit)).ok_or(NumberError::TooLong)?;
                    if let Some(count) = places.as_mut() {
                        *count += 1;
                        if *count > MAX_PLACES {
                            return Err(NumberError::TooLong);
                        }
                    }
                }
                ('.', None) => places = Some(0),
                _ => return Err(NumberError::NotADigit(sign + index + 1)),
            }
        }
        if !seen {
            return Err(NumberError::Empty);
        }
        let digits = if negative { digits } else { digits.checked_neg().ok_or(NumberError::TooLong)? };
        Ok(Decimal { digits, places: places.unwrap_or(0) })
    }

    /// What a person typed: decimal comma and point are both accepted.
    ///
    /// # Errors
    /// [`NumberError::Ambiguous`] for one sign before exactly three digits with a leading digit other than zero
    /// (`1,234`), unless `decimal_confirmed`; otherwise as [`Decimal::parse`].
    pub fn typed(text: &str, decimal_confirmed: bool) -> Result<Decimal, NumberError> {
        let plain = text.trim().replace(',', ".");
        let body = plain.trim_start_matches(['+', '-']);
        if let Some((whole, rest)) = body.split_once('.') {
            let all_digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
            let three = rest.len() == 3 && all_digits(rest);
            let thousands = whole.len() <= 3 && all_digits(whole) && !whole.trim_start_matches('0').is_empty();
            if three && thousands && !decimal_confirmed {
                return Err(NumberError::Ambiguous);
            }
        }
        Decimal::parse(&plain)
    }

    /// The number with a unit.
    pub fn with_unit(self, unit: Unit) -> Quantity {
        Quantity { digits: self.digits, places: self.places, unit }
    }

    /// The count of smallest digits.
    pub fn digits(self) -> i64 {
        self.digits
    }

    /// Decimal places written.
    pub fn places(self) -> u8 {
        self.places
    }

    /// Nearest binary float.
    pub fn to_f64(self) -> f64 {
        self.digits as f64 / 10f64.powi(i32::from(self.places))
    }

    /// The same amount with `places` decimal places, or `None` if digits would be lost or overflow.
    pub fn with_places(self, places: u8) -> Option<Decimal> {
        if places >= self.places {
            let factor = 10i64.checked_pow(u32::from(places - self.places))?;
            Decimal::new(self.digits.checked_mul(factor)?, places)
        } else {
            let factor = 10i64.checked_pow(u32::from(self.places - places))?;
            (self.digits % factor == 0).then_some(Decimal { digits: self.digits / factor, places })
        }
    }

    /// Exact comparison of two amounts: 0.5 and 0.50 are the same amount.
    pub fn compare(self, other: Decimal) -> Ordering {
        let places = self.places.max(other.places);
        let wide = |d: Decimal| i128::from(d.digits) * 10i128.pow(u32::from(places - d.places));
        wide(self).cmp(&wide(other))
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let places = usize::from(self.places);
        let all = format!("{:0>width$}", self.digits.unsigned_abs(), width = places + 1);
        let (whole, rest) = all.split_at(all.len() - places);
        let sign = if self.digits < 0 { "-" } else { "" };
        if places == 0 { write!(f, "{sign}{whole}") } else { write!(f, "{sign}{whole}.{rest}") }
    }
}

impl From<Decimal> for String {
    fn from(decimal: Decimal) -> String {
        decimal.to_string()
    }
}

impl TryFrom<String> for Decimal {
    type Error = NumberError;
    fn try_from(text: String) -> Result<Decimal, NumberError> {
        Decimal::parse(&text)
    }
}
