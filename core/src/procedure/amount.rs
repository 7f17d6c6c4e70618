//! Figures of a procedure as they are published: an exact decimal with its unit, never converted by itself.

use crate::torque::TorqueUnit;
use crate::unit::{Decimal, NumberError, Quantity, Unit};
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;
use std::fmt;

/// What sort of thing is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Dimension {
    /// Electrical resistance.
    Resistance,
    /// Voltage.
    Voltage,
    /// Temperature.
    Temperature,
    /// Time.
    Time,
    /// Torque.
    Torque,
    /// An angle of a wheel or a plug.
    Angle,
    /// Turns of a rotor.
    Turns,
    /// Length.
    Length,
    /// Cross section of a conductor.
    Area,
    /// Share of a hundred.
    Share,
    /// Speed.
    Speed,
}

/// A unit as it stands in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Measure {
    /// Ω
    Ohm,
    /// mΩ
    Milliohm,
    /// kΩ
    Kilohm,
    /// MΩ
    Megohm,
    /// V
    Volt,
    /// mV
    Millivolt,
    /// °C
    Celsius,
    /// s
    Second,
    /// min
    Minute,
    /// N·m
    NewtonMetre,
    /// lbf·ft
    PoundFoot,
    /// lbf·in
    PoundInch,
    /// °
    Degree,
    /// turns
    Turn,
    /// mm
    Millimetre,
    /// mm²
    SquareMillimetre,
    /// %
    Percent,
    /// km/h
    KilometrePerHour,
}

/// Unit, its sign, other ways to write it, what it measures, and its size in the smallest unit of that dimension.
/// Torque is counted as [`TorqueUnit`] counts it.
type Row = (Measure, &'static str, &'static [&'static str], Dimension, i128);

const ROWS: [Row; 18] = [
    (Measure::Ohm, "Ω", &["\u{2126}", "ohm"], Dimension::Resistance, 1_000),
    (Measure::Milliohm, "mΩ", &["m\u{2126}", "mohm"], Dimension::Resistance, 1),
    (Measure::Kilohm, "kΩ", &["k\u{2126}", "kohm"], Dimension::Resistance, 1_000_000),
    (Measure::Megohm, "MΩ", &["M\u{2126}", "Mohm"], Dimension::Resistance, 1_000_000_000),
    (Measure::Volt, "V", &["volt"], Dimension::Voltage, 1_000),
    (Measure::Millivolt, "mV", &[], Dimension::Voltage, 1),
    (Measure::Celsius, "°C", &["C", "celsius"], Dimension::Temperature, 1),
    (Measure::Second, "s", &["seconds"], Dimension::Time, 1),
    (Measure::Minute, "min", &["minutes"], Dimension::Time, 60),
    (Measure::NewtonMetre, "N·m", &["Nm", "N m"], Dimension::Torque, TorqueUnit::NewtonMetre.in_parts()),
    (Measure::PoundFoot, "lbf·ft", &["lbf ft", "lbf.ft"], Dimension::Torque, TorqueUnit::PoundForceFoot.in_parts()),
    (Measure::PoundInch, "lbf·in", &["lbf in", "lbf.in"], Dimension::Torque, TorqueUnit::PoundForceInch.in_parts()),
    (Measure::Degree, "°", &["deg", "degrees"], Dimension::Angle, 1),
    (Measure::Turn, "turns", &["turn"], Dimension::Turns, 1),
    (Measure::Millimetre, "mm", &[], Dimension::Length, 1),
    (Measure::SquareMillimetre, "mm²", &["mm2"], Dimension::Area, 1),
    (Measure::Percent, "%", &[], Dimension::Share, 1),
    (Measure::KilometrePerHour, "km/h", &[], Dimension::Speed, 1),
];

/// Most digits of a figure.
const MOST_DIGITS: usize = 9;
/// Most decimal places of a figure.
const MOST_PLACES: u8 = 6;

impl Measure {
    fn row(self) -> &'static Row {
        let row = &ROWS[self as usize];
        debug_assert_eq!(row.0, self, "rows stand in the order of the units");
        row
    }

    /// The sign printed after a number: "N·m".
    pub fn sign(self) -> &'static str {
        self.row().1
    }

    /// What it measures.
    pub fn dimension(self) -> Dimension {
        self.row().3
    }

    /// As a unit of torque, if it is one.
    pub fn torque_unit(self) -> Option<TorqueUnit> {
        match self {
            Measure::NewtonMetre => Some(TorqueUnit::NewtonMetre),
            Measure::PoundFoot => Some(TorqueUnit::PoundForceFoot),
            Measure::PoundInch => Some(TorqueUnit::PoundForceInch),
            _ => None,
        }
    }

    fn named(word: &str) -> Option<Measure> {
        ROWS.iter().find(|row| row.1 == word || row.2.contains(&word)).map(|row| row.0)
    }
}

impl Dimension {
    /// The units it can be written in: "Ω, mΩ, kΩ, MΩ".
    pub fn units(self) -> String {
        let signs: Vec<_> = ROWS.iter().filter(|row| row.3 == self).map(|row| row.1).collect();
        signs.join(", ")
    }

    /// A figure as an example: "0.1 V".
    pub(super) fn example(self) -> &'static str {
        match self {
            Dimension::Resistance => "0.05 Ω",
            Dimension::Voltage => "0.1 V",
            Dimension::Temperature => "20 °C",
            Dimension::Time => "180 s",
            Dimension::Torque => "44 N·m",
            Dimension::Angle => "3 °",
            Dimension::Turns => "2.5 turns",
            Dimension::Length => "300 mm",
            Dimension::Area => "0.5 mm²",
            Dimension::Share => "10 %",
            Dimension::Speed => "20 km/h",
        }
    }
}

/// A figure with its unit: "44 N·m", "0.10 Ω". Keeps its last zeros and the unit it was published in.
/// Travels as that text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Amount {
    value: Decimal,
    measure: Measure,
}

/// Why a text is no figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAnAmount {
    /// No number stands first.
    #[error("no number with a decimal point stands first")]
    NoNumber,
    /// More than nine digits or six decimal places.
    #[error("more digits than a figure can have")]
    TooLong,
    /// Only a number.
    #[error("its unit is missing")]
    NoUnit,
    /// A word that is not a unit known here.
    #[error("its unit is not known")]
    UnknownUnit,
}

impl Amount {
    /// `digits` × 10^−`places` of `measure`; `None` beyond nine digits or six places.
    pub fn new(digits: i64, places: u8, measure: Measure) -> Option<Amount> {
        let fits = digits.unsigned_abs() < 10u64.pow(MOST_DIGITS as u32) && places <= MOST_PLACES;
        Decimal::new(digits, places).filter(|_| fits).map(|value| Amount { value, measure })
    }

    /// A figure as a file writes it.
    ///
    /// ```
    /// use evenwire_core::procedure::Amount;
    /// assert_eq!(Amount::parse("32.50 lbf ft").unwrap().to_string(), "32.50 lbf·ft");
    /// ```
    ///
    /// # Errors
    /// [`NotAnAmount`]; a decimal comma is not accepted.
    pub fn parse(text: &str) -> Result<Amount, NotAnAmount> {
        let text = text.trim();
        let end = text.find(|c: char| !(c.is_ascii_digit() || ".+-".contains(c))).unwrap_or(text.len());
        let (number, unit) = text.split_at(end);
        let number = Decimal::parse(number).map_err(|_| NotAnAmount::NoNumber)?;
        let unit = unit.trim();
        if unit.is_empty() {
            return Err(NotAnAmount::NoUnit);
        }
        let measure = Measure::named(unit).ok_or(NotAnAmount::UnknownUnit)?;
        Amount::new(number.digits(), number.places(), measure).ok_or(NotAnAmount::TooLong)
    }

    /// The unit it was published in.
    pub fn measure(self) -> Measure {
        self.measure
    }

    /// What it measures.
    pub fn dimension(self) -> Dimension {
        self.measure.dimension()
    }

    /// Above zero.
    pub fn is_positive(self) -> bool {
        self.value.digits() > 0
    }

    /// Below zero.
    pub fn is_negative(self) -> bool {
        self.value.digits() < 0
    }

    /// In the smallest unit of its dimension, millionths.
    fn counted(self) -> i128 {
        let up = 10i128.pow(u32::from(MOST_PLACES - self.value.places()));
        i128::from(self.value.digits()) * up * self.measure.row().4
    }

    /// Exact comparison, across units of one dimension; `None` when they measure different things.
    pub fn compare(self, other: Amount) -> Option<Ordering> {
        (self.dimension() == other.dimension()).then(|| self.counted().cmp(&other.counted()))
    }

    /// At most `other`; false when they measure different things.
    pub fn at_most(self, other: Amount) -> bool {
        self.compare(other).is_some_and(Ordering::is_le)
    }

    /// Exactly half of `whole`.
    pub fn is_half_of(self, whole: Amount) -> bool {
        self.dimension() == whole.dimension() && self.counted() * 2 == whole.counted()
    }

    /// The two say the same, apart from rounding: they differ by less than one per cent.
    pub fn agrees_with(self, other: Amount) -> bool {
        let (one, two) = (self.counted(), other.counted());
        self.dimension() == other.dimension() && (one - two).abs() * 100 < one.abs().max(two.abs())
    }

    /// The number, without its unit.
    pub fn value(self) -> Decimal {
        self.value
    }

    /// A number a person typed, in the unit that stands beside the field.
    ///
    /// # Errors
    /// [`NumberError`]; a number beyond nine digits or six places is too long.
    pub fn typed(text: &str, measure: Measure, decimal_confirmed: bool) -> Result<Amount, NumberError> {
        let value = Decimal::typed(text, decimal_confirmed)?;
        Amount::new(value.digits(), value.places(), measure).ok_or(NumberError::TooLong)
    }

    /// The two are `most` apart, or less; false when the three measure different things.
    pub fn apart_at_most(self, other: Amount, most: Amount) -> bool {
        let same = self.dimension() == other.dimension() && self.dimension() == most.dimension();
        same && (self.counted() - other.counted()).abs() <= most.counted()
    }

    /// As a measured value in ohm, volt or degree Celsius; `None` for every other dimension.
    pub fn quantity(self) -> Option<Quantity> {
        let (unit, shift) = match self.measure {
            Measure::Ohm => (Unit::Ohm, 0),
            Measure::Milliohm => (Unit::Ohm, -3),
            Measure::Kilohm => (Unit::Ohm, 3),
            Measure::Megohm => (Unit::Ohm, 6),
            Measure::Volt => (Unit::Volt, 0),
            Measure::Millivolt => (Unit::Volt, -3),
            Measure::Celsius => (Unit::Celsius, 0),
            _ => return None,
        };
        Quantity::scaled(self.value.digits(), shift - i32::from(self.value.places()), unit)
    }

    /// In milliseconds; `None` when it is no time, is below zero or has parts of a millisecond.
    pub fn millis(self) -> Option<u64> {
        let thousandths = self.counted() / 1_000;
        let whole = self.dimension() == Dimension::Time && self.counted() % 1_000 == 0;
        whole.then(|| u64::try_from(thousandths).ok()).flatten()
    }
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.value, self.measure.sign())
    }
}

impl From<Amount> for String {
    fn from(amount: Amount) -> String {
        amount.to_string()
    }
}

impl TryFrom<String> for Amount {
    type Error = NotAnAmount;
    fn try_from(text: String) -> Result<Amount, NotAnAmount> {
        Amount::parse(&text)
    }
}
