//! Numbers as text: sign, digits, a decimal sign, perhaps a power of ten, and the unit in words.

use super::fault::FrameError;
use super::number::Number;
use super::units::{Meaning, meaning};
use crate::unit::{Quantity, Unit};

/// Whether a number comes with its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnitText {
    /// A number without a unit word is refused.
    Required,
    /// The meter sends no unit words; any word is refused.
    Absent,
}

/// How the text is read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AsciiRule {
    /// Decimal sign, `.` or `,`.
    pub decimal: char,
    /// Words for overload, longest first, lower case.
    pub over_range: Vec<String>,
    /// Words for a blank display, longest first, lower case.
    pub blank: Vec<String>,
    /// Unit words of this meter beside the ones everyone uses; the letter case counts.
    pub words: Vec<(String, Meaning)>,
    /// Whether the unit is in the text.
    pub unit_text: UnitText,
}

/// Most characters of a foreign text an error carries.
const QUOTED: usize = 24;

impl AsciiRule {
    /// Reads one text in `unit`. Blanks and control characters around it do not matter; an empty text
    /// is a blank display. An over-range word may stand without a unit; with a foreign one it is
    /// refused like a number.
    ///
    /// # Errors
    /// [`FrameError`]: not a number, no unit, an unknown or a wrong unit, more digits than are kept.
    pub fn read(&self, bytes: &[u8], unit: Unit) -> Result<Number, FrameError> {
        let text = String::from_utf8_lossy(bytes);
        let text = text.trim_matches(|c: char| c.is_whitespace() || c.is_control());
        if text.is_empty() {
            return Ok(Number::BLANK);
        }
        let (negative, unsigned) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text.strip_prefix('+').unwrap_or(text)),
        };
        let unsigned = unsigned.trim_start();
        if let Some(rest) = [unsigned, text].iter().find_map(|t| after_word(t, &self.over_range)) {
            self.unit_of(rest, unit)?;
            return Ok(Number::OVER_RANGE);
        }
        if let Some(rest) = [text, unsigned].iter().find_map(|t| after_word(t, &self.blank)) {
            self.unit_of(rest, unit)?;
            return Ok(Number::BLANK);
        }
        let not_a_number = || FrameError::NotANumber { text: quoted(text) };
        let decimal = Decimal::split(unsigned, self.decimal).ok_or_else(not_a_number)?;
        let multiplier = match self.unit_of(decimal.rest, unit)? {
            Some(exponent) => exponent,
            None if self.unit_text == UnitText::Absent => 0,
            None => return Err(FrameError::NoUnit),
        };
        let digits = Quantity::parse(&decimal.digits, unit).map_err(|_| FrameError::TooManyDigits)?.digits();
        let digits = if negative { -digits } else { digits };
        Ok(Number::scaled(digits, decimal.exponent + i32::from(multiplier), unit)?)
    }

    /// The multiplier of a unit word; `None` if there is no word.
    fn unit_of(&self, word: &str, unit: Unit) -> Result<Option<i8>, FrameError> {
        let word = word.trim();
        if word.is_empty() {
            return Ok(None);
        }
        let own = self.words.iter().find(|(known, _)| known == word).map(|(_, means)| *means);
        match own.or_else(|| meaning(word)) {
            Some(means) if !means.setting.is(unit) => Err(FrameError::WrongUnit { seen: means.setting }),
            Some(means) if self.unit_text == UnitText::Required => Ok(Some(means.exponent)),
            _ => Err(FrameError::UnknownUnit { text: quoted(word) }),
        }
    }
}

/// What follows one of `words` at the start of `text`, if the word ends there.
fn after_word<'t>(text: &'t str, words: &[String]) -> Option<&'t str> {
    words.iter().find_map(|word| {
        let head = text.get(..word.len())?;
        let rest = &text[word.len()..];
        let ends = !rest.starts_with(|c: char| c.is_ascii_alphanumeric());
        (head.eq_ignore_ascii_case(word) && ends).then_some(rest)
    })
}

fn quoted(text: &str) -> String {
    text.chars().take(QUOTED).collect()
}

/// A number cut from what follows it.
struct Decimal<'t> {
    digits: String,
    exponent: i32,
    rest: &'t str,
}

impl Decimal<'_> {
    /// Digits with at most one decimal sign, then perhaps `E` with a signed power of ten.
    fn split(text: &str, sign: char) -> Option<Decimal<'_>> {
        let stop = text.find(|c: char| !c.is_ascii_digit() && c != sign).unwrap_or(text.len());
        let (number, rest) = text.split_at(stop);
        let (whole, fraction) = number.split_once(sign).unwrap_or((number, ""));
        if (whole.is_empty() && fraction.is_empty()) || fraction.contains(sign) {
            return None;
        }
        let places = i32::try_from(fraction.len()).ok()?;
        let (power, rest) = power_of_ten(rest).unwrap_or((0, rest));
        Some(Decimal { digits: format!("{whole}{fraction}"), exponent: power - places, rest })
    }
}

/// `E+03` and the like at the start of `text`, at most three digits, with what follows.
fn power_of_ten(text: &str) -> Option<(i32, &str)> {
    let after = text.strip_prefix(['e', 'E'])?;
    let digits = after.strip_prefix(['+', '-']).unwrap_or(after);
    let stop = digits.find(|c: char| !c.is_ascii_digit()).unwrap_or(digits.len());
    if !(1..=3).contains(&stop) {
        return None;
    }
    let size: i32 = digits[..stop].parse().ok()?;
    Some((if after.starts_with('-') { -size } else { size }, &digits[stop..]))
}
