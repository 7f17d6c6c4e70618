//! A part on the bench, as the verdict takes it: its numbers are reached through the door the product uses.

use evenwire_core::verdict::{ConductorReadings, Leads, Limit, MeterSpec, PartReadings, Rules, Sample, Verdict, judge};

/// A meter without an error of its own, so fine that its step counts for nothing.
pub const FINE: MeterSpec = MeterSpec { resolution: 1e-9, accuracy_pct: 0.0, accuracy_counts: 0.0 };

/// Rules under which any numbers agree: nothing but the arithmetic is left.
pub fn anything_agrees() -> Rules {
    Rules {
        tolerance_abs: 1e12,
        settle_abs: 1e12,
        open_ohm: f64::MAX,
        touch_u: 0.0,
        repeatability_freedom: 1,
        ..Rules::default()
    }
}

/// One conductor of the group "a", touched once for each of `touches`.
pub fn conductor(touches: &[f64]) -> ConductorReadings {
    let touches = touches.iter().map(|ohms| vec![Sample::Value(*ohms)]).collect();
    ConductorReadings { group: Some("a".into()), touches, ..ConductorReadings::default() }
}

/// Zeroed leads, shorting bars held open.
pub fn part(conductors: Vec<ConductorReadings>) -> PartReadings {
    let leads = Leads { zeroed: true, ..Leads::default() };
    PartReadings { conductors, leads, bars_open: Some(true), ..PartReadings::default() }
}

/// Every conductor touched twice, reading the same both times, with a meter of 0.8 % and 3 steps.
pub fn read_twice(ohms: &[f64], step: f64) -> Verdict {
    let part = part(ohms.iter().map(|x| conductor(&[*x, *x])).collect());
    judge(&part, &MeterSpec::handheld(step), &Rules::default())
}

/// Experimental standard deviation of `values`, as the verdict has it: how well the touches of a conductor repeat.
pub fn deviation(values: &[f64]) -> f64 {
    judge(&part(vec![conductor(values)]), &FINE, &anything_agrees()).touch_u
}

/// Mean of `values`, as the verdict has it: one touch that holds them all.
pub fn mean(values: &[f64]) -> f64 {
    let samples = values.iter().map(|x| Sample::Value(*x)).collect();
    let touched = ConductorReadings { touches: vec![samples], ..ConductorReadings::default() };
    judge(&part(vec![touched]), &FINE, &anything_agrees()).conductors[0].value.expect("it stood still")
}

/// A value with standard uncertainty `u`, from one touch, held against a limit.
pub fn against_limit(value: f64, u: f64, limit: Limit) -> evenwire_core::verdict::LimitVerdict {
    let rules = Rules { touch_u: u, ..Rules::default() };
    let mut touched = conductor(&[value]);
    touched.limit = Some(limit);
    judge(&part(vec![touched]), &FINE, &rules).conductors[0].limit.expect("it has a limit and a value")
}
