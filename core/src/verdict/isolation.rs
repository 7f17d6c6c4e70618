//! What a reading between two things that should not touch means, and whether a zero moved.

use super::rules::Rules;
use super::statistics::{at_most, below};

/// From here on two conductors count as isolated on the ordinary ohm range, ohm. Common practice, no source: makers
/// print between 100 kilo-ohm and 1 mega-ohm for low-voltage harnesses; the higher one is the careful one.
const ISOLATED_OHM: f64 = 1_000_000.0;
/// What a closed shorting bar reads with its terminals at most, ohm: 10 to 100 milliohm by a maker of test equipment
/// for initiators.
const BAR_OHM: f64 = 0.1;

/// A reading with the clips on two things that should not touch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IsolationReading {
    /// Ohm as shown; none: over-range.
    pub ohm: Option<f64>,
    /// End of the range used, ohm.
    pub top: f64,
    /// Display step, ohm.
    pub step: f64,
    /// Sound from this on by what a file says, ohm; it counts where it is stricter than the rule.
    pub above: Option<f64>,
    /// What the leads read by themselves, if that is known.
    pub zero: Option<f64>,
    /// The bar between the two is open or there is none; nobody said.
    pub bar_open: Option<bool>,
    /// One of them is metal, which no bar bridges.
    pub to_metal: bool,
    /// The meter told that its range is locked by hand: `top` may not be the end of it.
    pub range_locked: bool,
}

/// What it means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Isolation {
    /// Beyond the end of the meter's range, and that is far enough out.
    BeyondRange,
    /// Measured, and high enough.
    Isolated,
    /// High, and lower than the file asks for.
    TooLow,
    /// They touch.
    Touches,
    /// It reads like a shorting bar that is closed, or that nobody spoke of.
    Bar,
    /// Low, but nobody said whether a bar is open.
    BarUnknown,
    /// Over-range in a range that ends too early to mean anything.
    RangeTooLow,
    /// Over-range in a range that was locked by hand: where it ends nobody can tell.
    RangeLocked,
}

/// What a reading means. Never fails: what cannot be told is none of the good ones.
pub fn isolation(reading: &IsolationReading) -> Isolation {
    let sound = reading.above.unwrap_or(0.0).max(ISOLATED_OHM);
    let Some(ohm) = reading.ohm else {
        if reading.range_locked {
            return Isolation::RangeLocked;
        }
        return if at_most(sound, reading.top) { Isolation::BeyondRange } else { Isolation::RangeTooLow };
    };
    if at_most(sound, ohm) {
        return Isolation::Isolated;
    }
    // Between the rule and a stricter file nothing touches; it is not sound either.
    if at_most(ISOLATED_OHM, ohm) {
        return Isolation::TooLow;
    }
    if reading.to_metal || reading.bar_open == Some(true) {
        return Isolation::Touches;
    }
    let leads = reading.zero.unwrap_or(0.0);
    let rules = Rules::default();
    let unread = rules.lead_ohm + rules.lead_half_width;
    let slack = if reading.zero.is_some() { reading.step } else { unread };
    match reading.bar_open {
        _ if at_most(ohm - leads, BAR_OHM + slack) => Isolation::Bar,
        None => Isolation::BarUnknown,
        Some(_) => Isolation::Touches,
    }
}

/// Two zeros of the same leads are too far apart for what was read between: more than two steps and 0.05 ohm.
///
/// `most` is what a file allows, ohm; it counts where it is stricter.
pub fn zero_moved((before, after): (f64, f64), step: f64, most: Option<f64>) -> bool {
    let limit = Rules::default().negative_at(step).min(most.unwrap_or(f64::INFINITY));
    below(limit, (after - before).abs())
}
