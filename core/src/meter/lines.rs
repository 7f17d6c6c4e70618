//! A recorded stream as lines of text in, readings as lines of JSON out: the rule behind
//! `evenwire-cli decode`.

use super::decoder::Decoder;
use super::fault::FrameError;
use super::{Flags, Reading, Shown};
use crate::unit::{Millis, Unit};
use serde::Serialize;

/// Most bytes of one line's frame: the longest notification of Bluetooth LE.
pub const MAX_NOTIFICATION: usize = 512;

/// Longest line, bytes. A time and a whole notification with blanks take far less.
pub const MAX_LINE: usize = 8192;

/// Why a line is not a moment with bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LineError {
    /// The first word is no count of milliseconds.
    #[error("the line has to begin with milliseconds, a whole number")]
    Time,
    /// Longer than [`MAX_LINE`].
    #[error("the line is longer than {MAX_LINE} bytes")]
    TooLong,
    /// The time is before that of an earlier line.
    #[error("the time goes back: {at} ms after {before} ms")]
    TimeGoesBack {
        /// Of this line.
        at: u64,
        /// The latest so far.
        before: u64,
    },
    /// A character that is no hexadecimal digit, with its position in the line, counted from 1.
    #[error("character {0} is not a hexadecimal digit")]
    NotHex(usize),
    /// Half a byte is left.
    #[error("an odd number of hexadecimal digits")]
    HalfByte,
    /// No bytes, or more than [`MAX_NOTIFICATION`].
    #[error("{0} bytes: a notification has 1 to {MAX_NOTIFICATION}")]
    Bytes(usize),
}

/// Reads `milliseconds hex`; blanks between hexadecimal digits do not matter. `None` for an empty line or
/// one that begins with `#`.
///
/// ```
/// use evenwire_core::{meter::lines::parse_line, unit::Millis};
/// assert_eq!(parse_line("1250 B9 E0"), Ok(Some((Millis(1250), vec![0xB9, 0xE0]))));
/// ```
///
/// # Errors
/// [`LineError`] with what is wrong.
pub fn parse_line(line: &str) -> Result<Option<(Millis, Vec<u8>)>, LineError> {
    if line.len() > MAX_LINE {
        return Err(LineError::TooLong);
    }
    let trimmed = line.trim_start();
    if trimmed.trim_end().is_empty() || trimmed.starts_with('#') {
        return Ok(None);
    }
    let stop = trimmed.find(char::is_whitespace).unwrap_or(trimmed.len());
    let (time, hex) = trimmed.split_at(stop);
    let all_digits = time.bytes().all(|b| b.is_ascii_digit());
    let at = time.parse().ok().filter(|_| all_digits).ok_or(LineError::Time)?;
    let before = line.chars().count() - hex.chars().count();
    let mut half: Option<u8> = None;
    let mut bytes = Vec::new();
    for (index, character) in hex.chars().enumerate().filter(|(_, c)| !c.is_whitespace()) {
        let digit = character.to_digit(16).and_then(|digit| u8::try_from(digit).ok());
        let digit = digit.ok_or(LineError::NotHex(before + index + 1))?;
        match half.take() {
            Some(high) => bytes.push((high << 4) | digit),
            None => half = Some(digit),
        }
    }
    if half.is_some() {
        return Err(LineError::HalfByte);
    }
    if !(1..=MAX_NOTIFICATION).contains(&bytes.len()) {
        return Err(LineError::Bytes(bytes.len()));
    }
    Ok(Some((Millis(at), bytes)))
}

#[derive(Serialize)]
struct Written {
    at_ms: u64,
    state: &'static str,
    value: Option<String>,
    unit: Unit,
    flags: Vec<&'static str>,
}

/// A reading as one line of JSON: `{"at_ms":…,"state":…,"value":…,"unit":…,"flags":[…]}`. `value` is null
/// unless the state is `value`.
pub fn json_line(reading: &Reading, unit: Unit) -> String {
    let (state, value) = match reading.shown {
        Shown::Value(quantity) => ("value", Some(quantity.to_string())),
        Shown::OverRange => ("over-range", None),
        Shown::Blank => ("blank", None),
    };
    let Flags { hold, relative, low_battery, auto_range } = reading.flags;
    let signs = [
        (hold, "hold"),
        (relative, "relative"),
        (low_battery, "low-battery"),
        (auto_range == Some(true), "auto-range"),
    ];
    let flags = signs.iter().filter(|(on, _)| *on).map(|(_, sign)| *sign).collect();
    let written = Written { at_ms: reading.at.0, state, value, unit, flags };
    serde_json::to_string(&written).expect("numbers and texts always become JSON")
}

/// Decodes a recorded stream line by line and keeps the tally.
#[derive(Clone, Debug)]
pub struct LineDecoder {
    decoder: Decoder,
    latest: Option<Millis>,
    tally: Tally,
}

/// What came of the lines so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Readings given.
    pub readings: u64,
    /// Frames that gave none.
    pub frame_errors: u64,
    /// Lines that could not be read.
    pub bad_lines: u64,
    /// Bytes that were part of no whole frame.
    pub skipped: u64,
}

impl Tally {
    /// True when everything that came in was read.
    pub fn is_clean(self) -> bool {
        self.frame_errors == 0 && self.bad_lines == 0 && self.skipped == 0
    }
}

impl LineDecoder {
    /// Begins a stream.
    pub fn new(decoder: Decoder) -> LineDecoder {
        LineDecoder { decoder, latest: None, tally: Tally::default() }
    }

    /// Takes one line and gives a line of JSON or an error for each frame that is complete now.
    ///
    /// # Errors
    /// [`LineError`]; the line changes nothing but the tally.
    pub fn push(&mut self, line: &str) -> Result<Vec<Result<String, FrameError>>, LineError> {
        let parsed = parse_line(line).and_then(|parsed| match (&parsed, self.latest) {
            (Some((at, _)), Some(before)) if *at < before => {
                Err(LineError::TimeGoesBack { at: at.0, before: before.0 })
            }
            _ => Ok(parsed),
        });
        let (at, bytes) = match parsed {
            Ok(Some(parsed)) => parsed,
            Ok(None) => return Ok(Vec::new()),
            Err(error) => {
                self.tally.bad_lines += 1;
                return Err(error);
            }
        };
        self.latest = Some(at);
        let unit = self.decoder.facts().unit;
        let mut given = Vec::new();
        for result in self.decoder.push(&bytes, at) {
            match &result {
                Ok(_) => self.tally.readings += 1,
                Err(_) => self.tally.frame_errors += 1,
            }
            given.push(result.map(|reading| json_line(&reading, unit)));
        }
        Ok(given)
    }

    /// The tally up to now.
    pub fn tally(&self) -> Tally {
        Tally { skipped: self.decoder.skipped(), ..self.tally }
    }
}
