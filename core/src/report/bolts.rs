//! Parts that were fitted and bolts that were tightened.

use super::Telling;
use super::model::{Block, Section, Table};
use super::steps::done_at;
use crate::procedure::{Amount, StepKind};
use crate::record::Done;
use crate::verdict::words::Language;
use crate::view::words::origin_words;

/// Parts that were chosen: what, number, origin, where from.
pub(super) fn parts(telling: &Telling) -> Option<Section> {
    let language = telling.language();
    let mut table = Table::new(
        telling.t("Parts", "Teile"),
        &[
            telling.t("Part", "Teil"),
            telling.t("Number", "Nummer"),
            telling.t("Condition", "Zustand"),
            telling.t("From", "Woher"),
            telling.t("Time", "Zeit"),
        ],
    );
    for (step, state, said) in done_at(telling) {
        let Done::PartChosen { number, origin, from } = &said.done else { continue };
        let StepKind::Part(part) = &step.kind else { continue };
        let name = part.name.get(language).to_owned();
        let origin = origin_words(*origin, language).to_owned();
        table.push(vec![name, number.clone(), origin, from.clone(), state.at.to_minute()], false);
    }
    Section::of(telling.t("Parts", "Teile"), table.block().into_iter().collect())
}

/// The same for the first page: "Steering coil 123 (new), from the dealer."
pub(super) fn part_lines(telling: &Telling) -> Vec<String> {
    let language = telling.language();
    let line = |name: &str, number: &str, origin: &str, from: &str| match language {
        Language::En => format!("{name}: number {number}, {origin}, from {from}."),
        Language::De => format!("{name}: Nummer {number}, {origin}, von {from}."),
    };
    let lines = done_at(telling).into_iter().filter_map(|(step, _, said)| match (&said.done, &step.kind) {
        (Done::PartChosen { number, origin, from }, StepKind::Part(part)) => {
            Some(line(part.name.get(language), number, origin_words(*origin, language), from))
        }
        _ => None,
    });
    lines.collect()
}

/// Bolts with torque and wrench.
pub(super) fn bolts(telling: &Telling) -> Option<Section> {
    let mut table = Table::new(
        telling.t("Bolts", "Schrauben"),
        &[
            telling.t("Step", "Schritt"),
            telling.t("#Torque", "#Drehmoment"),
            telling.t("Then", "Danach"),
            telling.t("Bolt", "Schraube"),
            telling.t("Wrench", "Schlüssel"),
            telling.t("#Set to", "#Eingestellt"),
            telling.t("Time", "Zeit"),
        ],
    );
    for (step, state, said) in done_at(telling) {
        let Done::Tightened { value, wrench, set_to, wrench_most } = &said.done else { continue };
        let StepKind::Torque(torque) = &step.kind else { continue };
        table.push(
            vec![
                step.title.get(telling.language()).to_owned(),
                value.to_string(),
                torque.angle.map_or(String::new(), |angle| format!("+ {angle}")),
                if torque.new_fastener { telling.t("new", "neu").to_owned() } else { String::new() },
                wrench_words(telling, wrench, wrench_most.as_ref()),
                set_to.map_or(String::new(), |set| set.to_string()),
                state.at.to_minute(),
            ],
            false,
        );
    }
    Section::of(telling.t("Bolts", "Schrauben"), table.block().into_iter().collect::<Vec<Block>>())
}

/// The wrench, and up to where it is good if somebody said so.
fn wrench_words(telling: &Telling, wrench: &str, most: Option<&Amount>) -> String {
    most.map_or(wrench.to_owned(), |most| format!("{wrench}, {} {most}", telling.t("up to", "bis")))
}

/// For the first page: how many bolts were tightened.
pub(super) fn bolt_line(telling: &Telling) -> Option<String> {
    let count = done_at(telling).iter().filter(|(_, _, said)| matches!(said.done, Done::Tightened { .. })).count();
    (count > 0).then(|| match telling.language() {
        Language::En => format!("Bolts tightened with a torque wrench: {count}."),
        Language::De => format!("Schrauben mit dem Drehmomentschlüssel angezogen: {count}."),
    })
}
