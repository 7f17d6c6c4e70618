//! The validator: what is read key by key is right in itself; here is told whether it fits together and keeps the rules.

mod circuits;
mod flow;
mod interlock;

use super::Procedure;
use super::places::{Map, Places};
use super::{Fact, Status};
use crate::meter::FileErrorCode;
use crate::meter::fields::Mistakes;
use std::collections::BTreeSet;

/// Adds everything that is wrong with `procedure`.
pub(super) fn check(procedure: &Procedure, map: &Map, mistakes: &Mistakes<'_>) {
    let check = Check { procedure, map, mistakes };
    check.head();
    check.circuits();
    check.names();
    for (at, step) in procedure.steps.iter().enumerate() {
        check.subjects(at);
        check.interlock(step, &map.steps[at]);
        check.fits(at);
    }
    check.order();
    check.walks();
}

/// A file that is being checked.
struct Check<'c, 't> {
    procedure: &'c Procedure,
    map: &'c Map,
    mistakes: &'c Mistakes<'t>,
}

impl Check<'_, '_> {
    fn conflict(&self, at: usize, what: impl Into<String>, instead: impl Into<String>) {
        self.mistakes.add(at, FileErrorCode::Conflict, what, instead);
    }

    /// A safety rule is broken.
    fn rule(&self, at: usize, what: impl Into<String>, instead: impl Into<String>) {
        self.mistakes.add(at, FileErrorCode::Interlock, what, instead);
    }

    fn unknown(&self, at: usize, what: impl Into<String>, instead: impl Into<String>) {
        self.mistakes.add(at, FileErrorCode::UnknownWord, what, instead);
    }

    fn head(&self) {
        let head = &self.procedure.head;
        let names_differ = head.reviewer.as_ref().is_none_or(|one| one.to_lowercase() != head.author.to_lowercase());
        if head.status == Status::Approved && head.reviewer.is_none() {
            let what = "nobody has read it over";
            let instead = "reviewer = \"somebody else\", or status = \"draft\"";
            self.mistakes.add(self.map.head.key("status"), FileErrorCode::MissingKey, what, instead);
        }
        if !names_differ {
            self.conflict(self.map.head.key("reviewer"), "nobody reads their own work over", "somebody else's name");
        }
    }

    /// Ids are unique, and one step closes the job.
    fn names(&self) {
        let mut seen = BTreeSet::new();
        for (step, places) in self.steps() {
            if !seen.insert(step.id.as_str()) {
                self.conflict(places.key("id"), format!("another step is called {:?}", step.id), "an id of its own");
            }
        }
        let closing = self.procedure.steps.iter().position(|step| step.kind.closes());
        match closing {
            None => {
                let instead = "a last step with kind = \"sign\" and closes = true";
                let what = "no step closes the job";
                self.mistakes.add(self.map.end, FileErrorCode::MissingKey, what, instead);
            }
            Some(at) => {
                if let Some(places) = self.map.steps.get(at + 1) {
                    self.conflict(places.at, "a step after the one that closes the job", "the closing step last");
                }
            }
        }
    }

    fn steps(&self) -> impl Iterator<Item = (&super::Step, &Places)> {
        self.procedure.steps.iter().zip(&self.map.steps)
    }

    /// What facts are about exists.
    fn subjects(&self, at: usize) {
        let (step, places) = (&self.procedure.steps[at], &self.map.steps[at]);
        let circuits = &self.procedure.circuits;
        for (key, facts) in [("needs", &step.needs), ("gives", &step.gives), ("cancels", &step.cancels)] {
            for fact in facts {
                let Some(about) = fact.about() else { continue };
                let known: Vec<&str> = match fact {
                    Fact::InflatorAway(_) => {
                        circuits.plugs.iter().filter_map(|plug| plug.inflator.as_deref()).collect()
                    }
                    _ => circuits.bars.iter().map(|bar| bar.id.as_str()).collect(),
                };
                if !known.contains(&about) {
                    let what = format!("{fact} is about {about:?}, which is not there");
                    let instead = match known.as_slice() {
                        [] => "no such fact: the circuits name none".to_owned(),
                        known => format!("one of {}", known.join(", ")),
                    };
                    self.unknown(places.item(key, &fact.to_string()), what, instead);
                }
            }
        }
    }
}
