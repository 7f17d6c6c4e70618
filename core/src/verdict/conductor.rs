//! Steps G to J for one conductor: from its touches to its finding.

use super::bench::Bench;
use super::group::{Compared, GroupFinding, compare_with_group};
use super::limit::{compare_with_limit, limit_of};
use super::outcome::{ActionCode, Basis, Code, ConductorState, ConductorVerdict, GroupKind, LimitResult, LimitVerdict};
use super::readings::ConductorReadings;
use super::reference::{Group, GroupReference};
use super::statistics::{at_most, below};
use super::touches::{Agreement, Measured};
use crate::sweep::SweepVerdict;
use std::collections::BTreeSet;

/// A conductor's finding, with what only the verdict on the whole part needs.
#[derive(Clone, Debug)]
pub(super) struct Decided {
    pub verdict: ConductorVerdict,
    /// Two levels disagree about it, and it is bad by whichever is right: its group is declared, the bars are open.
    pub bad_either_way: bool,
    /// Somebody said which conductors it should read like.
    pub declared: bool,
    /// Above its group and not consistent with it, but within a limit.
    pub acquitted: bool,
    /// What would settle it, where it is undecided and bears no code.
    pub remedy: Option<ActionCode>,
}

/// A conductor with the group it is compared in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Place<'a> {
    pub group: &'a Group<'a>,
    pub found: &'a GroupReference,
    /// Standard uncertainty of a touch, ohms.
    pub touch_u: f64,
    pub bench: &'a Bench<'a>,
}

/// Decides about one conductor, the strongest evidence first: the sweep, the touches, the limit, the group.
pub(super) fn decide(readings: &ConductorReadings, measured: &Measured, place: &Place) -> Decided {
    let bench = place.bench;
    let declared = place.group.declared;
    let mut verdict = nothing_known(measured);
    if readings.sweep.is_some_and(SweepVerdict::is_fault) {
        verdict.state = ConductorState::Unstable;
        verdict.codes.insert(Code::SweepFault);
        if readings.touches_something {
            verdict.codes.insert(Code::IsolationFault);
        }
        return Decided { verdict, bad_either_way: false, declared, acquitted: false, remedy: None };
    }
    let (mut bad_either_way, mut acquitted, mut remedy) = (false, false, None);
    match measured.agreement {
        Agreement::NotMeasured => {
            verdict.codes.insert(Code::NotMeasured);
        }
        Agreement::Open => verdict.state = ConductorState::Open,
        Agreement::Undecided | Agreement::Unstable => {
            verdict.codes.insert(Code::TouchesDisagree);
            if measured.agreement == Agreement::Unstable {
                verdict.state = ConductorState::Unstable;
            }
        }
        Agreement::Usable | Agreement::UsableButOne => {
            if measured.agreement == Agreement::UsableButOne && readings.sweep != Some(SweepVerdict::Steady) {
                verdict.codes.insert(Code::OneTouchDisagreed);
            }
            let group_says = compare_value(&mut verdict, readings, measured, place);
            acquitted = group_says.as_ref().is_some_and(|finding| is_acquitted(&verdict, finding));
            remedy = group_says.as_ref().and_then(|finding| finding.remedy);
            bad_either_way = verdict.codes.contains(&Code::TwoLevels)
                && group_says.is_some_and(|finding| finding.bad_either_way)
                && declared
                && bench.bars_open()
                && measured.touches >= bench.rules.min_touches;
        }
    }
    ask_for_a_second_touch(&mut verdict, bench.rules.min_touches);
    say_why_it_is_low(&mut verdict, place);
    verdict.watch_percent = worth_watching(&verdict, bench);
    remedy = remedy.filter(|_| verdict.state == ConductorState::Undecided && verdict.codes.is_empty());
    if readings.touches_something {
        verdict.codes.insert(Code::IsolationFault);
    }
    Decided { verdict, bad_either_way, declared, acquitted, remedy }
}

fn nothing_known(measured: &Measured) -> ConductorVerdict {
    ConductorVerdict {
        state: ConductorState::Undecided,
        provisional: None,
        basis: None,
        value: measured.value,
        deviation: None,
        u: None,
        expanded: None,
        probability: None,
        touches: measured.touches,
        codes: BTreeSet::new(),
        limit: None,
        watch_percent: None,
    }
}

/// G and H: the group's word, then the limit's, which outranks it. Gives what the group said.
fn compare_value(
    verdict: &mut ConductorVerdict,
    readings: &ConductorReadings,
    measured: &Measured,
    place: &Place,
) -> Option<GroupFinding> {
    let bench = place.bench;
    let value = measured.usable()?;
    let variance = bench.value_variance(place.touch_u, measured.agreeing.len());
    let compared = Compared {
        value,
        variance,
        best_variance: bench.value_variance(place.touch_u, bench.rules.max_touches),
        agreeing: measured.agreeing.len(),
    };
    let group_says = compare_with_group(&compared, place.group, place.found, bench);
    if let Some(finding) = &group_says {
        verdict.state = finding.state;
        let known_good = place.found.kind == GroupKind::KnownGood;
        verdict.basis = Some(if known_good { Basis::KnownGood } else { Basis::Group });
        verdict.deviation = Some(finding.deviation);
        verdict.u = Some(finding.u);
        verdict.expanded = Some(finding.expanded);
        verdict.probability = Some(finding.probability);
        verdict.codes.extend(finding.code);
    }
    if let Some(bounds) = limit_of(readings, bench) {
        let limit = compare_with_limit(compared.value, compared.variance, &bounds, bench);
        verdict.limit = Some(limit);
        if !group_says.as_ref().is_some_and(|finding| is_left_to_the_group(&limit, finding, bench)) {
            hear_the_limit(verdict, &limit);
        }
    }
    group_says
}

/// H: puts the limit's word over the group's.
fn hear_the_limit(verdict: &mut ConductorVerdict, limit: &LimitVerdict) {
    let group_said = verdict.state;
    verdict.basis = Some(Basis::Limit);
    verdict.codes.retain(|code| *code == Code::OneTouchDisagreed);
    verdict.state = match limit.result {
        LimitResult::Conform => ConductorState::Consistent,
        LimitResult::NotConform if limit.is_over() => ConductorState::High,
        LimitResult::NotConform => ConductorState::Low,
        LimitResult::Undecided => {
            verdict.codes.insert(Code::LimitGuardBand);
            ConductorState::Undecided
        }
    };
    if matches!(group_said, ConductorState::High | ConductorState::Low) && group_said != verdict.state {
        verdict.codes.insert(Code::DiffersFromGroup);
    }
}

/// A limit that is kept says nothing about the side it does not bound: there the group's word stands.
fn is_left_to_the_group(limit: &LimitVerdict, group_says: &GroupFinding, bench: &Bench) -> bool {
    let settled_below = matches!(group_says.state, ConductorState::Consistent | ConductorState::Low)
        || group_says.code == Some(Code::LowSuspect);
    let open_above = limit.high.is_none() && !settled_below;
    let open_below = bench.rules.careful && limit.low.is_none() && group_says.may_be_low;
    limit.result == LimitResult::Conform && (open_above || open_below)
}

fn is_acquitted(verdict: &ConductorVerdict, group_says: &GroupFinding) -> bool {
    let by_limit = verdict.basis == Some(Basis::Limit) && verdict.state == ConductorState::Consistent;
    by_limit && group_says.state != ConductorState::Consistent && below(0.0, group_says.deviation)
}

/// I: one bad clip looks like a bad conductor, so condemning takes a second touch.
fn ask_for_a_second_touch(verdict: &mut ConductorVerdict, min_touches: usize) {
    let condemned = matches!(verdict.state, ConductorState::High | ConductorState::Low | ConductorState::Open);
    if condemned && verdict.touches < min_touches {
        verdict.provisional = Some(verdict.state);
        verdict.state = ConductorState::Undecided;
        verdict.codes.insert(Code::OneTouch);
    }
}

/// J: a conductor below its group: a closed bar, another width, or a contact to a neighbour?
fn say_why_it_is_low(verdict: &mut ConductorVerdict, place: &Place) {
    let bench = place.bench;
    let (Some(value), Some(reference)) = (verdict.value, place.found.references.first()) else { return };
    if verdict.state != ConductorState::Low || verdict.basis == Some(Basis::Limit) {
        return;
    }
    let ratio = bench.ratio(value, reference.level);
    if at_most(bench.rules.ratio_bar, ratio) && !bench.bars_open() {
        verdict.codes.insert(Code::BarClosed);
    } else if !place.group.declared && at_most(bench.rules.ratio_width, ratio) {
        verdict.state = ConductorState::Undecided;
        verdict.codes.insert(Code::TwoLevels);
    } else {
        verdict.codes.insert(Code::Shorted);
    }
}

/// Consistent, and yet so far above the others that it deserves a look in the sweep: whole percent above.
fn worth_watching(verdict: &ConductorVerdict, bench: &Bench) -> Option<u32> {
    let (deviation, expanded) = (verdict.deviation?, verdict.expanded?);
    let level = verdict.value? - deviation - bench.lead.left;
    let far = below(bench.rules.watch_rel * level, deviation) && below(expanded, deviation);
    (verdict.state == ConductorState::Consistent && level > 0.0 && far)
        .then(|| (100.0 * deviation / level).round().min(9999.0) as u32)
}
