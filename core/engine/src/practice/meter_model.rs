//! A meter from the inside: what it makes of the resistance between its clips, as display digits.

use super::chance::Chance;
use super::encoding::Encoding;
use evenwire_core::meter::{Flags, Shown};
use evenwire_core::unit::{Quantity, Unit};

/// Two test leads in series, ohm.
pub const LEAD_OHM: f64 = 0.2;
/// A range shows at most so many counts when the meter picks it by itself.
pub(super) const COUNTS: i64 = 5_999;
/// End of the range of the practice meter as it comes, ohm.
const TOP_OHM: u32 = 20_000_000;
/// A locked range ends here at the latest, ohm.
const LOCKED_TOP_OHM: u32 = 6_000;
/// End of the range that the profile of the text line meter gives, ohm.
const TEXT_LINE_TOP_OHM: u32 = 600;
/// While clips go on or off the meter is in its low ranges, which end here, ohm.
const LOW_TOP_OHM: u32 = 2_000;

/// What a meter does wrong when asked to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Misbehaviour {
    /// The battery sign. An encoding without signs blanks every second value instead, as a starving
    /// display does.
    LowBattery,
    /// The display is frozen at what it showed. An encoding without signs cannot tell it.
    Hold,
    /// It measures volt. A channel that describes itself says so at the next connect.
    WrongUnit,
    /// Every third notification is nonsense of a length no value has.
    Garbage,
}

/// The setting of a practice meter.
#[derive(Clone, Debug, PartialEq)]
pub struct MeterModel {
    /// Decimal places of the display, 1 to 3: steps of 0.1, 0.01 or 0.001 ohm.
    pub places: u8,
    /// Deviation of the noise on each reading, ohm.
    pub noise_ohm: f64,
    /// The resistance of the leads is subtracted.
    pub leads_zeroed: bool,
    /// Top of the range, of the highest one if it picks them by itself, ohm; above it is over-range. A locked range
    /// ends at 6000 ohm at the latest, a text line at 600.
    pub top_ohm: u32,
    /// Time from one reading to the next, ms, 20 or more.
    pub period_ms: u32,
    /// A reading comes up to so much later, ms, below the period.
    pub jitter_ms: u32,
    /// It picks its range by itself: larger values lose places.
    pub auto_range: bool,
    /// How readings become bytes.
    pub encoding: Encoding,
    /// What it does wrong.
    pub misbehaviour: Option<Misbehaviour>,
}

impl Default for MeterModel {
    /// Steps of 0.01 ohm up to 60 ohm, coarser ones up to 20 megohm, a reading each 100 ms, describes itself, behaves.
    fn default() -> MeterModel {
        MeterModel {
            places: 2,
            noise_ohm: 0.002,
            leads_zeroed: false,
            top_ohm: TOP_OHM,
            period_ms: 100,
            jitter_ms: 6,
            auto_range: true,
            encoding: Encoding::Medfloat32,
            misbehaviour: None,
        }
    }
}

/// What the display shows at the end of one reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Display {
    /// The number or state.
    pub shown: Shown,
    /// Decimal places of the range.
    pub places: u8,
    /// Signs beside it.
    pub flags: Flags,
}

impl MeterModel {
    /// The same meter with its fields within their limits.
    pub(super) fn within_limits(mut self) -> MeterModel {
        self.places = self.places.clamp(1, 3);
        self.noise_ohm = if self.noise_ohm.is_finite() { self.noise_ohm.clamp(0.0, 10.0) } else { 0.0 };
        let most = match (self.encoding, self.auto_range) {
            (Encoding::TextLine, _) => TEXT_LINE_TOP_OHM,
            (_, false) => LOCKED_TOP_OHM,
            (_, true) => TOP_OHM,
        };
        self.top_ohm = self.top_ohm.clamp(1, most);
        self.period_ms = self.period_ms.clamp(20, 10_000);
        self.jitter_ms = self.jitter_ms.min(self.period_ms / 2);
        self
    }

    /// What it subtracts from what lies between its sockets, ohm.
    pub fn zero_ohm(&self) -> f64 {
        if self.leads_zeroed { LEAD_OHM } else { 0.0 }
    }

    /// What an open circuit counts as while a reading is averaged that is open for less than half of its time.
    pub(super) fn open_ohm(&self) -> f64 {
        2.0 * f64::from(self.top_ohm.min(LOW_TOP_OHM)) + 10.0
    }

    /// The display for an averaged resistance, ohm; `None` is open.
    pub(super) fn display(&self, ohm: Option<f64>, chance: &mut Chance) -> Display {
        let noise = self.noise_ohm * chance.bell();
        let flags = Flags { relative: self.leads_zeroed, auto_range: Some(self.auto_range), ..Flags::default() };
        let unit = if self.misbehaviour == Some(Misbehaviour::WrongUnit) { Unit::Volt } else { Unit::Ohm };
        let within = ohm.map(|ohm| ohm + noise).filter(|noisy| *noisy <= f64::from(self.top_ohm));
        let Some((digits, places)) = within.and_then(|noisy| self.digits(noisy)) else {
            return Display { shown: Shown::OverRange, places: self.places, flags };
        };
        let shown = Quantity::new(digits, places, unit).map_or(Shown::Blank, Shown::Value);
        Display { shown, places, flags }
    }

    /// Digits and places of a value in the range it falls into; `None` beyond what any display has.
    fn digits(&self, ohm: f64) -> Option<(i64, u8)> {
        if !self.auto_range {
            return Some((counts(ohm, self.places)?, self.places));
        }
        let fits = |digits: &i64| digits.abs() <= COUNTS;
        let fine = (0..=self.places).rev().find_map(|places| Some((counts(ohm, places).filter(fits)?, places)));
        // Above, the display counts tens, hundreds and so on of an ohm.
        let tens = || (1..=6).map(|power| 10i64.pow(power));
        let coarse = || tens().find_map(|ten| Some((counts(ohm / ten as f64, 0).filter(fits)? * ten, 0)));
        fine.or_else(coarse)
    }
}

/// Display counts of a value; `None` beyond what any display has.
fn counts(ohm: f64, places: u8) -> Option<i64> {
    let scaled = (ohm * [1.0, 10.0, 100.0, 1_000.0][usize::from(places.min(3))]).round();
    // Within 2^53, so the conversion is exact.
    (scaled.abs() < 9e15).then_some(scaled as i64)
}
