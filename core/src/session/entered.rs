//! Numbers that a person typed into a field, as quantities, or the refusal that names the field.

use crate::job::Refusal;
use crate::unit::{NumberError, Quantity, Unit};

/// The field holds no number that can be used.
pub(super) fn wrong(field: &str) -> Refusal {
    Refusal::Number { field: field.into(), ambiguous: false }
}

/// A number; `confirmed`: one sign before three digits is a decimal sign.
pub(super) fn number(field: &str, text: &str, confirmed: bool) -> Result<Quantity, Refusal> {
    Quantity::typed(text, Unit::Ohm, confirmed)
        .map_err(|why| Refusal::Number { field: field.into(), ambiguous: why == NumberError::Ambiguous })
}

/// A number above zero.
pub(super) fn positive(field: &str, text: &str, confirmed: bool) -> Result<Quantity, Refusal> {
    number(field, text, confirmed).and_then(|q| if q.digits() > 0 { Ok(q) } else { Err(wrong(field)) })
}

/// 0 to 100 percent, in thousandths.
pub(super) fn milli_percent(field: &str, text: &str, confirmed: bool) -> Result<u32, Refusal> {
    let milli = number(field, text, confirmed)?.with_places(3).and_then(|q| u32::try_from(q.digits()).ok());
    milli.filter(|m| *m <= 100_000).ok_or_else(|| wrong(field))
}

/// Whole display counts, 0 to 10 000.
pub(super) fn counts(field: &str, text: &str, confirmed: bool) -> Result<u32, Refusal> {
    let counts = number(field, text, confirmed)?.with_places(0).and_then(|q| u32::try_from(q.digits()).ok());
    counts.filter(|c| *c <= 10_000).ok_or_else(|| wrong(field))
}
