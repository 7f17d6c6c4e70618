//! The rules no file can switch off, step by step.

use super::Check;
use crate::part::EndRefused;
use crate::procedure::amount::{Amount, Measure};
use crate::procedure::demands::{evidence_of, may_give, purpose};
use crate::procedure::kind::{ProveDead, Wait};
use crate::procedure::places::Places;
use crate::procedure::{Fact, Step, StepKind, WAIT_FLOOR_S};
use crate::sweep::plan::Movement;
use crate::verdict::words::Language;
use std::collections::BTreeSet;

/// The longest wait, seconds: cable off lapses after four hours, and work has to fit in besides.
const WAIT_MOST_S: i64 = 3 * 3600;
/// Dead is never more than this, millivolts: half a volt lets a meter's ghost reading pass and no battery.
const DEAD_MOST_MV: i64 = 500;

impl Check<'_, '_> {
    /// Needs, cautions, who may give what, what may be skipped.
    pub(super) fn interlock(&self, step: &Step, places: &Places) {
        for fact in self.procedure.demanded_needs(step).difference(&step.needs) {
            let what = format!("this step does not need `{fact}`");
            self.rule(places.key("needs"), what, format!("\"{fact}\" among its needs"));
        }
        for caution in self.procedure.demanded_cautions(step).difference(&step.cautions) {
            let what = format!("this step does not show caution {caution:?}");
            self.rule(places.key("cautions"), what, format!("\"{caution:?}\" among its cautions"));
        }
        for fact in &step.gives {
            if !may_give(&step.kind, fact) {
                let what = format!("a step of kind \"{}\" cannot give `{fact}`", step.kind.word());
                self.rule(places.item("gives", &fact.to_string()), what, "the kind of step that is made for it");
            }
            if let Some(evidence) = evidence_of(fact).filter(|evidence| !step.evidence.contains(evidence)) {
                let what = format!("nothing is kept to show `{fact}`");
                let instead = format!("evidence = [\"{}\"]", format!("{evidence:?}").to_lowercase());
                self.rule(places.key("evidence"), what, instead);
            }
        }
        if let Some(fact) = purpose(&step.kind).filter(|fact| !step.gives.contains(fact)) {
            let what = format!("a step of this kind is there for `{fact}` and does not give it");
            self.conflict(places.key("gives"), what, format!("\"{fact}\" among what it gives"));
        }
        if step.skip.is_some() && step.must_be_done() {
            let what = "the safety of somebody hangs on this step";
            self.rule(places.key("skip"), what, "no `skip` here");
        }
        match &step.kind {
            StepKind::Wait(wait) => self.wait(wait, places),
            StepKind::ProveDead(prove) => self.prove_dead(prove, places),
            _ => self.clips(step, places),
        }
    }

    fn wait(&self, wait: &Wait, places: &Places) {
        let seconds = |seconds: i64| Amount::new(seconds, 0, Measure::Second).expect("few digits");
        let floor = seconds(i64::try_from(WAIT_FLOOR_S).expect("two minutes"));
        let at = places.key("at_least");
        if !floor.at_most(wait.at_least) {
            let what = format!("a wait of {} is too short", wait.at_least);
            self.rule(at, what, format!("the maker's full time, at least {floor}"));
        } else if !wait.at_least.at_most(seconds(WAIT_MOST_S)) {
            let what = format!("a wait of {} outlasts what it waits for", wait.at_least);
            self.conflict(at, what, format!("at most {}", seconds(WAIT_MOST_S)));
        }
        if wait.starts != Fact::CableOff {
            let what = format!("the wait cannot count from `{}`", wait.starts);
            self.rule(places.key("starts"), what, "starts = \"cable_off\"");
        }
    }

    fn prove_dead(&self, prove: &ProveDead, places: &Places) {
        let most = Amount::new(DEAD_MOST_MV, 0, Measure::Millivolt).expect("few digits");
        if !prove.limit.at_most(most) {
            let what = format!("{} is not dead", prove.limit);
            self.rule(places.key("limit"), what, format!("at most {most}"));
        }
        let restraint = |plug: Option<u8>| plug.is_some_and(|plug| self.procedure.circuits.is_restraint(plug));
        if prove.points.iter().any(|point| restraint(point.plug)) {
            let what = "no meter goes to a plug of a restraint system to prove it dead";
            self.rule(places.key("points"), what, "battery clamps and feeds only");
        }
    }

    /// Where the clips may go, and how far a coil may be turned.
    fn clips(&self, step: &Step, places: &Places) {
        let circuits = &self.procedure.circuits;
        let part = circuits.by_ids(Language::En, 1);
        for index in step.kind.wires() {
            let Err(why) = part.clip_points(index) else { continue };
            let id = &circuits.wires[index].id;
            let why = match why {
                EndRefused::DrawnOnly => "it is in the picture only".to_owned(),
                other => other.to_string(),
            };
            let key = if matches!(step.kind, StepKind::Isolation(_)) { "pairs" } else { "conductors" };
            self.rule(places.item(key, id), format!("no clip may go to {id:?}: {why}"), "other conductors");
        }
        if let StepKind::Isolation(isolation) = &step.kind {
            let wires = step.kind.wires();
            let bridged = circuits.bars.iter().any(|bar| wires.contains(&bar.pair.0) || wires.contains(&bar.pair.1));
            if bridged && !isolation.bars_open {
                let what = "a shorting bar bridges one of these: on a sound part it would read as a short";
                self.rule(places.key("bars"), what, "bars = \"open\"");
            }
        }
        if let StepKind::Sweep(sweeping) = &step.kind
            && let Movement::Turns { each_side } = sweeping.plan.movement
            && let Some(back) = self.half_turns_before(step)
        {
            // A quarter turn short of the end.
            let wanted = Amount::new(i64::from(each_side) * 100 + 25, 2, Measure::Turn).expect("few digits");
            if !wanted.at_most(back) {
                let what = format!("{each_side} turns to each side come too near to the end at {back}");
                self.rule(places.key("turns_each_side"), what, "a quarter turn short of the end, at least");
            }
        }
    }

    /// Turns from the centre to an end, as the centre step before `step` says.
    fn half_turns_before(&self, step: &Step) -> Option<Amount> {
        let before = self.procedure.steps.iter().take_while(|other| other.id != step.id);
        let halves = before.filter_map(|other| match &other.kind {
            StepKind::Centre(centre) => Some(centre.back),
            _ => None,
        });
        halves.last()
    }

    /// What a step refers to was done before it.
    pub(super) fn fits(&self, at: usize) {
        let (step, places) = (&self.procedure.steps[at], &self.map.steps[at]);
        let (before, after) = (&self.procedure.steps[..at], &self.procedure.steps[at + 1..]);
        match &step.kind {
            StepKind::Compare(compare) => {
                let measuring = before.iter().filter(|other| matches!(other.kind, StepKind::Measure(_)));
                let measured: BTreeSet<usize> = measuring.flat_map(|other| other.kind.wires()).collect();
                let missing = self.procedure.circuits.group(&compare.group).difference(&measured).next().copied();
                if let Some(missing) = missing {
                    let id = &self.procedure.circuits.wires[missing].id;
                    let what = format!("{id:?} of this group is not measured before");
                    self.conflict(places.key("group"), what, "a step of kind \"measure\" above with all of the group");
                }
            }
            StepKind::Zero(zero) => {
                let is_zero = |other: &&Step, id: &str| other.id == id && matches!(other.kind, StepKind::Zero(_));
                if let Some(again) = &zero.again
                    && !before.iter().any(|other| is_zero(&other, again))
                {
                    let what = format!("no step above of kind \"zero\" is called {again:?}");
                    self.unknown(places.key("again"), what, "the id of the step it repeats");
                }
                let repeats =
                    |other: &Step| matches!(&other.kind, StepKind::Zero(z) if z.again.as_ref() == Some(&step.id));
                if zero.repeat_at_end && !after.iter().any(repeats) {
                    let what = "no later step repeats this zero";
                    let instead = format!("a step of kind \"zero\" with again = \"{}\" further down", step.id);
                    self.conflict(places.key("repeat_at_end"), what, instead);
                }
            }
            _ => {}
        }
    }
}
