//! Limits and shorting bars of a part description.

use super::{MAX_NAME, Part, PartProblem};
use crate::unit::{Quantity, Unit};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// What a conductor may read, as somebody published or decided it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct PartLimit {
    /// Highest allowed, ohm, leads taken off.
    pub high: Option<Quantity>,
    /// Lowest allowed, ohm.
    pub low: Option<Quantity>,
    /// Temperature it holds at, degree Celsius; none: it is taken as it stands.
    pub temperature: Option<Quantity>,
    /// Where it is printed. Empty: the shop's own.
    pub source: String,
}

impl PartLimit {
    fn fits(&self) -> bool {
        let ohm = |q: &Option<Quantity>| q.is_none_or(|q| q.unit() == Unit::Ohm && q.digits() >= 0);
        let celsius = self.temperature.is_none_or(|q| q.unit() == Unit::Celsius);
        let order = match (self.low, self.high) {
            (None, None) => false,
            (Some(low), Some(high)) => low.compare(high).is_some_and(|o| o.is_lt()),
            _ => true,
        };
        order && ohm(&self.high) && ohm(&self.low) && celsius && self.source.chars().count() <= MAX_NAME
    }
}

/// Adds what is wrong with the limits and bars of `part`.
pub(super) fn check(part: &Part, found: &mut Vec<PartProblem>) {
    let own = part.conductors.iter().enumerate().map(|(index, c)| (Some(index), c.limit.as_ref()));
    let all = std::iter::once((None, part.ceiling.as_ref())).chain(own);
    found.extend(
        all.filter(|(_, limit)| limit.is_some_and(|l| !l.fits())).map(|(index, _)| PartProblem::Limit { index }),
    );
    let mut seen = BTreeSet::new();
    for (index, (a, b)) in part.bars.iter().enumerate() {
        let there = |c: &u32| (*c as usize) < part.conductors.len();
        let pair = (a.min(b), a.max(b));
        if a == b || !there(a) || !there(b) || !seen.insert(pair) {
            found.push(PartProblem::Bar { index });
        }
    }
}
