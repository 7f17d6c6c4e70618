//! The way through the steps: every need is given before it and still stands, nothing waits for itself, and what was
//! taken out of the drawer is back in it.

use super::Check;
use crate::procedure::{Fact, Step};
use std::collections::{BTreeMap, BTreeSet};

/// What stands at one point of the way.
#[derive(Default)]
struct Standing {
    facts: BTreeSet<Fact>,
    ended_by: BTreeMap<Fact, String>,
    loads: i32,
    locks: i32,
}

impl Check<'_, '_> {
    /// Steps named in `after` stand above, and no need waits for a step below.
    pub(super) fn order(&self) {
        let steps = &self.procedure.steps;
        for (at, (step, places)) in self.steps().enumerate() {
            for name in &step.after {
                let place = places.item("after", name);
                match steps.iter().position(|other| other.id == *name) {
                    Some(other) if other < at => {}
                    Some(other) => self.waits_for_below(at, other, place),
                    None => {
                        let ids: Vec<&str> = steps[..at].iter().map(|other| other.id.as_str()).collect();
                        let what = format!("no step is called {name:?}");
                        let near = crate::meter::spelling::nearest(name, ids.iter().copied());
                        let instead =
                            near.map_or("the id of a step above".into(), |id| format!("did you mean {id:?}?"));
                        self.unknown(place, what, instead);
                    }
                }
            }
            for fact in &step.needs {
                let place = places.item("needs", &fact.to_string());
                if steps[..at].iter().any(|other| other.gives.contains(fact)) {
                    continue;
                }
                match steps[at..].iter().position(|other| other.gives.contains(fact)) {
                    Some(other) => self.waits_for_below(at, at + other, place),
                    None => {
                        let what = format!("no step gives `{fact}`");
                        self.conflict(place, what, format!("a step above with \"{fact}\" among what it gives"));
                    }
                }
            }
        }
    }

    fn waits_for_below(&self, at: usize, other: usize, place: usize) {
        let steps = &self.procedure.steps;
        let what = if self.leads_to(other, at) {
            format!("{:?} and {:?} wait for each other: neither can be reached", steps[at].id, steps[other].id)
        } else {
            format!("this waits for {:?}, which stands further down", steps[other].id)
        };
        self.conflict(place, what, "the steps in the order they are done");
    }

    /// Whether the step at `from` waits, over any number of others, for the one at `to`.
    fn leads_to(&self, from: usize, to: usize) -> bool {
        let steps = &self.procedure.steps;
        let (mut seen, mut open) = (BTreeSet::new(), vec![from]);
        while let Some(at) = open.pop() {
            if at == to {
                return true;
            }
            if seen.insert(at) {
                let wanted = &steps[at];
                let serves = |other: &Step| {
                    wanted.after.contains(&other.id) || wanted.needs.iter().any(|fact| other.gives.contains(fact))
                };
                open.extend(steps.iter().enumerate().filter(|(_, other)| serves(other)).map(|(index, _)| index));
            }
        }
        false
    }

    /// The way with every step done, and the way with every step skipped that may be.
    pub(super) fn walks(&self) {
        self.walk(false);
        if self.procedure.steps.iter().any(|step| step.skip.is_some()) {
            self.walk(true);
        }
    }

    fn walk(&self, skipping: bool) {
        let mut standing = Standing::default();
        let mut skipped: BTreeSet<&Fact> = BTreeSet::new();
        for (at, step) in self.procedure.steps.iter().enumerate() {
            if skipping && step.skip.is_some() {
                skipped.extend(&step.gives);
                continue;
            }
            self.can_be_begun(at, &standing, &skipped);
            for fact in step.ends() {
                if standing.facts.remove(&fact) {
                    standing.ended_by.insert(fact, step.id.clone());
                }
            }
            self.count(at, &mut standing);
            self.nothing_left(at, &standing);
            standing.facts.extend(step.gives.iter().cloned());
        }
    }

    fn can_be_begun(&self, at: usize, standing: &Standing, skipped: &BTreeSet<&Fact>) {
        let (step, places) = (&self.procedure.steps[at], &self.map.steps[at]);
        for fact in step.needs.difference(&standing.facts) {
            let place = places.item("needs", &fact.to_string());
            let instead = format!("a step above that gives `{fact}` and is done every time");
            match standing.ended_by.get(fact) {
                Some(by) => {
                    let what = format!("this step cannot be reached: {by:?} ended `{fact}`");
                    self.conflict(place, what, format!("a step between that gives `{fact}` again"));
                }
                None if skipped.contains(fact) => {
                    let what = format!("this step cannot be reached when the step that gives `{fact}` is skipped");
                    self.conflict(place, what, instead);
                }
                // Told by the order of the steps.
                None => {}
            }
        }
        if step.kind.needs_supply() && standing.facts.contains(&Fact::CableOff) {
            let what = "the battery is off here, and this step needs the vehicle awake";
            self.rule(places.key("kind"), what, "a step above with battery_on = true");
        }
    }

    fn count(&self, at: usize, standing: &mut Standing) {
        let (counted, places) = (&self.procedure.steps[at].counted, &self.map.steps[at]);
        standing.loads += i32::from(counted.loads_out) - i32::from(counted.loads_in);
        standing.locks += i32::from(counted.locks_out) - i32::from(counted.locks_in);
        for (number, key, name) in [(standing.loads, "loads_in", "loads"), (standing.locks, "locks_in", "lock pins")] {
            if number < 0 {
                let what = format!("more {name} are counted back than were fitted");
                self.conflict(places.key(key), what, "as many in as out");
            }
        }
        (standing.loads, standing.locks) = (standing.loads.max(0), standing.locks.max(0));
    }

    fn nothing_left(&self, at: usize, standing: &Standing) {
        let (step, places) = (&self.procedure.steps[at], &self.map.steps[at]);
        let closing = step.kind.closes();
        for (number, fact, name) in
            [(standing.loads, Fact::LoadsHome, "substitute load"), (standing.locks, Fact::LocksHome, "lock pin")]
        {
            if number > 0 && (closing || step.gives.contains(&fact)) {
                let place = if closing { places.at } else { places.item("gives", &fact.to_string()) };
                let what = format!("{number} {name} was fitted and is not counted back");
                self.rule(place, what, "as many in as out before");
            }
        }
        if closing || step.battery_on {
            let open = standing.facts.iter().filter(|fact| matches!(fact, Fact::BarOpen(_)));
            for fact in open {
                let about = fact.about().unwrap_or_default();
                let place = if closing { places.at } else { places.key("battery_on") };
                let what = format!("bar {about:?} is still open");
                self.rule(place, what, format!("a step above that gives \"bar_restored({about})\""));
            }
        }
    }
}
