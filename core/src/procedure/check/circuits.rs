//! Whether the circuits can be measured, and by the one rule there is.

use super::Check;
use crate::meter::FileErrorCode;
use crate::part::{AtEnd, MAX_CONDUCTORS, MAX_CONNECTORS, PartProblem};
use crate::verdict::words::Language;
use std::collections::BTreeSet;

impl Check<'_, '_> {
    pub(super) fn circuits(&self) {
        let circuits = &self.procedure.circuits;
        for problem in circuits.by_ids(Language::En, 1).problems() {
            self.part_problem(&problem);
        }
        let mut seen = BTreeSet::new();
        for (bar, places) in circuits.bars.iter().zip(&self.map.bars) {
            if !seen.insert(bar.id.as_str()) {
                self.conflict(places.key("id"), format!("another bar is called {:?}", bar.id), "an id of its own");
            }
        }
        let mut told = BTreeSet::new();
        for (wire, places) in circuits.wires.iter().zip(&self.map.wires) {
            let Some(group) = wire.group.as_deref().filter(|group| told.insert(*group)) else { continue };
            if circuits.group(group).len() < 2 {
                let what = format!("group {group:?} has only one conductor that is measured");
                self.conflict(places.key("group"), what, "at least two that should read alike, or no group");
            }
        }
    }

    fn part_problem(&self, problem: &PartProblem) {
        let (plugs, wires, bars) = (&self.map.plugs, &self.map.wires, &self.map.bars);
        let name_at = |place: &str, index: usize| match place {
            "connector" => plugs[index].key("name"),
            "conductor" => wires[index].key("id"),
            "group" => wires[index].key("group"),
            _ => self.map.head.key("part"),
        };
        match problem {
            PartProblem::Name { place, index } => {
                let what = format!("the name of this {place} is empty or too long");
                self.mistakes.add(name_at(place, *index), FileErrorCode::OutOfRange, what, "1 to 60 characters");
            }
            PartProblem::NameTwice { place, index } => {
                self.conflict(name_at(place, *index), format!("another {place} has this name"), "a name of its own");
            }
            PartProblem::Count { place } => {
                let what = format!("no {place} that can be measured, or too many");
                let most = format!("1 to {MAX_CONNECTORS} connectors, 1 to {MAX_CONDUCTORS} conductors");
                self.mistakes.add(self.map.end, FileErrorCode::OutOfRange, what, most);
            }
            PartProblem::Face { index } => {
                let at = plugs[*index].key("cavities");
                self.mistakes.add(at, FileErrorCode::OutOfRange, "rows or cavities do not fit", "rows = 1");
            }
            PartProblem::NoSuchCavity { index } => {
                self.conflict(wires[*index].key("from"), "a cavity that is not there", "a cavity it has");
            }
            PartProblem::SameCavity { index } => {
                self.conflict(wires[*index].key("to"), "both ends are the same cavity", "two different cavities");
            }
            PartProblem::EndsDisagree { index } => {
                let what = "another conductor says otherwise of its cavity";
                self.conflict(wires[*index].key("from"), what, "the same `at` for one cavity");
            }
            PartProblem::End { index, why } => {
                let free = |at: AtEnd| matches!(at, AtEnd::OpenPlug | AtEnd::BareTerminal | AtEnd::UnpoweredLoad);
                let wire = &self.procedure.circuits.wires[*index];
                let key = match (free(wire.from.at), free(wire.to.at)) {
                    (false, _) => "from",
                    (true, false) => "to",
                    (true, true) => "id",
                };
                let instead = "drawn_only = true; or another `at`, if that end is off when it is measured";
                self.rule(wires[*index].key(key), why.to_string(), instead);
            }
            PartProblem::Bar { index } => {
                let what = "this bar does not bridge two conductors, or another bridges the same two";
                self.conflict(bars[*index].key("pair"), what, "each pair of two conductors once");
            }
            PartProblem::TouchesWanted | PartProblem::Limit { .. } => {
                unreachable!("the part is made here, with one touch and without limits")
            }
        }
    }
}
