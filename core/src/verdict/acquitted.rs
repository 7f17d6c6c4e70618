//! After step H: a low level is the reference because what lies above it is taken for bad. Where that is not so after
//! all (a limit acquits those above, or they are within the tolerance of the low level) and they are at least as many,
//! a conductor far below them is not known to be sound.

use super::bench::Bench;
use super::conductor::Decided;
use super::outcome::{Basis, Code, ConductorState};
use super::reference::GroupReference;
use super::statistics::{at_most, below};

/// Leaves open what nothing bounds below: a carrier of the reference that reads lower beside those acquitted than a
/// closed bar or another width explains. `decided` are all conductors of the part, `indices` those of the group.
pub(super) fn look_again_below(found: &GroupReference, indices: &[usize], decided: &mut [Decided], bench: &Bench) {
    let [reference] = found.references.as_slice() else { return };
    let carriers = &reference.members;
    let is_acquitted = |i: &usize| {
        let other = &decided[*i];
        let a_level_within_tolerance = found.two_levels && other.verdict.state == ConductorState::Consistent;
        !carriers.contains(i) && (other.acquitted || a_level_within_tolerance)
    };
    let acquitted = indices.iter().filter(|i| is_acquitted(i));
    let acquitted: Vec<f64> = acquitted.filter_map(|&i| decided[i].verdict.value).collect();
    let Some(lowest) = acquitted.iter().copied().reduce(f64::min) else { return };
    if acquitted.len() < carriers.len() {
        return;
    }
    for &i in carriers {
        let carrier = &mut decided[i];
        if passes_unbounded_below(carrier) && reads_shorted_beside(carrier, lowest, bench) {
            carrier.verdict.state = ConductorState::Undecided;
            carrier.verdict.basis = Some(Basis::Group);
            carrier.verdict.codes.insert(Code::LowSuspect);
        }
    }
}

fn passes_unbounded_below(carrier: &Decided) -> bool {
    let bounded = carrier.verdict.limit.is_some_and(|limit| limit.low.is_some());
    carrier.verdict.state == ConductorState::Consistent && !bounded
}

/// As J would say it, were the acquitted ones the reference.
fn reads_shorted_beside(carrier: &Decided, acquitted: f64, bench: &Bench) -> bool {
    let Some(value) = carrier.verdict.value else { return false };
    let ratio = bench.ratio(value, acquitted);
    let a_bar_explains = at_most(bench.rules.ratio_bar, ratio) && !bench.bars_open();
    let a_width_explains = !carrier.declared && at_most(bench.rules.ratio_width, ratio);
    let allowed = bench.low_tolerance_at((acquitted - bench.lead.left).max(0.0));
    below(value - acquitted, -allowed) && !a_bar_explains && !a_width_explains
}
