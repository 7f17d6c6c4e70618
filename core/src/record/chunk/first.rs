//! Coding 1, read and no longer written: columns of variable-length integers, deflated (RFC 1951).

use super::coding::{CodingError, MOST_READINGS, unit_of};
use super::{MOST, MOST_RAW, Sample};
use crate::meter::Shown;
use crate::unit::{Millis, Quantity};
use miniz_oxide::inflate::decompress_to_vec_with_limit;

/// A payload never unfolds to more than this.
const MOST_PLAIN: usize = 4 * 1024 * 1024;

/// The samples of a payload.
pub(super) fn decode(payload: &[u8]) -> Result<Vec<Sample>, CodingError> {
    let plain = decompress_to_vec_with_limit(payload, MOST_PLAIN).map_err(|_| CodingError::Damaged)?;
    let mut from = Cursor { rest: &plain };
    let count = from.count(MOST)?;
    let mut samples = Vec::with_capacity(count);
    let mut last = (0i64, 0i64);
    for _ in 0..count {
        let interval = last.1.wrapping_add(from.signed()?);
        let at = last.0.wrapping_add(interval);
        last = (at, interval);
        samples.push(Sample { at: Millis(at as u64), raw: Vec::new(), shown: Vec::new() });
    }
    let per_sample: Vec<usize> = (0..count).map(|_| from.count(MOST_READINGS)).collect::<Result<_, _>>()?;
    let total: usize = per_sample.iter().sum();
    if total > MOST_READINGS {
        return Err(CodingError::Damaged);
    }
    let readings = decode_readings(&mut from, total)?;
    let mut next = readings.into_iter();
    for (sample, count) in samples.iter_mut().zip(per_sample) {
        sample.shown = next.by_ref().take(count).collect();
    }
    decode_raw(&mut from, &mut samples)?;
    if from.rest.is_empty() { Ok(samples) } else { Err(CodingError::Damaged) }
}

fn decode_readings(from: &mut Cursor<'_>, total: usize) -> Result<Vec<Shown>, CodingError> {
    let signs: Vec<u8> = (0..total).map(|_| from.byte()).collect::<Result<_, _>>()?;
    let values = signs.iter().filter(|s| unit_of(**s).is_some()).count();
    let places: Vec<u8> = (0..values).map(|_| from.byte()).collect::<Result<_, _>>()?;
    let mut places = places.into_iter();
    let mut digits = 0i64;
    let mut readings = Vec::with_capacity(total);
    for sign in signs {
        readings.push(match (sign, unit_of(sign)) {
            (0, _) => Shown::OverRange,
            (1, _) => Shown::Blank,
            (_, Some(unit)) => {
                digits = digits.wrapping_add(from.signed()?);
                let places = places.next().ok_or(CodingError::Damaged)?;
                Shown::Value(Quantity::new(digits, places, unit).ok_or(CodingError::Damaged)?)
            }
            _ => return Err(CodingError::Damaged),
        });
    }
    Ok(readings)
}

fn decode_raw(from: &mut Cursor<'_>, samples: &mut [Sample]) -> Result<(), CodingError> {
    let lengths: Vec<usize> = (0..samples.len()).map(|_| from.count(MOST_RAW)).collect::<Result<_, _>>()?;
    for place in 0..lengths.iter().copied().max().unwrap_or(0) {
        for (sample, length) in samples.iter_mut().zip(&lengths) {
            if place < *length {
                sample.raw.push(from.byte()?);
            }
        }
    }
    Ok(())
}

struct Cursor<'a> {
    rest: &'a [u8],
}

impl Cursor<'_> {
    fn byte(&mut self) -> Result<u8, CodingError> {
        let (first, rest) = self.rest.split_first().ok_or(CodingError::Damaged)?;
        self.rest = rest;
        Ok(*first)
    }

    fn number(&mut self) -> Result<u64, CodingError> {
        let mut value = 0u64;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            value |= u64::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return Ok(value);
            }
        }
        Err(CodingError::Damaged)
    }

    fn signed(&mut self) -> Result<i64, CodingError> {
        let value = self.number()?;
        Ok((value >> 1) as i64 ^ -((value & 1) as i64))
    }

    fn count(&mut self, most: usize) -> Result<usize, CodingError> {
        let count = usize::try_from(self.number()?).map_err(|_| CodingError::Damaged)?;
        if count > most { Err(CodingError::Damaged) } else { Ok(count) }
    }
}
