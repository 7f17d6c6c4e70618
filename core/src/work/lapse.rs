//! Readings that were set aside or taken back, and what rests on them.

use super::held::Why;
use super::state::{How, StepState, Work};
use crate::procedure::{Fact, Step, StepKind};
use crate::record::{Alike, Done, StepDone};
use crate::unit::Stamp;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

impl Work {
    /// A step that is done rests on this reading.
    pub fn rests_on(&self, reading: Uuid) -> bool {
        self.states.values().any(|state| rests_on_any(state, &|other| other == reading))
    }

    /// A reading was taken back: a signature under what rests on it was given for something else. Every comparison may
    /// rest on it.
    pub(super) fn signatures_lapse(&mut self, reading: Uuid) {
        for state in self.states.values_mut() {
            if rests_on_any(state, &|other| other == reading) || is_judged(state) {
                state.second = None;
            }
        }
    }

    /// These readings were set aside: another meter, or a zero that moved. The steps that rest on them are to be done
    /// again with every comparison and verdict made of them, and what was signed there is not signed any more. What was
    /// gone on from stays as it was: that part is repaired or out of the vehicle, and cannot be read again.
    pub(crate) fn readings_gone(&mut self, gone: &BTreeSet<Uuid>, wall: &Stamp) {
        if gone.is_empty() {
            return;
        }
        let lapses = |state: &StepState| {
            state.doing > self.past && (rests_on_any(state, &|reading| gone.contains(&reading)) || is_judged(state))
        };
        let ids: Vec<String> =
            self.states.iter().filter(|(_, state)| lapses(state)).map(|(id, _)| id.clone()).collect();
        for id in ids {
            self.states.remove(&id);
            self.read.remove(&id);
            let made: Vec<Fact> =
                self.held.iter().filter(|(_, held)| held.step == id).map(|(fact, _)| fact.clone()).collect();
            for fact in made {
                self.held.remove(&fact);
                self.lost.insert(fact, Why::ReadingsGone(wall.clone()));
            }
            self.lapsed.insert(id);
        }
    }

    /// The readings of the zero were set aside.
    pub fn zero_gone(&mut self, wall: &Stamp) {
        if self.held.remove(&Fact::ZeroValid).is_some() {
            self.lost.insert(Fact::ZeroValid, Why::ReadingsGone(wall.clone()));
        }
    }

    /// A step that is to be done again because its readings were set aside.
    pub fn is_lapsed(&self, step: &str) -> bool {
        self.lapsed.contains(step)
    }

    /// The first step whose conductors are to be measured again because what they read was set aside.
    pub(crate) fn measured_again_first(&self) -> Option<&Step> {
        let measures = |step: &&Step| matches!(step.kind, StepKind::Measure(_)) && self.is_lapsed(&step.id);
        self.procedure.steps.iter().find(measures)
    }

    /// A step was begun. The verdict above it that was signed is acted on with that.
    pub(super) fn gone_on_from_what_was_signed(&mut self, begun: &str) {
        let above = self.procedure.steps.iter().take_while(|step| step.id != begun);
        let signed = above.filter(|step| matches!(step.kind, StepKind::Sign(_)) && !step.kind.closes());
        let newest = signed.filter_map(|step| self.states.get(&step.id)).filter(|state| is_judged(state));
        self.past = newest.map(|state| state.doing).fold(self.past, u32::max);
    }

    /// Steps are to be done again: what was gone on from by one of them is not any more.
    pub(super) fn not_gone_on_from(&mut self) {
        let went_on = |step: &Step| {
            let state = self.states.get(&step.id)?;
            match step.kind {
                StepKind::Part(_) => Some(state.doing.saturating_sub(1)),
                StepKind::Sign(_) if !step.kind.closes() && is_judged(state) => Some(state.doing),
                _ => None,
            }
        };
        let still = self.procedure.steps.iter().filter_map(went_on).filter(|doing| *doing <= self.past);
        self.past = still.max().unwrap_or(0);
    }

    /// The newest comparison of each group that was not gone on from: its step, its group, what it came to; in the order
    /// of the steps.
    pub(crate) fn compared(&self) -> Vec<(&str, &str, Alike)> {
        let mut newest: BTreeMap<&str, (u32, &str)> = BTreeMap::new();
        let compares = |step: &str| match &self.procedure.step(step)?.kind {
            StepKind::Compare(compare) => Some(compare.group.as_str()),
            _ => None,
        };
        for step in &self.procedure.steps {
            let Some(group) = compares(&step.id) else { continue };
            let Some(state) = self.states.get(&step.id).filter(|state| state.doing > self.past) else { continue };
            let known = newest.entry(group).or_insert((state.doing, &step.id));
            if state.doing >= known.0 {
                *known = (state.doing, &step.id);
            }
        }
        let came_to = |step: &str| match &self.states.get(step)?.how {
            How::Done(StepDone { done: Done::Compared { alike }, .. }) => Some(*alike),
            _ => None,
        };
        let kept: BTreeSet<&str> = newest.values().map(|(_, step)| *step).collect();
        let in_order = self.procedure.steps.iter().map(|step| step.id.as_str()).filter(|id| kept.contains(id));
        in_order.filter_map(|step| Some((step, compares(step)?, came_to(step)?))).collect()
    }
}

fn rests_on_any(state: &StepState, of: &dyn Fn(Uuid) -> bool) -> bool {
    match &state.how {
        How::Done(StepDone { done: Done::Measured { readings }, .. }) => readings.iter().any(|reading| of(*reading)),
        _ => false,
    }
}

/// A comparison or a signature that does not end the job.
fn is_judged(state: &StepState) -> bool {
    matches!(&state.how, How::Done(StepDone { done: Done::Compared { .. } | Done::Signed { outcome: None }, .. }))
}
