//! What a procedure's file asks of readings: it is held to where it is stricter than the rules, and never where it is
//! looser.

use super::state::Work;
use crate::part::{MAX_NAME, PartLimit};
use crate::procedure::{Amount, StepKind, Zero};
use crate::unit::Quantity;
use crate::verdict::words::Language;

impl Work {
    /// Sound from this on, ohm: the highest of what the steps ask for that read this pair, in either order; none for
    /// `other`: metal.
    pub(crate) fn sound_above(&self, a: u32, other: Option<u32>) -> Option<f64> {
        let small = |index: usize| u32::try_from(index).ok();
        let same = |(one, two): &(usize, Option<usize>)| match (small(*one), two.map(small), other) {
            (Some(one), None, None) => one == a,
            (Some(one), Some(Some(two)), Some(b)) => (one, two) == (a, b) || (one, two) == (b, a),
            _ => false,
        };
        let asked = self.kinds().filter_map(|kind| match kind {
            StepKind::Isolation(isolation) if isolation.pairs.iter().any(same) => ohm(isolation.above),
            _ => None,
        });
        asked.reduce(f64::max)
    }

    /// How far the zero of the leads may move at a display step, both in ohm: the least of what the steps allow.
    pub(crate) fn zero_may_move(&self, step: f64) -> Option<f64> {
        let most = |zero: &Zero| ohm(zero.drift).map(|drift| drift.max(f64::from(zero.drift_steps) * step));
        let allowed = self.kinds().filter_map(|kind| match kind {
            StepKind::Zero(zero) => most(zero),
            _ => None,
        });
        allowed.reduce(f64::min)
    }

    /// What the step that is open calls a jump, if it sweeps this conductor.
    pub(crate) fn jump_wanted(&self, conductor: u32) -> Option<Quantity> {
        let StepKind::Sweep(sweeping) = &self.open_step()?.kind else { return None };
        let swept = usize::try_from(conductor).is_ok_and(|conductor| sweeping.wires.contains(&conductor));
        sweeping.jump.quantity().filter(|_| swept)
    }

    /// What a conductor may read by the first step of the file that measures it with a limit, and where that is printed.
    pub(crate) fn limit_of(&self, conductor: usize, language: Language) -> Option<PartLimit> {
        let limit = self.kinds().find_map(|kind| match kind {
            StepKind::Measure(measuring) if measuring.wires.contains(&conductor) => measuring.limit.as_ref(),
            _ => None,
        })?;
        let source = self.procedure.source(limit.source.as_deref()).map(|source| source.text.get(language));
        Some(PartLimit {
            high: limit.high.and_then(Amount::quantity),
            low: limit.low.and_then(Amount::quantity),
            temperature: None,
            source: source.unwrap_or_default().chars().take(MAX_NAME).collect(),
        })
    }

    fn kinds(&self) -> impl Iterator<Item = &StepKind> {
        self.procedure.steps.iter().map(|step| &step.kind)
    }
}

fn ohm(amount: Amount) -> Option<f64> {
    amount.quantity().map(Quantity::to_f64)
}
