//! A display as the bytes of a notification.

use super::meter_model::{COUNTS, Display, MeterModel, Misbehaviour};
use evenwire_core::meter::Shown;
use evenwire_core::meter::checksum::ChecksumKind;
use evenwire_core::meter::link::{Channel, Offer};
use evenwire_core::unit::Unit;
use uuid::{Uuid, uuid};

/// What the practice meter is called.
pub const NAME: &str = "Practice meter";
/// Its serial number.
pub const SERIAL: &str = "PRACTICE-1";

/// Largest mantissa of a 32-bit medfloat; the five above and below are states.
const MANTISSA_MOST: i64 = 0x7F_FFFD;
const NOT_A_NUMBER: u32 = 0x007F_FFFF;
const PLUS_INFINITE: u32 = 0x007F_FFFE;
/// Number of a 24-bit "status and integer" frame that stands for overload.
const FRAME_OVER_RANGE: i32 = 0x7F_FFFF;
/// Settings of that frame, as its profile names them.
const VOLT: u8 = 1;
const OHM: u8 = 2;
const KILO_OHM: u8 = 3;
const MEGOHM: u8 = 5;

/// How readings become bytes. The last two are those of the built-in meter profiles of the same name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// A 32-bit medfloat that describes itself (presentation format 0x17, unit 0x272A; +INF is
    /// over-range, NaN blank).
    Medfloat32,
    /// The display as a line of text, 15 bytes: `#+0.352 ohm  ` and CR LF.
    TextLine,
    /// Ten bytes with setting, places, status, a 24-bit number and CRC-16.
    StatusInteger,
}

impl Encoding {
    /// Service and characteristic the values come from.
    pub fn channel_ids(self) -> (Uuid, Uuid) {
        match self {
            Encoding::Medfloat32 => {
                (uuid!("6f0b7a10-52c1-4d0e-9d3b-1f6a4c58e201"), uuid!("6f0b7a11-52c1-4d0e-9d3b-1f6a4c58e201"))
            }
            Encoding::TextLine => {
                (uuid!("8d2c0001-6b1f-4f0a-9a57-2f4e5d3b7c10"), uuid!("8d2c0002-6b1f-4f0a-9a57-2f4e5d3b7c10"))
            }
            Encoding::StatusInteger => {
                (uuid!("8d2c0101-6b1f-4f0a-9a57-2f4e5d3b7c10"), uuid!("8d2c0102-6b1f-4f0a-9a57-2f4e5d3b7c10"))
            }
        }
    }

    /// Bytes of one notification.
    pub fn length(self) -> usize {
        match self {
            Encoding::Medfloat32 => 4,
            Encoding::TextLine => 15,
            Encoding::StatusInteger => 10,
        }
    }

    /// The bytes of a display.
    pub fn bytes(self, display: &Display) -> Vec<u8> {
        match self {
            Encoding::Medfloat32 => medfloat(display.shown),
            Encoding::TextLine => text_line(display.shown),
            Encoding::StatusInteger => status_integer(display),
        }
    }

    /// It has signs for hold and battery.
    pub(super) fn has_signs(self) -> bool {
        self == Encoding::StatusInteger
    }
}

/// What the practice meter offers when it is connected.
pub fn offer(meter: &MeterModel) -> Offer {
    let (service, characteristic) = meter.encoding.channel_ids();
    let describes = meter.encoding == Encoding::Medfloat32;
    let unit: [u8; 2] = if meter.misbehaviour == Some(Misbehaviour::WrongUnit) { [0x28, 0x27] } else { [0x2A, 0x27] };
    // Format, exponent, unit, namespace 1, description 0x0106 "main".
    let presentation = vec![0x17, 0, unit[0], unit[1], 1, 0x06, 0x01];
    let range = [medfloat_word(0, 0), medfloat_word(i64::from(meter.top_ohm), 0)].map(u32::to_le_bytes).concat();
    Offer {
        name: NAME.to_owned(),
        serial: Some(SERIAL.to_owned()),
        channels: vec![Channel {
            service,
            characteristic,
            notifies: true,
            presentation: describes.then_some(presentation),
            valid_range: describes.then_some(range),
        }],
    }
}

/// A whole number of ohms as a range counts it that steps in tens, hundreds and so on: its counts and their power.
fn in_tens(digits: i64) -> (i64, u8) {
    let (mut counts, mut power) = (digits, 0);
    while counts.abs() > COUNTS && counts % 10 == 0 {
        counts /= 10;
        power += 1;
    }
    (counts, power)
}

/// A number as 32-bit medfloat; beyond its mantissa it is over-range.
fn medfloat_word(digits: i64, places: u8) -> u32 {
    let (digits, power) = if places == 0 { in_tens(digits) } else { (digits, 0) };
    if digits.abs() > MANTISSA_MOST {
        return PLUS_INFINITE;
    }
    let mantissa = u32::try_from(digits & 0xFF_FFFF).expect("24 bits");
    let exponent = power.cast_signed() - places.cast_signed();
    mantissa | u32::from(exponent.cast_unsigned()) << 24
}

fn medfloat(shown: Shown) -> Vec<u8> {
    let word = match shown {
        Shown::Value(quantity) => medfloat_word(quantity.digits(), quantity.places()),
        Shown::OverRange => PLUS_INFINITE,
        Shown::Blank => NOT_A_NUMBER,
    };
    word.to_le_bytes().to_vec()
}

fn text_line(shown: Shown) -> Vec<u8> {
    let text = match shown {
        Shown::Value(quantity) => {
            let sign = if quantity.digits() < 0 { "" } else { "+" };
            let word = if quantity.unit() == Unit::Ohm { "ohm" } else { "V" };
            format!("{sign}{quantity} {word}")
        }
        Shown::OverRange => "OL    ohm".to_owned(),
        Shown::Blank => "----  ohm".to_owned(),
    };
    // A text too long for the line would be cut in its unit; such a value is over-range.
    let text = if text.len() > 12 { "OL    ohm".to_owned() } else { text };
    format!("#{text:<12}\r\n").into_bytes()
}

fn status_integer(display: &Display) -> Vec<u8> {
    let (number, setting, places) = match display.shown {
        Shown::Value(quantity) => {
            let (counts, power) = match quantity.places() {
                0 => in_tens(quantity.digits()),
                _ => (quantity.digits(), 0),
            };
            // Kilo-ohm with up to two places, above them megohm.
            let (setting, places) = match power {
                _ if quantity.unit() != Unit::Ohm => (VOLT, display.places),
                0 => (OHM, display.places),
                1..=3 => (KILO_OHM, 3 - power),
                _ => (MEGOHM, 6u8.saturating_sub(power)),
            };
            (i32::try_from(counts).unwrap_or(FRAME_OVER_RANGE), setting, places)
        }
        Shown::OverRange | Shown::Blank => (FRAME_OVER_RANGE, OHM, display.places),
    };
    let over = number >= FRAME_OVER_RANGE || number <= -FRAME_OVER_RANGE;
    let number = if over { FRAME_OVER_RANGE } else { number };
    let flags = display.flags;
    // The bit for the range picked by hand is set when it is not picked by the meter.
    let status = [over, flags.hold, flags.relative, flags.low_battery, flags.auto_range == Some(false)];
    let status = status.iter().enumerate().fold(0u8, |byte, (bit, on)| byte | u8::from(*on) << bit);
    let [_, high, middle, low] = number.to_be_bytes();
    let mut frame = vec![0xA5, 0x5A, setting, places, status, high, middle, low];
    let check = ChecksumKind::Crc16Modbus.of(&frame[2..]);
    frame.extend(check.to_le_bytes());
    frame
}
