//! Diagnostic trouble codes: two bytes or three, the text people say, and codes of makers that fit no form.
//!
//! SAE J2012 / ISO 15031-6 (as several public decoders read them): two bits for P, C, B, U, two bits for the first
//! digit, three hexadecimal digits; a third byte is the failure type byte. What the byte means is help for reading:
//! lists of it differ, so the raw byte is what is kept.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Letters by the two highest bits: powertrain, chassis, body, network.
const SYSTEMS: [char; 4] = ['P', 'C', 'B', 'U'];

/// Most characters of a code that is kept as text.
pub const MAX_OWN: usize = 40;

/// A trouble code as it was read or typed. Travels as its text.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum TroubleCode {
    /// A code in the standard's form.
    Standard(StandardCode),
    /// A maker's own or an older code, kept as it was typed: 1 to [`MAX_OWN`] characters, and in no standard form.
    Own(OwnCode),
}

/// A code in the standard's form: `B0001`, or `B0001-13` with its failure type byte. Never `P0000`, which says that
/// there is no code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StandardCode {
    number: u16,
    failure_type: Option<u8>,
}

/// The text of a code in no standard form.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct OwnCode(String);

/// Why a text is no trouble code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotATroubleCode {
    /// Nothing was typed.
    #[error("no code")]
    Empty,
    /// `P0000`: the control unit has no code stored.
    #[error("P0000 says that there is no code")]
    NoCode,
    /// More than [`MAX_OWN`] characters, or a control character among them.
    #[error("more than 40 characters, or some that cannot be printed")]
    NotPrintable,
}

impl StandardCode {
    /// The two-byte form. `None` for 00 00: no code, not a fault.
    pub fn from_two([high, low]: [u8; 2]) -> Option<StandardCode> {
        let number = u16::from_be_bytes([high, low]);
        (number != 0).then_some(StandardCode { number, failure_type: None })
    }

    /// The three-byte form, the failure type byte last. `None` when the first two are 00 00.
    ///
    /// ```
    /// use evenwire_core::dtc::StandardCode;
    /// assert_eq!(StandardCode::from_three([0x80, 0x01, 0x13]).unwrap().to_string(), "B0001-13");
    /// ```
    pub fn from_three([high, low, failure_type]: [u8; 3]) -> Option<StandardCode> {
        let code = StandardCode::from_two([high, low])?;
        Some(StandardCode { failure_type: Some(failure_type), ..code })
    }

    /// The first two bytes.
    pub fn bytes(self) -> [u8; 2] {
        self.number.to_be_bytes()
    }

    /// The failure type byte, if the code came with one. 00 says "no subtype" and is not the same as none.
    pub fn failure_type(self) -> Option<u8> {
        self.failure_type
    }

    /// `Ok(None)` for a text in no standard form.
    fn read(text: &str) -> Result<Option<StandardCode>, NotATroubleCode> {
        let text = text.to_ascii_uppercase();
        let (code, failure_type) = match text.split_once('-') {
            Some((code, byte)) => match hexadecimal(byte, 2) {
                Some(byte) => (code, Some(byte.to_be_bytes()[1])),
                None => return Ok(None),
            },
            None => (text.as_str(), None),
        };
        let mut rest = code.chars();
        let (Some(letter), Some(first @ '0'..='3')) = (rest.next(), rest.next()) else { return Ok(None) };
        let (Some(system), Some(low)) = (SYSTEMS.iter().position(|s| *s == letter), hexadecimal(rest.as_str(), 3))
        else {
            return Ok(None);
        };
        let system = u16::try_from(system).expect("one of four");
        let first = u16::from(first as u8 - b'0');
        match system << 14 | first << 12 | low {
            0 => Err(NotATroubleCode::NoCode),
            number => Ok(Some(StandardCode { number, failure_type })),
        }
    }
}

/// Exactly `digits` hexadecimal digits, at most four.
fn hexadecimal(text: &str, digits: usize) -> Option<u16> {
    let sound = text.len() == digits && text.bytes().all(|b| b.is_ascii_hexdigit());
    sound.then(|| u16::from_str_radix(text, 16).ok()).flatten()
}

impl fmt::Display for StandardCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let system = SYSTEMS[usize::from(self.number >> 14)];
        write!(f, "{system}{}{:03X}", self.number >> 12 & 3, self.number & 0xFFF)?;
        self.failure_type.map_or(Ok(()), |byte| write!(f, "-{byte:02X}"))
    }
}

impl TroubleCode {
    /// What a person typed. Small letters are taken; what is in no standard form is kept as it is.
    ///
    /// # Errors
    /// [`NotATroubleCode`]: nothing, "no code", or no text that can be printed.
    pub fn parse(text: &str) -> Result<TroubleCode, NotATroubleCode> {
        let text = text.trim();
        if text.is_empty() {
            return Err(NotATroubleCode::Empty);
        }
        if text.chars().count() > MAX_OWN || text.chars().any(char::is_control) {
            return Err(NotATroubleCode::NotPrintable);
        }
        Ok(match StandardCode::read(text)? {
            Some(code) => TroubleCode::Standard(code),
            None => TroubleCode::Own(OwnCode(text.to_owned())),
        })
    }
}

impl OwnCode {
    /// The text as typed.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for TroubleCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TroubleCode::Standard(code) => code.fmt(f),
            TroubleCode::Own(code) => f.write_str(&code.0),
        }
    }
}

impl From<TroubleCode> for String {
    fn from(code: TroubleCode) -> String {
        code.to_string()
    }
}

impl TryFrom<String> for TroubleCode {
    type Error = NotATroubleCode;
    fn try_from(text: String) -> Result<TroubleCode, NotATroubleCode> {
        TroubleCode::parse(&text)
    }
}

/// A short meaning in both languages of the product.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Meaning {
    /// English.
    pub en: &'static str,
    /// German.
    pub de: &'static str,
}

const fn means(en: &'static str, de: &'static str) -> Option<Meaning> {
    Some(Meaning { en, de })
}

/// What a failure type byte means, in our own words: help for reading, never a finding. `None` where the lists seen
/// do not say the same or nothing was seen: then the byte speaks for itself.
///
/// SAE J2012-DA (five public lists agree on what is given here).
pub fn failure_type_meaning(byte: u8) -> Option<Meaning> {
    match byte {
        0x00 => means("no further detail", "ohne nähere Angabe"),
        0x01 => means("electrical fault in general", "elektrischer Fehler allgemein"),
        0x11 => means("short to ground", "Schluss nach Masse"),
        0x12 => means("short to battery", "Schluss nach Plus"),
        0x13 => means("open circuit", "Unterbrechung"),
        0x14 => means("short to ground, or open", "Schluss nach Masse oder Unterbrechung"),
        0x15 => means("short to battery, or open", "Schluss nach Plus oder Unterbrechung"),
        0x16 => means("voltage too low", "Spannung zu niedrig"),
        0x17 => means("voltage too high", "Spannung zu hoch"),
        0x18 => means("current too low", "Strom zu niedrig"),
        0x19 => means("current too high", "Strom zu hoch"),
        0x1A => means("resistance too low", "Widerstand zu niedrig"),
        0x1B => means("resistance too high", "Widerstand zu hoch"),
        0x1F => means("comes and goes", "kommt und geht"),
        0x21 => means("signal amplitude too low", "Signalamplitude zu niedrig"),
        0x22 => means("signal amplitude too high", "Signalamplitude zu hoch"),
        0x23 => means("signal stuck low", "Signal bleibt niedrig"),
        0x24 => means("signal stuck high", "Signal bleibt hoch"),
        _ => None,
    }
}

/// The family a failure type byte belongs to, by its high digit. `None` from A0 on.
pub fn failure_type_family(byte: u8) -> Option<Meaning> {
    match byte >> 4 {
        0x0 => means("general", "allgemein"),
        0x1 => means("electrical", "elektrisch"),
        0x2 => means("signal", "Signal"),
        0x3 => means("frequency or pulse width", "Frequenz oder Pulsweite"),
        0x4 => means("inside the control unit", "im Steuergerät"),
        0x5 => means("programming", "Programmierung"),
        0x6 => means("algorithm", "Algorithmus"),
        0x7 => means("mechanical", "mechanisch"),
        0x8 => means("bus", "Datenbus"),
        0x9 => means("component", "Bauteil"),
        _ => None,
    }
}
