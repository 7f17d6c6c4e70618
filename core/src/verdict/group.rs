//! Step G: a conductor against the reference of its group.

use super::bench::Bench;
use super::outcome::{ActionCode, Code, ConductorState, GroupKind};
use super::reference::{Group, GroupReference, Reference};
use super::statistics::{at_most, below, probability_between};

/// What the comparison with the group says about a conductor.
#[derive(Clone, Debug)]
pub(super) struct GroupFinding {
    pub state: ConductorState,
    /// Why it is undecided, if it is.
    pub code: Option<Code>,
    /// What would settle it, where it is undecided and no code says why.
    pub remedy: Option<ActionCode>,
    /// Against the first reference: deviation, standard and expanded uncertainty (ohms), probability within tolerance.
    pub deviation: f64,
    pub u: f64,
    pub expanded: f64,
    pub probability: f64,
    /// Below the low tolerance of a reference of the group, proven or not.
    pub may_be_low: bool,
    /// Two references disagree about it, but one of them calls it high or low: where no bar and no width can explain
    /// the two levels, it is bad either way.
    pub bad_either_way: bool,
}

/// A conductor as G sees it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Compared {
    pub value: f64,
    /// Variance of the value, ohms squared.
    pub variance: f64,
    /// The same, had it been touched as often as makes sense.
    pub best_variance: f64,
    /// Number of agreeing touches.
    pub agreeing: usize,
}

struct Against {
    state: ConductorState,
    low_suspect: bool,
    deviation: f64,
    u: f64,
    expanded: f64,
    probability: f64,
}

/// G: compares a conductor with the reference or references of its group. `None` when the group has none.
pub(super) fn compare_with_group(
    conductor: &Compared,
    group: &Group,
    found: &GroupReference,
    bench: &Bench,
) -> Option<GroupFinding> {
    let first = found.references.first()?;
    let all: Vec<Against> = found.references.iter().map(|r| compare(conductor, r, bench)).collect();
    let against = &all[0];
    let mut finding = GroupFinding {
        state: against.state,
        code: None,
        remedy: None,
        deviation: against.deviation,
        u: against.u,
        expanded: against.expanded,
        probability: against.probability,
        may_be_low: all.iter().any(|other| other.low_suspect),
        bad_either_way: false,
    };
    let undecided = |finding: &mut GroupFinding, code| {
        finding.state = ConductorState::Undecided;
        finding.code = Some(code);
    };
    if all.iter().any(|other| other.state != against.state) {
        undecided(&mut finding, Code::TwoLevels);
        finding.bad_either_way =
            all.iter().any(|other| matches!(other.state, ConductorState::High | ConductorState::Low));
    } else if against.state == ConductorState::Consistent && found.kind == GroupKind::Lone {
        undecided(&mut finding, Code::NothingToCompare);
    } else if against.state == ConductorState::High && lower_level_may_be_wrong(conductor, group, found, bench) {
        undecided(&mut finding, Code::TwoLevels);
    } else if against.state == ConductorState::Undecided {
        if against.low_suspect {
            finding.code = Some(Code::LowSuspect);
        } else if at_most(0.0, against.deviation) {
            finding.code = Some(what_would_settle_it(conductor, first, against.deviation, bench));
        } else {
            // Its uncertainty alone is larger than the tolerance; the text names no code for this side.
            finding.remedy = Some(what_would_sharpen_it(conductor, first, against.deviation, bench));
        }
    }
    Some(finding)
}

fn compare(conductor: &Compared, reference: &Reference, bench: &Bench) -> Against {
    let deviation = conductor.value - reference.level;
    // The meter's offset is common to both and cancels; its gain error acts on the difference only.
    let gain = bench.accuracy * deviation;
    let u = (conductor.variance + reference.variance + gain * gain / 3.0).sqrt();
    let expanded = bench.expanded(u);
    let (high, low) = (reference.tolerance, -reference.low_tolerance);
    let below_low = below(deviation, low);
    let state = if below(high, deviation - expanded) {
        ConductorState::High
    } else if below(deviation + expanded, low) {
        ConductorState::Low
    } else if !below_low && at_most(deviation + expanded, high) {
        ConductorState::Consistent
    } else {
        ConductorState::Undecided
    };
    let probability = probability_between(Some(low), Some(high), deviation, u);
    Against { state, low_suspect: below_low, deviation, u, expanded, probability }
}

/// A conductor is high over a level that no more than half of the group carries. Is that level low because of a
/// closed bar, or because it is a wider ribbon?
fn lower_level_may_be_wrong(conductor: &Compared, group: &Group, found: &GroupReference, bench: &Bench) -> bool {
    let [only] = found.references.as_slice() else { return false };
    if found.kind == GroupKind::KnownGood || 2 * only.members.len() > found.usable {
        return false;
    }
    let ratio = bench.ratio(only.level, conductor.value);
    (at_most(bench.rules.ratio_bar, ratio) && !bench.bars_open())
        || (!group.declared && at_most(bench.rules.ratio_width, ratio))
}

/// Too close to the tolerance: is it the step, the number of touches, or is it simply there?
fn what_would_settle_it(conductor: &Compared, reference: &Reference, deviation: f64, bench: &Bench) -> Code {
    let distance = (reference.tolerance - deviation).abs();
    let members = reference.members.len().max(1) as f64;
    let rounding = bench.step / 12.0_f64.sqrt() * (1.0 + 1.0 / members).sqrt();
    if at_most(distance, (2.0 * rounding).max(bench.step)) {
        return if below(bench.rules.fine_step, bench.step) { Code::StepTooCoarse } else { Code::AtTheLimit };
    }
    let reachable = bench.rules.coverage * (conductor.best_variance + reference.variance).sqrt();
    if conductor.agreeing < bench.rules.max_touches && at_most(reachable, distance) {
        Code::MoreTouches
    } else {
        Code::AtTheLimit
    }
}

/// Below its reference, and yet not known to be below the tolerance: which part of the uncertainty could be spared?
fn what_would_sharpen_it(conductor: &Compared, reference: &Reference, deviation: f64, bench: &Bench) -> ActionCode {
    let room = reference.tolerance - deviation;
    let fits = |own: f64, level: f64| at_most(bench.rules.coverage * (own + level).max(0.0).sqrt(), room);
    let enough = |own, level| fits(own, level) && at_most(bench.step, room);
    let drift = bench.lead.u_drift * bench.lead.u_drift;
    let leads_in_level = match reference.members.len() {
        // A known-good level is without leads: those nobody zeroed do not cancel.
        0 if bench.lead.left > 0.0 => bench.lead.u * bench.lead.u,
        0 => 0.0,
        members => drift / members as f64,
    };
    if enough(conductor.variance - drift, reference.variance - leads_in_level) {
        ActionCode::ZeroLeads
    } else if conductor.agreeing < bench.rules.max_touches && enough(conductor.best_variance, reference.variance) {
        ActionCode::TouchAgain
    } else if below(bench.rules.fine_step, bench.step)
        && fits(conductor.variance - bench.step * bench.step / 12.0, reference.variance)
    {
        ActionCode::FinerMeter
    } else {
        ActionCode::EnterLimit
    }
}
