//! Samples to bytes and back.

use super::{MOST, MOST_RAW, Sample, first, second};
use crate::meter::Shown;
use crate::unit::Unit;

/// The coding written now. Payloads of coding 1 are read for good.
pub const CODEC: u16 = 2;
/// Readings of one chunk at most; a chunk that claims more is damaged.
pub(super) const MOST_READINGS: usize = MOST * MOST_RAW;
/// What a payload of coding 2 begins with. No deflated one (coding 1) does: its bits 1 and 2 name a kind of block that
/// RFC 1951 reserves.
const MARK: u8 = 0x56;

/// Why a payload cannot be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CodingError {
    /// Written by a newer program.
    #[error("samples are coded in a way this program does not know ({0})")]
    Codec(u16),
    /// Not whole.
    #[error("samples are damaged")]
    Damaged,
}

/// Codes `samples` as they are.
pub(super) fn encode(samples: &[Sample]) -> Vec<u8> {
    second::encode(samples, vec![MARK])
}

/// The samples of a payload, by whatever coding it was written.
///
/// # Errors
/// [`CodingError::Damaged`].
pub fn samples_of(payload: &[u8]) -> Result<Vec<Sample>, CodingError> {
    match payload.split_first() {
        Some((&MARK, rest)) => second::decode(rest),
        _ => first::decode(payload),
    }
}

/// By which coding a payload was written.
pub(super) fn codec_of(payload: &[u8]) -> u16 {
    if payload.first() == Some(&MARK) { CODEC } else { 1 }
}

pub(super) fn sign_of(shown: Shown) -> u8 {
    match shown {
        Shown::OverRange => 0,
        Shown::Blank => 1,
        Shown::Value(quantity) => match quantity.unit() {
            Unit::Ohm => 2,
            Unit::Volt => 3,
            Unit::Celsius => 4,
        },
    }
}

pub(super) fn unit_of(sign: u8) -> Option<Unit> {
    match sign {
        2 => Some(Unit::Ohm),
        3 => Some(Unit::Volt),
        4 => Some(Unit::Celsius),
        _ => None,
    }
}
