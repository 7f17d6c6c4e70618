//! Step K: from the conductors to the part.

use super::bench::Bench;
use super::conductor::Decided;
use super::limit::limit_of;
use super::outcome::{Code, ConductorState, GroupKind, GroupVerdict, Level, SetVerdict};
use super::reference::GroupReference;
use super::statistics::below;
use std::collections::BTreeSet;

/// Codes that prove a fault by themselves, whatever the conductor reads.
pub(super) const PROVEN: [Code; 2] = [Code::SweepFault, Code::IsolationFault];

/// A proven fault of one conductor. A low value is none while the zero is suspect or a closed bar explains it.
pub(super) fn is_hard(decided: &Decided, zero_suspect: bool) -> bool {
    let verdict = &decided.verdict;
    if PROVEN.iter().any(|code| verdict.codes.contains(code)) {
        return true;
    }
    match verdict.state {
        ConductorState::High | ConductorState::Open => true,
        ConductorState::Low => !verdict.codes.contains(&Code::BarClosed) && !zero_suspect,
        _ => decided.bad_either_way,
    }
}

/// K: the part as a whole. `standing` are all codes, those of the set included.
pub(super) fn judge_set(conductors: &[Decided], standing: &BTreeSet<Code>) -> SetVerdict {
    let zero_suspect = standing.contains(&Code::ZeroSuspect);
    let against_a_pass = [Code::ZeroSuspect, Code::LevelImplausible, Code::OneTouchDisagreed];
    if conductors.iter().any(|c| is_hard(c, zero_suspect)) {
        SetVerdict::Fail
    } else if conductors.is_empty()
        || conductors.iter().any(|c| c.verdict.state != ConductorState::Consistent)
        || against_a_pass.iter().any(|code| standing.contains(code))
    {
        SetVerdict::Undecided
    } else {
        SetVerdict::Pass
    }
}

/// What is said about a group, and which codes it puts on the set. `indices` are its conductors.
pub(super) fn judge_group(
    found: &GroupReference,
    indices: &[usize],
    bench: &Bench,
    standing: &mut BTreeSet<Code>,
) -> GroupVerdict {
    let first = found.references.first();
    if found.two_levels {
        standing.insert(Code::TwoLevels);
    }
    let under_limits = indices.iter().all(|&i| has_a_high_limit(i, bench));
    let level = if under_limits || found.kind == GroupKind::KnownGood {
        Level::Verified
    } else if first.is_some_and(|r| below(bench.rules.plausible_ohm, r.level - bench.lead.left)) {
        Level::Implausible
    } else {
        Level::Unverified
    };
    match level {
        Level::Implausible => standing.insert(Code::LevelImplausible),
        Level::Unverified if first.is_some() => standing.insert(Code::LevelUnverified),
        _ => false,
    };
    let members = first.map(|r| r.members.clone()).unwrap_or_default();
    if level != Level::Verified && found.kind == GroupKind::Cluster && members.len() == 2 {
        standing.insert(Code::PairOnly);
    }
    GroupVerdict {
        kind: found.kind,
        reference: first.map(|r| r.level),
        u_ref: first.map(|r| r.variance.sqrt()),
        tolerance: first.map(|r| r.tolerance),
        low_tolerance: first.map(|r| r.low_tolerance),
        members,
        lower: found.lower.clone(),
        level,
    }
}

/// A limit verifies how high a level is only if it bounds it from above.
fn has_a_high_limit(index: usize, bench: &Bench) -> bool {
    limit_of(&bench.part.conductors[index], bench).is_some_and(|bounds| bounds.bounds_above())
}
