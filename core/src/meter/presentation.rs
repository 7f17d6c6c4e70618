//! The descriptors by which a Bluetooth characteristic describes itself: presentation format (0x2904)
//! and valid range (0x2906). Codes: Bluetooth Assigned Numbers, section 2.4.1 and `uuids/units.yaml`.

use super::Shown;
use super::float::{FloatShape, FloatWidth};
use super::integer::{IntegerShape, Order};
use super::medfloat::MedfloatWidth;
use super::value::{Coding, Exponent};
use crate::unit::{MAX_PLACES, Quantity, Unit};

/// Namespace "main" of the description field.
const DESCRIPTION_MAIN: u16 = 0x0106;
const DESCRIPTION_FIRST: u16 = 0x0001;

/// A number format of the Bluetooth Assigned Numbers that this program reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// 0x04, 0x06, 0x08, 0x0C, 0x0E, 0x0F, 0x10.
    Integer(IntegerShape),
    /// 0x14, 0x15.
    Float(FloatWidth),
    /// 0x16, 0x17.
    Medfloat(MedfloatWidth),
}

impl Format {
    /// The format of a code; `None` for booleans, texts, structures and widths no meter needs.
    pub fn from_assigned(code: u8) -> Option<Format> {
        let integer = |bytes, signed| Some(Format::Integer(IntegerShape { bytes, signed, order: Order::Little }));
        match code {
            0x04 => integer(1, false),
            0x06 => integer(2, false),
            0x08 => integer(4, false),
            0x0C => integer(1, true),
            0x0E => integer(2, true),
            0x0F => integer(3, true),
            0x10 => integer(4, true),
            0x14 => Some(Format::Float(FloatWidth::Single)),
            0x15 => Some(Format::Float(FloatWidth::Double)),
            0x16 => Some(Format::Medfloat(MedfloatWidth::Short)),
            0x17 => Some(Format::Medfloat(MedfloatWidth::Long)),
            _ => None,
        }
    }

    /// Bytes of one value.
    pub fn bytes(self) -> usize {
        match self {
            Format::Integer(shape) => usize::from(shape.bytes),
            Format::Float(width) => width.bytes(),
            Format::Medfloat(width) => width.bytes(),
        }
    }
}

/// Why a channel cannot be read by its own description.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ChannelRefused {
    /// It has no presentation format descriptor.
    #[error("the value does not describe itself")]
    NoDescriptor,
    /// The descriptor does not have 7 bytes, but this many.
    #[error("its format descriptor has {0} bytes instead of 7")]
    DescriptorLength(usize),
    /// A format code that is not a number this program reads.
    #[error("its number format 0x{0:02X} is not one that can be read")]
    UnknownFormat(u8),
    /// A unit code other than ohm, volt and degree Celsius.
    #[error("its unit 0x{0:04X} is not ohm, volt or degree Celsius")]
    UnknownUnit(u16),
    /// A binary float does not tell how many places its display has, and nobody else did.
    #[error("the display step of this meter is unknown: a profile has to give it")]
    StepUnknown,
    /// More decimal places than are kept.
    #[error("{0} decimal places are more than can be kept")]
    Places(u8),
    /// An exponent beyond what is kept (−12 to 18).
    #[error("its exponent {0} is beyond what can be kept")]
    Exponent(i8),
    /// An exponent beside a float, where it has no meaning: a factor may or may not be meant.
    #[error("it gives an exponent {0} beside a float, so its scale is not certain")]
    ExponentBesideFloat(i8),
}

/// The seven bytes of a presentation format descriptor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Presentation {
    /// How the number is written.
    pub format: Format,
    /// Power of ten; integers only.
    pub exponent: i8,
    /// The unit code as it stands there (see [`Unit::from_assigned`]).
    pub unit_code: u16,
    /// Who numbered the descriptions: 1 is the Bluetooth SIG.
    pub namespace: u8,
    /// Which of several alike values this is: 0 unknown, 1 first, 0x0106 main.
    pub description: u16,
}

impl Presentation {
    /// Reads format, exponent, unit, namespace and description.
    ///
    /// ```
    /// use evenwire_core::{meter::presentation::Presentation, unit::Unit};
    /// let hundredths = Presentation::parse(&[0x0E, 0xFE, 0x2A, 0x27, 0x01, 0x00, 0x00]).unwrap();
    /// assert_eq!((hundredths.exponent, hundredths.unit()), (-2, Some(Unit::Ohm)));
    /// ```
    ///
    /// # Errors
    /// [`ChannelRefused`] for another length, an unknown format, or an exponent that makes no sense.
    /// The unit is not judged here.
    pub fn parse(bytes: &[u8]) -> Result<Presentation, ChannelRefused> {
        let &[code, exponent, unit_low, unit_high, namespace, low, high] = bytes else {
            return Err(ChannelRefused::DescriptorLength(bytes.len()));
        };
        let format = Format::from_assigned(code).ok_or(ChannelRefused::UnknownFormat(code))?;
        let exponent = exponent.cast_signed();
        match format {
            Format::Integer(_) if !(-12..=18).contains(&exponent) => return Err(ChannelRefused::Exponent(exponent)),
            Format::Float(_) | Format::Medfloat(_) if exponent != 0 => {
                return Err(ChannelRefused::ExponentBesideFloat(exponent));
            }
            _ => {}
        }
        let unit_code = u16::from_le_bytes([unit_low, unit_high]);
        let description = u16::from_le_bytes([low, high]);
        Ok(Presentation { format, exponent, unit_code, namespace, description })
    }

    /// The unit, if it is one this program measures in.
    pub fn unit(&self) -> Option<Unit> {
        Unit::from_assigned(self.unit_code)
    }

    /// 0 for the value marked main, 1 for the one marked first, 2 for all others: several channels
    /// alike are tried in this order.
    pub fn rank(&self) -> u8 {
        match (self.namespace, self.description) {
            (1, DESCRIPTION_MAIN) => 0,
            (1, DESCRIPTION_FIRST) => 1,
            _ => 2,
        }
    }

    /// How the values are read. `places` are the display's decimal places; only floats need them.
    ///
    /// # Errors
    /// [`ChannelRefused::StepUnknown`] for a float without `places`, [`ChannelRefused::Places`] for
    /// more than [`MAX_PLACES`].
    pub fn coding(&self, places: Option<u8>) -> Result<Coding, ChannelRefused> {
        Ok(match self.format {
            Format::Integer(shape) => {
                Coding::Integer { at: 0, shape, exponent: Exponent::Fixed(self.exponent), over_range: None }
            }
            Format::Float(width) => {
                let places = places.ok_or(ChannelRefused::StepUnknown)?;
                if places > MAX_PLACES {
                    return Err(ChannelRefused::Places(places));
                }
                Coding::Float { at: 0, shape: FloatShape { width, order: Order::Little, places } }
            }
            Format::Medfloat(width) => Coding::Medfloat { at: 0, width },
        })
    }
}

/// The upper end of a valid range descriptor: lower and upper bound, each in the channel's own format.
/// `None` when its length is wrong, an end is not a number, or the ends are not in order: then
/// nothing is known about the top.
pub fn range_top(descriptor: &[u8], coding: &Coding, unit: Unit) -> Option<Quantity> {
    if !descriptor.len().is_multiple_of(2) {
        return None;
    }
    let (lower, upper) = descriptor.split_at(descriptor.len() / 2);
    let value = |bytes| match coding.read_alone(bytes, unit)?.shown {
        Shown::Value(quantity) => Some(quantity),
        Shown::OverRange | Shown::Blank => None,
    };
    let (lower, upper) = (value(lower)?, value(upper)?);
    (upper.compare(lower)? == std::cmp::Ordering::Greater).then_some(upper)
}
