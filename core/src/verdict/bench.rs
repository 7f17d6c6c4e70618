//! Step A, and what holds for every conductor: the meter, the leads, the temperature, the tolerance in force.

use super::readings::{MeterSpec, PartReadings};
use super::rules::Rules;
use crate::copper::temperature_factor;

const SQRT_3: f64 = 1.732_050_807_568_877_2;
const SQRT_12: f64 = 2.0 * SQRT_3;

/// Everything that is the same for all conductors of a part.
#[derive(Debug)]
pub(super) struct Bench<'a> {
    pub part: &'a PartReadings,
    pub rules: &'a Rules,
    /// Display step, ohms. NaN when the meter names none that can be: then no comparison proves anything.
    pub step: f64,
    /// Accuracy as a share of the reading, and as ohms.
    pub accuracy: f64,
    pub accuracy_ohm: f64,
    pub lead: Lead,
    tolerance_abs: f64,
    tolerance_rel: f64,
}

/// What the test leads do to a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Lead {
    /// Ohms to take off every reading.
    pub taken_off: f64,
    /// Ohms still in every reading, guessed.
    pub left: f64,
    /// Standard uncertainty of the zero, ohms.
    pub u: f64,
    /// Standard uncertainty by which the zero moved while measuring, ohms.
    pub u_drift: f64,
    /// Nobody zeroed, nobody read the leads.
    pub guessed: bool,
}

impl<'a> Bench<'a> {
    pub fn new(part: &'a PartReadings, meter: &MeterSpec, rules: &'a Rules) -> Bench<'a> {
        let sound = meter.resolution.is_finite() && meter.resolution > 0.0;
        let step = if sound { meter.resolution } else { f64::NAN };
        Bench {
            part,
            rules,
            step,
            accuracy: meter.accuracy_pct / 100.0,
            accuracy_ohm: meter.accuracy_counts * step,
            lead: take_leads_off(part, step, rules),
            tolerance_abs: part.tolerance.map_or(rules.tolerance_abs, |t| t.abs),
            tolerance_rel: part.tolerance.map_or(rules.tolerance_rel, |t| t.rel),
        }
    }

    /// Ohms allowed above a level of so many ohms (leads taken off).
    pub fn tolerance_at(&self, ohms: f64) -> f64 {
        self.tolerance_abs.max(self.tolerance_rel * ohms)
    }

    /// Ohms allowed below a level of so many ohms (leads taken off).
    pub fn low_tolerance_at(&self, ohms: f64) -> f64 {
        self.rules.low_abs.max(self.rules.low_rel * ohms)
    }

    /// Variance of a conductor's value from `touches` agreeing touches: rounding, clips, moving zero.
    pub fn value_variance(&self, touch_u: f64, touches: usize) -> f64 {
        self.step * self.step / 12.0 + touch_u * touch_u / touches as f64 + self.lead.u_drift * self.lead.u_drift
    }

    /// Expanded uncertainty: at least a display step, for two rounded readings can be a full step apart.
    pub fn expanded(&self, u: f64) -> f64 {
        let twofold = self.rules.coverage * u;
        if twofold >= self.step { twofold } else { self.step }
    }

    /// Level above the leads of `x` as a share of that of `y`; 0 when `y` is not above the leads.
    pub fn ratio(&self, x: f64, y: f64) -> f64 {
        let (x, y) = (x - self.lead.left, y - self.lead.left);
        if y > 0.0 { x / y } else { 0.0 }
    }

    /// Copper at the part's temperature over copper at `then`, with the uncertainty in kelvin of the step between.
    pub fn warmed_from(&self, then: Option<f64>) -> (f64, f64) {
        match (self.part.temperature, then) {
            (Some(now), Some(then)) => (temperature_factor(then, now), self.rules.temperature_u),
            _ => (1.0, self.rules.temperature_u_unknown),
        }
    }

    /// True only if somebody said that the shorting bars are held open.
    pub fn bars_open(&self) -> bool {
        self.part.bars_open == Some(true)
    }
}

/// A: what to take off, what is left in, and how well that is known.
fn take_leads_off(part: &PartReadings, step: f64, rules: &Rules) -> Lead {
    let leads = part.leads;
    let u_drift = match (leads.zero, leads.zero_end) {
        (Some(before), Some(after)) => (after - before).abs() / SQRT_3,
        _ => 0.0,
    };
    match leads.zero {
        _ if leads.zeroed => Lead { taken_off: 0.0, left: 0.0, u: step / SQRT_12, u_drift, guessed: false },
        // Two rounded readings are subtracted: twice the variance of one.
        Some(zero) => Lead { taken_off: zero, left: 0.0, u: step / 6.0_f64.sqrt(), u_drift, guessed: false },
        None => {
            Lead { taken_off: 0.0, left: rules.lead_ohm, u: rules.lead_half_width / SQRT_3, u_drift, guessed: true }
        }
    }
}
