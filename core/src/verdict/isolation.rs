//! What a reading between two things that should not touch means, and whether a zero moved.

use super::rules::Rules;

/// From here on two conductors count as isolated on the ordinary ohm range, ohm. Common practice, no source: makers
/// print between 100 kilo-ohm and 1 mega-ohm for low-voltage harnesses; the higher one is the careful one.
pub const ISOLATED_OHM: f64 = 1_000_000.0;
/// What a closed shorting bar reads with its terminals, ohm: 10 to 100 milliohm by a maker of test equipment for
/// initiators; below 0.02 ohm a display of hundredths shows nothing that could be told from none.
pub const BAR_OHM: (f64, f64) = (0.02, 0.1);

/// A reading with the clips on two things that should not touch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IsolationReading {
    /// Ohm as shown; none: over-range.
    pub ohm: Option<f64>,
    /// End of the range used, ohm.
    pub top: f64,
    /// Display step, ohm.
    pub step: f64,
    /// What the leads read by themselves, if that is known.
    pub zero: Option<f64>,
    /// The bar between the two is open or there is none; nobody said.
    pub bar_open: Option<bool>,
    /// One of them is metal, which no bar bridges.
    pub to_metal: bool,
}

/// What it means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Isolation {
    /// Beyond the end of the meter's range, and that is far enough out.
    BeyondRange,
    /// Measured, and high enough.
    Isolated,
    /// They touch.
    Touches,
    /// It reads like a shorting bar that is closed, or that nobody spoke of.
    Bar,
    /// Low, but nobody said whether a bar is open.
    BarUnknown,
    /// Over-range in a range that ends too early to mean anything.
    RangeTooLow,
}

/// What a reading means. Never fails: what cannot be told is none of the good ones.
pub fn isolation(reading: &IsolationReading) -> Isolation {
    let Some(ohm) = reading.ohm else {
        return if reading.top >= ISOLATED_OHM { Isolation::BeyondRange } else { Isolation::RangeTooLow };
    };
    if ohm >= ISOLATED_OHM {
        return Isolation::Isolated;
    }
    if reading.to_metal || reading.bar_open == Some(true) {
        return Isolation::Touches;
    }
    // Unread leads are in the reading with up to 0.4 ohm.
    let leads = reading.zero.unwrap_or(0.0);
    let slack = if reading.zero.is_some() { reading.step } else { 0.4 };
    let like_a_bar = ohm - leads <= BAR_OHM.1 + slack;
    match reading.bar_open {
        Some(false) if like_a_bar => Isolation::Bar,
        None if like_a_bar => Isolation::Bar,
        None => Isolation::BarUnknown,
        _ => Isolation::Touches,
    }
}

/// Two zeros of the same leads are too far apart for what was read between: more than two steps and 0.05 ohm.
pub fn zero_moved(before: f64, after: f64, step: f64) -> bool {
    let limit = Rules::default().negative_at(step);
    crate::sweep::numbers::below(limit, (after - before).abs())
}
