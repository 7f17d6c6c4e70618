//! Step H: a conductor against a limit of the maker, which outranks the group.

use super::bench::Bench;
use super::outcome::{LimitResult, LimitVerdict};
use super::readings::{ConductorReadings, Limit};
use super::statistics::{at_most, below, probability_between};
use crate::copper::TEMPERATURE_COEFFICIENT;

/// The limit in force: the conductor's own, its high side from the part's ceiling where it has none.
pub(super) fn limit_of(conductor: &ConductorReadings, bench: &Bench) -> Option<Bounds> {
    let own = conductor.limit.unwrap_or_default();
    let (factor, kelvin) = match own {
        Limit { t: Some(_), .. } => bench.warmed_from(own.t),
        _ => (1.0, 0.0),
    };
    let high = own.high.map(|high| high * factor).or(bench.part.ceiling);
    let low = own.low.map(|low| low * factor);
    (high.is_some() || low.is_some()).then_some(Bounds { high, low, kelvin })
}

/// A limit brought to the part's temperature, ohms, with the uncertainty of that temperature in kelvin.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    high: Option<f64>,
    low: Option<f64>,
    kelvin: f64,
}

impl Bounds {
    /// True when there is a highest allowed value.
    pub fn bounds_above(&self) -> bool {
        self.high.is_some()
    }
}

/// H: does a value (ohms, with its variance) keep the limit, by more than the expanded uncertainty?
pub(super) fn compare_with_limit(value: f64, variance: f64, bounds: &Bounds, bench: &Bench) -> LimitVerdict {
    let y = value - bench.lead.left;
    let meter = bench.accuracy * y.abs() + bench.accuracy_ohm;
    let warmth = TEMPERATURE_COEFFICIENT * bounds.kelvin * y;
    let u = (variance + bench.lead.u * bench.lead.u + meter * meter / 3.0 + warmth * warmth).sqrt();
    let expanded = bench.expanded(u);
    let Bounds { high, low, .. } = *bounds;
    let over = high.is_some_and(|high| below(high, y - expanded));
    let under = low.is_some_and(|low| below(y + expanded, low));
    let inside =
        high.is_none_or(|high| at_most(y + expanded, high)) && low.is_none_or(|low| at_most(low, y - expanded));
    let result = if over || under {
        LimitResult::NotConform
    } else if inside {
        LimitResult::Conform
    } else {
        LimitResult::Undecided
    };
    LimitVerdict { value: y, u, expanded, high, low, result, probability: probability_between(low, high, y, u) }
}

impl LimitVerdict {
    /// True when a limit that was not kept was passed on its high side.
    pub(super) fn is_over(&self) -> bool {
        self.high.is_some_and(|high| self.value > high)
    }
}
