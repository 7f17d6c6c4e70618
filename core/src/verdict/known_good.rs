//! A candidate part is judged by what the good conductors of the old one read.

use super::bench::Bench;
use super::outcome::{ConductorState, Verdict};
use super::readings::{KnownGood, KnownGoodLevel, MeterSpec, PartReadings};
use super::rules::Rules;
use super::statistics::{mean, variance};
use super::{group_name, judge};
use std::collections::BTreeMap;

/// The levels of a part's good conductors: one for each group in which at least two are consistent.
///
/// Takes the old part as it was read, its meter and the rules. Gives levels without leads (ohms), their standard
/// uncertainty and the old part's temperature, `same_meter` set; whoever reads the candidate with another meter sets
/// it to false. Groups with fewer than two consistent conductors get no level.
pub fn known_good_from(old: &PartReadings, meter: &MeterSpec, rules: &Rules) -> KnownGood {
    let verdict = judge(old, meter, rules);
    let bench = Bench::new(old, meter, rules);
    let mut groups: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for (readings, found) in old.conductors.iter().zip(&verdict.conductors) {
        if let (ConductorState::Consistent, Some(value)) = (found.state, found.value) {
            groups.entry(group_name(readings).to_owned()).or_default().push(value);
        }
    }
    let levels = groups
        .into_iter()
        .filter(|(_, values)| values.len() >= 2)
        .filter_map(|(name, values)| Some((name, level_of(&values, &verdict, &bench)?)))
        .collect();
    KnownGood::ByGroup(levels)
}

fn level_of(values: &[f64], verdict: &Verdict, bench: &Bench) -> Option<KnownGoodLevel> {
    let one = verdict.touch_u * verdict.touch_u + bench.step * bench.step / 12.0;
    let scatter = variance(values);
    let larger = if scatter > one { scatter } else { one };
    let leads = if bench.lead.left > 0.0 { bench.lead.u * bench.lead.u } else { 0.0 };
    Some(KnownGoodLevel {
        value: mean(values)? - bench.lead.left,
        u: (larger / values.len() as f64 + leads).sqrt(),
        t: bench.part.temperature,
        same_meter: true,
    })
}
