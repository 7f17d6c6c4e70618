//! Step L: what to do next. The first that applies, from what would make everything else wrong to what is left.

use super::bench::Bench;
use super::conductor::Decided;
use super::outcome::{ActionCode, Basis, Code, ConductorState, NextAction, SetVerdict};
use super::set::{PROVEN, is_hard};
use super::statistics::below;
use std::collections::BTreeSet;

/// What the next action is chosen from.
#[derive(Debug)]
pub(super) struct Standing<'a> {
    pub set: SetVerdict,
    pub conductors: &'a [Decided],
    pub codes: &'a BTreeSet<Code>,
    pub swept_steady: bool,
    pub bench: &'a Bench<'a>,
}

/// L: the next action.
pub(super) fn choose(standing: &Standing) -> NextAction {
    let on_the_part = |code| NextAction { code, conductor: None };
    if standing.conductors.is_empty() {
        return on_the_part(ActionCode::Measure);
    }
    if standing.codes.contains(&Code::ZeroSuspect) {
        return on_the_part(ActionCode::ZeroLeads);
    }
    if standing.set == SetVerdict::Fail {
        return for_a_bad_part(standing);
    }
    if let Some(action) = ORDER.iter().find_map(|code| for_code(*code, standing)) {
        return action;
    }
    if let Some(action) = for_what_bears_no_code(standing).filter(|_| standing.bench.rules.careful) {
        return action;
    }
    if standing.codes.contains(&Code::LevelImplausible) {
        return on_the_part(ActionCode::EnterLimit);
    }
    if let Some(conductor) = standing.first_with(Code::OneTouchDisagreed) {
        return NextAction { code: ActionCode::Sweep, conductor: Some(conductor) };
    }
    if !standing.swept_steady {
        return on_the_part(ActionCode::Sweep);
    }
    if standing.set == SetVerdict::Undecided {
        // Nothing above settles it, and "done" would be a lie: a limit always does.
        let conductor = standing.first(|c| c.verdict.state != ConductorState::Consistent);
        return NextAction { code: ActionCode::EnterLimit, conductor };
    }
    on_the_part(ActionCode::Done)
}

/// Codes a conductor can bear, in the order in which they are dealt with.
const ORDER: [Code; 11] = [
    Code::OneTouch,
    Code::NotMeasured,
    Code::TouchesDisagree,
    Code::BarClosed,
    Code::TwoLevels,
    Code::LimitGuardBand,
    Code::StepTooCoarse,
    Code::MoreTouches,
    Code::LowSuspect,
    Code::AtTheLimit,
    Code::NothingToCompare,
];

/// A bad part: the first conductor that condemns it; if only low ones do, the lowest, to look for what it touches.
fn for_a_bad_part(standing: &Standing) -> NextAction {
    let zero_suspect = standing.codes.contains(&Code::ZeroSuspect);
    let condemned = standing.first(|c| {
        matches!(c.verdict.state, ConductorState::High | ConductorState::Open)
            || PROVEN.iter().any(|code| c.verdict.codes.contains(code))
    });
    if condemned.is_some() {
        return NextAction { code: ActionCode::Replace, conductor: condemned };
    }
    let lowest = standing
        .conductors
        .iter()
        .enumerate()
        .filter(|(_, c)| is_hard(c, zero_suspect))
        .min_by(|(_, a), (_, b)| value(a).total_cmp(&value(b)))
        .map(|(i, _)| i);
    NextAction { code: ActionCode::CheckIsolation, conductor: lowest }
}

fn value(decided: &Decided) -> f64 {
    decided.verdict.value.unwrap_or(f64::INFINITY)
}

/// What a code asks for, if a conductor bears it.
fn for_code(code: Code, standing: &Standing) -> Option<NextAction> {
    let first = standing.first_with(code)?;
    let bearer = &standing.conductors[first];
    let on_it = |code| NextAction { code, conductor: Some(first) };
    let careful = standing.bench.rules.careful;
    Some(match code {
        Code::OneTouch | Code::MoreTouches => on_it(ActionCode::TouchAgain),
        Code::NotMeasured => on_it(ActionCode::Measure),
        Code::TouchesDisagree if bearer.verdict.state == ConductorState::Unstable => on_it(ActionCode::Sweep),
        Code::TouchesDisagree => on_it(ActionCode::TouchAgain),
        Code::TwoLevels if !bearer.declared => on_it(ActionCode::SetGroups),
        Code::TwoLevels | Code::LowSuspect if careful && standing.bench.bars_open() => {
            on_it(beyond_the_bars(bearer, standing))
        }
        Code::BarClosed | Code::TwoLevels | Code::LowSuspect => on_it(ActionCode::OpenBars),
        Code::LimitGuardBand if standing.codes.contains(&Code::LeadsNotZeroed) => {
            NextAction { code: ActionCode::ZeroLeads, conductor: None }
        }
        Code::LimitGuardBand => on_it(ActionCode::BetterMeter),
        // Against a level without leads the leads count as they do against a limit.
        Code::AtTheLimit
            if careful
                && bearer.verdict.basis == Some(Basis::KnownGood)
                && standing.codes.contains(&Code::LeadsNotZeroed) =>
        {
            NextAction { code: ActionCode::ZeroLeads, conductor: None }
        }
        Code::StepTooCoarse => {
            NextAction { code: ActionCode::FinerMeter, conductor: Some(standing.furthest_with(code).unwrap_or(first)) }
        }
        _ => on_it(ActionCode::EnterLimit),
    })
}

/// The bars are open already, and it still may be low: a finer step, another touch, in the end a limit with a low side.
fn beyond_the_bars(bearer: &Decided, standing: &Standing) -> ActionCode {
    let rules = standing.bench.rules;
    if below(rules.fine_step, standing.bench.step) {
        ActionCode::FinerMeter
    } else if bearer.verdict.touches < rules.max_touches {
        ActionCode::TouchAgain
    } else {
        ActionCode::EnterLimit
    }
}

/// A conductor that is undecided and bears no code: what would make its uncertainty small enough. Turning would not.
fn for_what_bears_no_code(standing: &Standing) -> Option<NextAction> {
    let (i, code) = standing.conductors.iter().enumerate().find_map(|(i, c)| Some((i, c.remedy?)))?;
    Some(NextAction { code, conductor: Some(i).filter(|_| code != ActionCode::ZeroLeads) })
}

impl Standing<'_> {
    fn first(&self, which: impl Fn(&Decided) -> bool) -> Option<usize> {
        self.conductors.iter().position(which)
    }

    fn first_with(&self, code: Code) -> Option<usize> {
        self.first(|c| c.verdict.codes.contains(&code))
    }

    /// The one furthest above its reference, the first of equals.
    fn furthest_with(&self, code: Code) -> Option<usize> {
        let mut furthest: Option<(usize, f64)> = None;
        for (i, c) in self.conductors.iter().enumerate().filter(|(_, c)| c.verdict.codes.contains(&code)) {
            let deviation = c.verdict.deviation.unwrap_or(f64::NEG_INFINITY);
            if furthest.is_none_or(|(_, most)| deviation > most) {
                furthest = Some((i, deviation));
            }
        }
        furthest.map(|(i, _)| i)
    }
}
