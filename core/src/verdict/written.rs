//! A verdict as it is written down: every figure as decimal text, so that the record holds no binary float.
//!
//! Figures are rounded to a millionth, which is also as finely as the rules compare.

#[cfg(test)]
mod tests;

use super::outcome::{
    ActionCode, Basis, Code, ConductorState, ConductorVerdict, GroupKind, GroupVerdict, Level, LimitResult,
    LimitVerdict, NextAction, SetVerdict, Verdict,
};
use crate::unit::Figure;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Version of the rules that [`super::judge`] applies.
pub const RULES_VERSION: u16 = 1;

/// A verdict on the conductors of a part, with everything needed to show it again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Judgement {
    /// Version of the rules it was given by.
    pub rules: u16,
    /// The part as a whole.
    pub set: SetVerdict,
    /// Why.
    pub reasons: BTreeSet<Code>,
    /// The next action.
    pub action: ActionCode,
    /// Conductor the action concerns: index in the part.
    pub action_conductor: Option<u32>,
    /// Every judged conductor.
    pub conductors: Vec<JudgedConductor>,
    /// Every group.
    pub groups: Vec<JudgedGroup>,
    /// Every conductor was swept steady.
    pub swept_steady: bool,
    /// Standard uncertainty of one touch that was used, ohm.
    pub touch_u: Figure,
}

/// One conductor of a [`Judgement`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct JudgedConductor {
    /// Index in the part.
    pub conductor: u32,
    /// The finding.
    pub state: ConductorState,
    /// What it would be with one more touch, if that is what is missing.
    pub provisional: Option<ConductorState>,
    /// What it was judged by.
    pub basis: Option<Basis>,
    /// Value, ohm.
    pub value: Option<Figure>,
    /// Difference to the reference, ohm.
    pub deviation: Option<Figure>,
    /// Standard uncertainty, ohm.
    pub u: Option<Figure>,
    /// Expanded uncertainty (k = 2), ohm.
    pub expanded: Option<Figure>,
    /// Probability of being within tolerance.
    pub probability: Option<Figure>,
    /// Touches it rests on.
    pub touches: u32,
    /// Why.
    pub codes: BTreeSet<Code>,
    /// How its limit was met.
    pub limit: Option<JudgedLimit>,
    /// Whole percent above the others, when worth watching.
    pub watch_percent: Option<u32>,
}

/// How a limit was met.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct JudgedLimit {
    /// Value without the leads, ohm.
    pub value: Figure,
    /// Standard uncertainty, ohm.
    pub u: Figure,
    /// Expanded uncertainty, ohm.
    pub expanded: Figure,
    /// Highest allowed, ohm.
    pub high: Option<Figure>,
    /// Lowest allowed, ohm.
    pub low: Option<Figure>,
    /// The finding.
    pub result: LimitResult,
    /// Probability of being within.
    pub probability: Figure,
}

/// One group of a [`Judgement`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct JudgedGroup {
    /// Its name; empty when not declared.
    pub name: String,
    /// How the reference was found.
    pub kind: GroupKind,
    /// Reference, ohm.
    pub reference: Option<Figure>,
    /// Its standard uncertainty, ohm.
    pub u_ref: Option<Figure>,
    /// Tolerance upwards, ohm.
    pub tolerance: Option<Figure>,
    /// Tolerance downwards, ohm.
    pub low_tolerance: Option<Figure>,
    /// Conductors the reference rests on: indices in the part.
    pub members: Vec<u32>,
    /// Conductors of a second, lower level: indices in the part.
    pub lower: Vec<u32>,
    /// What is known about its height.
    pub level: Level,
}

impl Judgement {
    /// Writes a verdict down. `conductors` gives the index in the part of each judged conductor.
    ///
    /// # Panics
    /// If the verdict names a conductor that `conductors` does not hold.
    pub fn write(verdict: &Verdict, conductors: &[u32]) -> Judgement {
        let all = |indices: &[usize]| indices.iter().map(|i| conductors[*i]).collect();
        let groups = verdict.groups.iter().map(|(name, g)| JudgedGroup {
            name: name.clone(),
            kind: g.kind,
            reference: g.reference.map(Figure::write),
            u_ref: g.u_ref.map(Figure::write),
            tolerance: g.tolerance.map(Figure::write),
            low_tolerance: g.low_tolerance.map(Figure::write),
            members: all(&g.members),
            lower: all(&g.lower),
            level: g.level,
        });
        Judgement {
            rules: RULES_VERSION,
            set: verdict.set,
            reasons: verdict.reasons.clone(),
            action: verdict.action.code,
            action_conductor: verdict.action.conductor.map(|i| conductors[i]),
            conductors: conductors.iter().zip(&verdict.conductors).map(|(i, c)| write_conductor(*i, c)).collect(),
            groups: groups.collect(),
            swept_steady: verdict.swept_steady,
            touch_u: Figure::write(verdict.touch_u),
        }
    }

    /// Within how many ohms every conductor agrees with a known-good part, uncertainty included; `None` unless each of
    /// them was compared with one and found consistent.
    pub fn alike_within(&self) -> Option<Figure> {
        let of = |c: &JudgedConductor| {
            let alike = c.state == ConductorState::Consistent && c.basis == Some(Basis::KnownGood);
            Some(c.deviation.as_ref()?.read().abs() + c.expanded.as_ref()?.read()).filter(|_| alike)
        };
        let all: Option<Vec<f64>> = self.conductors.iter().map(of).collect();
        all?.into_iter().reduce(f64::max).map(Figure::write)
    }

    /// The verdict again, its conductors in the order of [`Judgement::conductors`].
    pub fn read(&self) -> Verdict {
        let place = |index: u32| self.conductors.iter().position(|c| c.conductor == index);
        let all = |indices: &[u32]| indices.iter().filter_map(|i| place(*i)).collect();
        let groups = self.groups.iter().map(|g| {
            let group = GroupVerdict {
                kind: g.kind,
                reference: read(&g.reference),
                u_ref: read(&g.u_ref),
                tolerance: read(&g.tolerance),
                low_tolerance: read(&g.low_tolerance),
                members: all(&g.members),
                lower: all(&g.lower),
                level: g.level,
            };
            (g.name.clone(), group)
        });
        Verdict {
            set: self.set,
            reasons: self.reasons.clone(),
            action: NextAction { code: self.action, conductor: self.action_conductor.and_then(place) },
            conductors: self.conductors.iter().map(read_conductor).collect(),
            groups: groups.collect(),
            swept_steady: self.swept_steady,
            touch_u: self.touch_u.read(),
        }
    }
}

fn read(figure: &Option<Figure>) -> Option<f64> {
    figure.as_ref().map(Figure::read)
}

fn write_conductor(index: u32, c: &ConductorVerdict) -> JudgedConductor {
    JudgedConductor {
        conductor: index,
        state: c.state,
        provisional: c.provisional,
        basis: c.basis,
        value: c.value.map(Figure::write),
        deviation: c.deviation.map(Figure::write),
        u: c.u.map(Figure::write),
        expanded: c.expanded.map(Figure::write),
        probability: c.probability.map(Figure::write),
        touches: u32::try_from(c.touches).unwrap_or(u32::MAX),
        codes: c.codes.clone(),
        limit: c.limit.map(|l| JudgedLimit {
            value: Figure::write(l.value),
            u: Figure::write(l.u),
            expanded: Figure::write(l.expanded),
            high: l.high.map(Figure::write),
            low: l.low.map(Figure::write),
            result: l.result,
            probability: Figure::write(l.probability),
        }),
        watch_percent: c.watch_percent,
    }
}

fn read_conductor(c: &JudgedConductor) -> ConductorVerdict {
    ConductorVerdict {
        state: c.state,
        provisional: c.provisional,
        basis: c.basis,
        value: read(&c.value),
        deviation: read(&c.deviation),
        u: read(&c.u),
        expanded: read(&c.expanded),
        probability: read(&c.probability),
        touches: c.touches as usize,
        codes: c.codes.clone(),
        limit: c.limit.as_ref().map(|l| LimitVerdict {
            value: l.value.read(),
            u: l.u.read(),
            expanded: l.expanded.read(),
            high: read(&l.high),
            low: read(&l.low),
            result: l.result,
            probability: l.probability.read(),
        }),
        watch_percent: c.watch_percent,
    }
}
