//! Steps B to E: from samples to touches, from touches to one value for a conductor, and how well it repeats.

use super::bench::Bench;
use super::readings::{ConductorReadings, Sample};
use super::statistics::{at_most, below, mean, median, squares_about_mean, sum};

/// One time the clips were put on.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Touch {
    /// Over-range from first to last.
    Open,
    /// It did not stand still.
    Unsettled,
    /// Ohms.
    Settled(f64),
}

/// What a conductor's touches say together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Agreement {
    NotMeasured,
    Open,
    /// Enough of them agree.
    Usable,
    /// All but one agree, and no sweep has cleared that one.
    UsableButOne,
    /// They disagree; another touch may help.
    Undecided,
    /// They disagree, and that is the finding.
    Unstable,
}

/// A conductor after its touches were looked at.
#[derive(Clone, Debug)]
pub(super) struct Measured {
    /// Number of touches.
    pub touches: usize,
    /// Values of the touches that agree, ohms.
    pub agreeing: Vec<f64>,
    /// Their median, ohms.
    pub value: Option<f64>,
    pub agreement: Agreement,
}

impl Measured {
    /// The value if it may be compared with others.
    pub fn usable(&self) -> Option<f64> {
        match self.agreement {
            Agreement::Usable | Agreement::UsableButOne => self.value,
            _ => None,
        }
    }
}

/// B: what one contact of the clips shows. `None` when it holds no reading at all.
fn look_at_touch(samples: &[Sample], bench: &Bench) -> Option<Touch> {
    let mut values = Vec::with_capacity(samples.len());
    let mut over_range = 0_usize;
    for sample in samples {
        match *sample {
            Sample::OverRange => over_range += 1,
            Sample::Value(x) if x >= bench.rules.open_ohm => over_range += 1,
            Sample::Value(x) if x.is_finite() => values.push(x - bench.lead.taken_off),
            Sample::Value(_) => {}
        }
    }
    let Some(middle) = median(&values) else {
        return (over_range > 0).then_some(Touch::Open);
    };
    let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let rules = bench.rules;
    let allowed = rules.settle_steps * bench.step + rules.settle_abs + rules.settle_rel * middle.abs();
    if over_range > 0 || !at_most(highest - lowest, allowed) {
        return Some(Touch::Unsettled);
    }
    mean(&values).map(Touch::Settled)
}

/// C: which touches of a conductor agree, and whether that is enough.
pub(super) fn look_at_conductor(conductor: &ConductorReadings, bench: &Bench) -> Measured {
    let touches: Vec<Touch> = conductor.touches.iter().filter_map(|s| look_at_touch(s, bench)).collect();
    let count = touches.len();
    let settled: Vec<f64> =
        touches.iter().filter_map(|touch| if let Touch::Settled(x) = touch { Some(*x) } else { None }).collect();
    let agreeing = touches_that_agree(&settled, bench);
    let value = median(&agreeing);
    let swept_steady = conductor.sweep == Some(crate::sweep::SweepVerdict::Steady);
    let agreement = if count == 0 {
        Agreement::NotMeasured
    } else if touches.iter().all(|touch| *touch == Touch::Open) {
        Agreement::Open
    } else {
        do_they_agree(count, agreeing.len(), swept_steady, bench.rules.max_touches)
    };
    Measured { touches: count, agreeing, value, agreement }
}

/// The touches within half a tolerance (and half a step) of their median.
fn touches_that_agree(settled: &[f64], bench: &Bench) -> Vec<f64> {
    let Some(middle) = median(settled) else { return Vec::new() };
    let allowed = bench.tolerance_at(middle.abs()) / 2.0 + bench.step / 2.0;
    settled.iter().copied().filter(|x| at_most((x - middle).abs(), allowed)).collect()
}

/// At least three must agree to outvote one; a steady sweep outvotes any number.
fn do_they_agree(count: usize, agreeing: usize, swept_steady: bool, max_touches: usize) -> Agreement {
    // Two touches of which neither is near their middle are one disagreement, not two.
    let disagreeing = if count == 2 && agreeing == 0 { 1 } else { count - agreeing };
    if disagreeing == 0 || (agreeing >= 3 && swept_steady) {
        Agreement::Usable
    } else if agreeing >= 3 && disagreeing == 1 {
        Agreement::UsableButOne
    } else if count >= max_touches || (count >= 3 && disagreeing >= 2) {
        Agreement::Unstable
    } else {
        Agreement::Undecided
    }
}

/// D: standard uncertainty of one touch in ohms: what is usual, or what this part shows, if that is more.
pub(super) fn how_well_touches_repeat(conductors: &[Measured], bench: &Bench) -> f64 {
    let repeated: Vec<&[f64]> = conductors
        .iter()
        .filter(|c| c.usable().is_some() && c.agreeing.len() >= 2)
        .map(|c| c.agreeing.as_slice())
        .collect();
    let freedom: usize = repeated.iter().map(|touches| touches.len() - 1).sum();
    if freedom < bench.rules.repeatability_freedom.max(1) {
        return bench.rules.touch_u;
    }
    let seen = (sum(repeated.iter().map(|touches| squares_about_mean(touches))) / freedom as f64).max(0.0).sqrt();
    bench.rules.touch_u.max(seen)
}

/// E: a value clearly below zero means that the zero is wrong.
pub(super) fn zero_is_suspect(conductors: &[Measured], bench: &Bench) -> bool {
    let allowed = bench.rules.negative_at(bench.step);
    conductors.iter().filter_map(Measured::usable).any(|x| below(x, -allowed))
}
