//! After step H: conductors far above their group that keep a limit are acquitted. Where at least as many are
//! acquitted as the reference rests on, a conductor far below them was only taken for sound because they were taken
//! for bad.

use super::bench::Bench;
use super::conductor::Decided;
use super::outcome::{Basis, Code, ConductorState, ConductorVerdict};
use super::reference::GroupReference;
use super::statistics::below;

/// Leaves open what nothing bounds below: a carrier of the reference that reads lower than a closed bar could explain
/// beside those that were acquitted. `decided` are all conductors of the part, `indices` those of the group.
pub(super) fn look_again_below(found: &GroupReference, indices: &[usize], decided: &mut [Decided], bench: &Bench) {
    let [reference] = found.references.as_slice() else { return };
    let acquitted: Vec<f64> = indices.iter().filter_map(|&i| acquitted_of_high(&decided[i].verdict)).collect();
    let Some(lowest) = acquitted.iter().copied().reduce(f64::min) else { return };
    if reference.members.is_empty() || acquitted.len() < reference.members.len() {
        return;
    }
    for &member in &reference.members {
        let verdict = &mut decided[member].verdict;
        let far_below = verdict.value.is_some_and(|x| below(bench.ratio(x, lowest), bench.rules.ratio_bar));
        if far_below && is_bounded_above_only(verdict) {
            verdict.state = ConductorState::Undecided;
            verdict.basis = Some(Basis::Group);
            verdict.codes.insert(Code::LowSuspect);
            verdict.watch_percent = None;
        }
    }
}

/// The value of a conductor that is high in its group and keeps its limit.
fn acquitted_of_high(verdict: &ConductorVerdict) -> Option<f64> {
    let differs = verdict.codes.contains(&Code::DiffersFromGroup);
    let above = verdict.deviation.is_some_and(|d| d > 0.0);
    verdict.value.filter(|_| verdict.state == ConductorState::Consistent && differs && above)
}

fn is_bounded_above_only(verdict: &ConductorVerdict) -> bool {
    verdict.state == ConductorState::Consistent
        && verdict.basis == Some(Basis::Limit)
        && verdict.limit.is_some_and(|limit| limit.low.is_none())
}
