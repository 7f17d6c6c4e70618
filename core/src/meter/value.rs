//! From the bytes of one frame to what the display shows.

use super::ascii::AsciiRule;
use super::fault::FrameError;
use super::float::FloatShape;
use super::integer::IntegerShape;
use super::medfloat::MedfloatWidth;
use super::number::{Number, TooManyDigits};
use super::units::Meaning;
use super::{Flags, Shown};
use crate::unit::{Quantity, Unit};
use std::cmp::Ordering;
use std::ops::Range;

/// The power of ten of an integer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exponent {
    /// Always the same.
    Fixed(i8),
    /// A byte of the frame tells it.
    Coded {
        /// Where it is.
        at: usize,
        /// Which of its bits count; they are moved down to bit 0. With all eight it is two's complement.
        mask: u8,
        /// The byte counts decimal places (2 means 10⁻²), not the power itself.
        places: bool,
        /// Added to what the byte says.
        add: i8,
    },
}

/// How the number is written in the frame. Every `at` counts from the frame's first byte.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Coding {
    /// Text.
    Ascii {
        /// Where the text begins; `None`: after the start bytes.
        at: Option<usize>,
        /// Its length; `None`: up to the check or end bytes.
        length: Option<usize>,
        /// How it is read.
        rule: AsciiRule,
    },
    /// Whole number with a power of ten.
    Integer {
        /// Where it begins.
        at: usize,
        /// Its bytes.
        shape: IntegerShape,
        /// Its power of ten.
        exponent: Exponent,
        /// The raw number that stands for overload.
        over_range: Option<i64>,
    },
    /// IEEE 754.
    Float {
        /// Where it begins.
        at: usize,
        /// Its bytes and the display's places.
        shape: FloatShape,
    },
    /// Decimal mantissa and exponent.
    Medfloat {
        /// Where it begins.
        at: usize,
        /// Its bytes.
        width: MedfloatWidth,
    },
}

impl Coding {
    /// Reads bytes that are one number and nothing else; `None` when they are not, or for text.
    pub(super) fn read_alone(&self, bytes: &[u8], unit: Unit) -> Option<Number> {
        match self {
            Coding::Ascii { .. } => None,
            Coding::Integer { shape, exponent: Exponent::Fixed(exponent), .. } => {
                Number::scaled(shape.read(bytes)?, i32::from(*exponent), unit).ok()
            }
            Coding::Integer { .. } => None,
            Coding::Float { shape, .. } => shape.read(bytes, unit)?.ok(),
            Coding::Medfloat { width, .. } => width.read(bytes, unit)?.ok(),
        }
    }
}

/// One bit of the frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bit {
    /// Which byte.
    pub at: usize,
    /// Which bit of it, 0 (lowest) to 7.
    pub bit: u8,
    /// What it is when the sign is on.
    pub when: bool,
}

impl Bit {
    fn is_on(self, frame: &[u8]) -> Result<bool, FrameError> {
        let byte = frame.get(self.at).ok_or(FrameError::Length(frame.len()))?;
        Ok((byte >> (self.bit & 7)) & 1 == u8::from(self.when))
    }
}

/// Where the signs beside the number are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FlagBits {
    /// Overload.
    pub over_range: Option<Bit>,
    /// Display held.
    pub hold: Option<Bit>,
    /// Relative.
    pub relative: Option<Bit>,
    /// Battery low.
    pub low_battery: Option<Bit>,
    /// Range picked by the meter.
    pub auto_range: Option<Bit>,
}

/// A byte that tells the setting of the meter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnitCode {
    /// Where it is.
    pub at: usize,
    /// Which of its bits count; they stay where they are.
    pub mask: u8,
    /// The codes and what each means.
    pub meanings: Vec<(u8, Meaning)>,
}

impl UnitCode {
    /// The multiplier of the setting, if it is one in `unit`.
    fn exponent(&self, frame: &[u8], unit: Unit) -> Result<i8, FrameError> {
        let code = frame.get(self.at).ok_or(FrameError::Length(frame.len()))? & self.mask;
        match self.meanings.iter().find(|(known, _)| *known == code) {
            None => Err(FrameError::UnknownUnit { text: format!("0x{code:02X}") }),
            Some((_, means)) if !means.setting.is(unit) => Err(FrameError::WrongUnit { seen: means.setting }),
            Some((_, means)) => Ok(means.exponent),
        }
    }
}

/// Everything needed to read a whole frame.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ValueRule {
    /// What is read; frames of another setting are refused.
    pub unit: Unit,
    /// How the number is written.
    pub coding: Coding,
    /// Where the setting is told; `None`: in the text, or this channel never sends another unit.
    pub unit_code: Option<UnitCode>,
    /// Signs beside the number.
    pub flags: FlagBits,
    /// The display step as the profile gives it.
    pub step: Option<Quantity>,
    /// Top of the highest range. A number above it is over-range: meters without a special value send
    /// their largest number instead.
    pub top: Option<Quantity>,
}

/// A frame as it was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Content {
    /// What the display shows.
    pub shown: Shown,
    /// Its step, where known.
    pub step: Option<Quantity>,
    /// Signs beside it.
    pub flags: Flags,
}

impl ValueRule {
    /// Reads a frame; `inside` is where a text lies that has no place of its own.
    ///
    /// The setting is looked at first: in another one no number and no overload counts.
    ///
    /// # Errors
    /// [`FrameError`]; a place beyond the frame's end is [`FrameError::Length`].
    pub fn read(&self, frame: &[u8], inside: Range<usize>) -> Result<Content, FrameError> {
        let multiplier = match &self.unit_code {
            Some(code) => code.exponent(frame, self.unit)?,
            None => 0,
        };
        let on = |bit: Option<Bit>| bit.map_or(Ok(false), |bit| bit.is_on(frame));
        let flags = Flags {
            hold: on(self.flags.hold)?,
            relative: on(self.flags.relative)?,
            low_battery: on(self.flags.low_battery)?,
            auto_range: self.flags.auto_range.map(|bit| bit.is_on(frame)).transpose()?,
        };
        let number = if on(self.flags.over_range)? {
            Number::OVER_RANGE
        } else {
            self.number(frame, inside, i32::from(multiplier))?
        };
        let over = |value: Quantity| self.top.and_then(|top| value.compare(top)) == Some(Ordering::Greater);
        let shown = match number.shown {
            Shown::Value(value) if over(value) => Shown::OverRange,
            Shown::Value(value) => Shown::Value(self.with_display_places(value)),
            state => state,
        };
        Ok(Content { shown, step: self.step_of(number.last_place), flags })
    }

    fn number(&self, frame: &[u8], inside: Range<usize>, multiplier: i32) -> Result<Number, FrameError> {
        let short = || FrameError::Length(frame.len());
        let cut = |at: usize, length: usize| frame.get(at..at.saturating_add(length)).ok_or_else(short);
        match &self.coding {
            Coding::Ascii { at, length, rule } => {
                let at = at.unwrap_or(inside.start);
                let length = length.unwrap_or(inside.end.saturating_sub(at));
                rule.read(cut(at, length)?, self.unit)
            }
            Coding::Integer { at, shape, exponent, over_range } => {
                let raw = shape.read(cut(*at, usize::from(shape.bytes))?).ok_or_else(short)?;
                if *over_range == Some(raw) {
                    return Ok(Number::OVER_RANGE);
                }
                Ok(Number::scaled(raw, exponent_in(*exponent, frame)? + multiplier, self.unit)?)
            }
            Coding::Float { at, shape } => {
                let number = shape.read(cut(*at, shape.width.bytes())?, self.unit).ok_or_else(short)??;
                Ok(times_ten_to(number, multiplier)?)
            }
            Coding::Medfloat { at, width } => {
                let number = width.read(cut(*at, width.bytes())?, self.unit).ok_or_else(short)??;
                Ok(times_ten_to(number, multiplier)?)
            }
        }
    }

    /// The step of this display: the coarser of what the profile gives and one in the last place shown.
    /// A medfloat may leave out last zeros, so there the profile's word is taken as it is.
    fn step_of(&self, last_place: Option<Quantity>) -> Option<Quantity> {
        match (self.step, last_place) {
            (Some(given), Some(last)) if !matches!(self.coding, Coding::Medfloat { .. }) => {
                Some(if given.compare(last) == Some(Ordering::Less) { last } else { given })
            }
            (given, last) => given.or(last),
        }
    }

    /// Puts back zeros a medfloat left out; changes no amount.
    fn with_display_places(&self, value: Quantity) -> Quantity {
        match (&self.coding, self.step) {
            (Coding::Medfloat { .. }, Some(step)) if value.places() < step.places() => {
                value.with_places(step.places()).unwrap_or(value)
            }
            _ => value,
        }
    }
}

fn exponent_in(exponent: Exponent, frame: &[u8]) -> Result<i32, FrameError> {
    match exponent {
        Exponent::Fixed(exponent) => Ok(i32::from(exponent)),
        Exponent::Coded { at, mask, places, add } => {
            let byte = frame.get(at).ok_or(FrameError::Length(frame.len()))?;
            let coded = match mask {
                0xFF => i32::from(byte.cast_signed()),
                0 => 0,
                _ => i32::from((byte & mask) >> mask.trailing_zeros()),
            };
            Ok(if places { -coded } else { coded } + i32::from(add))
        }
    }
}

fn times_ten_to(number: Number, exponent: i32) -> Result<Number, TooManyDigits> {
    match number.shown {
        Shown::Value(value) if exponent != 0 => {
            Number::scaled(value.digits(), exponent - i32::from(value.places()), value.unit())
        }
        _ => Ok(number),
    }
}
