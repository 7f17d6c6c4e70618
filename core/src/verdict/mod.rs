//! The conductor-consistency test: which conductor of a part does not read like its neighbours, and how sure is that.
//!
//! The reference is the level most conductors of a group agree on, or a lower level at least two agree on, because
//! faults add resistance. A conductor is high or low only if it stays outside the tolerance after taking off what
//! meter, clips and rounding can do; otherwise the verdict says what would settle it.
//!
//! [`judge`] reads like the work: take the leads off and look at the touches (`touches`), find what each group should
//! read (`reference`), compare each conductor with its group (`group`) and its limit (`limit`), decide about it
//! (`conductor`), about the part (`set`), and about what to do next (`action`). Every constant is in [`Rules`].
//! Floats live here only; what is stored and shown are the meter's digits.

mod acquitted;
mod action;
pub mod axis;
mod bench;
pub mod cases;
mod conductor;
mod group;
mod isolation;
mod known_good;
mod limit;
mod outcome;
mod readings;
mod reference;
mod resistor;
mod rules;
mod set;
pub(crate) mod statistics;
#[cfg(test)]
mod tests;
mod touches;
pub mod words;
pub mod written;

pub use isolation::{Isolation, IsolationReading, isolation, zero_moved};
pub use known_good::known_good_from;
pub use outcome::{
    ActionCode, Basis, Code, ConductorState, ConductorVerdict, GroupKind, GroupVerdict, Level, LimitResult,
    LimitVerdict, NextAction, SetVerdict, Verdict,
};
pub use readings::{
    ConductorReadings, KnownGood, KnownGoodLevel, Leads, Limit, MeterSpec, PartReadings, Sample, Tolerance,
};
pub use resistor::{ResistorReading, ResistorResult, check_resistor};
pub use rules::Rules;

use crate::sweep::SweepVerdict;
use bench::Bench;
use conductor::Decided;
use reference::{Group, Usable};
use std::collections::{BTreeMap, BTreeSet};
use touches::Measured;

/// Judges a part. Never fails and never panics: what cannot be decided is undecided and says why.
///
/// Takes readings in ohms as displayed, temperatures in °C. The conductors of the verdict stand in the order given.
pub fn judge(part: &PartReadings, meter: &MeterSpec, rules: &Rules) -> Verdict {
    let bench = Bench::new(part, meter, rules);
    let measured: Vec<Measured> = part.conductors.iter().map(|c| touches::look_at_conductor(c, &bench)).collect();
    let touch_u = touches::how_well_touches_repeat(&measured, &bench);
    let mut standing = BTreeSet::new();
    if bench.lead.guessed {
        standing.insert(Code::LeadsNotZeroed);
    }
    if touches::zero_is_suspect(&measured, &bench) {
        standing.insert(Code::ZeroSuspect);
    }
    let mut groups = BTreeMap::new();
    let mut found_of = Vec::new();
    let mut decided: Vec<Option<Decided>> = vec![None; part.conductors.len()];
    for (name, indices) in groups_of(part) {
        let group = Group { name, declared: !name.is_empty() };
        let values = indices.iter().filter_map(|&i| usable_value(i, &measured[i], touch_u, &bench)).collect();
        let found = reference::find_reference(&group, values, &bench);
        groups.insert(name.to_owned(), set::judge_group(&found, &indices, &bench, &mut standing));
        let place = conductor::Place { group: &group, found: &found, touch_u, bench: &bench };
        for &i in &indices {
            decided[i] = Some(conductor::decide(&part.conductors[i], &measured[i], &place));
        }
        found_of.push((found, indices));
    }
    let mut decided: Vec<Decided> = decided.into_iter().flatten().collect();
    for (found, indices) in found_of.iter().filter(|_| rules.careful) {
        acquitted::look_again_below(found, indices, &mut decided, &bench);
    }
    let reasons = all_reasons(&decided, standing);
    let set = set::judge_set(&decided, &reasons);
    let swept_steady =
        !part.conductors.is_empty() && part.conductors.iter().all(|c| c.sweep == Some(SweepVerdict::Steady));
    let action =
        action::choose(&action::Standing { set, conductors: &decided, codes: &reasons, swept_steady, bench: &bench });
    let conductors = decided.into_iter().map(|c| c.verdict).collect();
    Verdict { set, reasons, action, conductors, groups, swept_steady, touch_u }
}

/// Every code that stands anywhere, and whether a conductor is high, low or open.
fn all_reasons(decided: &[Decided], standing: BTreeSet<Code>) -> BTreeSet<Code> {
    let mut reasons = standing;
    for c in decided {
        reasons.extend(&c.verdict.codes);
        reasons.extend(match c.verdict.state {
            ConductorState::High => Some(Code::High),
            ConductorState::Low => Some(Code::Low),
            ConductorState::Open => Some(Code::Open),
            _ => None,
        });
    }
    reasons
}

/// The name of a conductor's group; all that nobody declared form the group `""`.
fn group_name(conductor: &ConductorReadings) -> &str {
    conductor.group.as_deref().unwrap_or("")
}

fn groups_of(part: &PartReadings) -> BTreeMap<&str, Vec<usize>> {
    let mut groups: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (i, conductor) in part.conductors.iter().enumerate() {
        groups.entry(group_name(conductor)).or_default().push(i);
    }
    groups
}

/// A conductor's value with its variance, if it may be compared with others.
fn usable_value(index: usize, measured: &Measured, touch_u: f64, bench: &Bench) -> Option<Usable> {
    let value = measured.usable()?;
    Some(Usable { index, value, variance: bench.value_variance(touch_u, measured.agreeing.len()) })
}
