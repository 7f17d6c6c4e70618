//! The meter tried on a resistor somebody knows.

use super::bench::Bench;
use super::readings::{Leads, MeterSpec, PartReadings};
use super::rules::Rules;
use super::statistics::{at_most, below};

/// A known resistor read with the meter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ResistorReading {
    /// What the display showed, ohm.
    pub ohm: f64,
    /// The value printed on the resistor, ohm.
    pub resistor: f64,
    /// Its tolerance, percent.
    pub tolerance_pct: f64,
    /// What was done about the leads.
    pub leads: Leads,
}

/// Does the meter keep what its sheet promises?
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ResistorResult {
    /// Within its accuracy and the resistor's tolerance, by more than the uncertainty of leads and clips.
    Within,
    /// Outside, by more than that uncertainty.
    Outside,
    /// Too close to say.
    Undecided,
}

/// Compares a reading with a known resistor. Gives the result, the difference and what is allowed, in ohms.
///
/// The difference may be as large as the meter's accuracy (percent of reading and counts) and the resistor's tolerance
/// together; leads and clips count as uncertainty with k = 2 on either side (guard band, JCGM 106).
pub fn check_resistor(reading: &ResistorReading, meter: &MeterSpec, rules: &Rules) -> (ResistorResult, f64, f64) {
    let part = PartReadings { leads: reading.leads, ..PartReadings::default() };
    let bench = Bench::new(&part, meter, rules);
    let shown = reading.ohm - bench.lead.taken_off - bench.lead.left;
    let difference = shown - reading.resistor;
    let accuracy = bench.accuracy * shown.abs() + bench.accuracy_ohm;
    let allowed = accuracy + reading.tolerance_pct / 100.0 * reading.resistor.abs();
    let u = (rules.touch_u * rules.touch_u + bench.lead.u * bench.lead.u).sqrt();
    let guard = rules.coverage * u;
    let result = if at_most(difference.abs() + guard, allowed) {
        ResistorResult::Within
    } else if below(allowed, difference.abs() - guard) {
        ResistorResult::Outside
    } else {
        ResistorResult::Undecided
    };
    (result, difference, allowed)
}
