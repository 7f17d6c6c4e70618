//! How the vehicle was made safe: cable, waits, proofs, and what ended them.

use super::Telling;
use super::chronicle::Incident;
use super::model::{Block, Section, Table};
use super::steps::done_at;
use crate::procedure::{Fact, Step, StepKind};
use crate::record::{Done, StepDone};
use crate::verdict::words::Language;
use crate::view::words::fact_name;
use crate::view::work::{proof, title_of};

/// All of it, in the order of the file; then what ended it, in the order of time.
pub(super) fn section(telling: &Telling) -> Option<Section> {
    let work = telling.job().work.as_deref()?;
    let language = telling.language();
    let mut table = Table::new(
        telling.t("Made safe", "Abgesichert"),
        &[telling.t("Step", "Schritt"), telling.t("What", "Was"), telling.t("Time", "Zeit")],
    );
    for (step, state, said) in done_at(telling) {
        let Some(what) = what(telling, step, said) else { continue };
        table.push(vec![step.title.get(language).to_owned(), what, state.at.to_minute()], false);
    }
    let mut blocks: Vec<Block> = table.block().into_iter().collect();
    let title = title_of(work, language);
    let incident = |incident: &Incident| match (incident, language) {
        (Incident::SupplySeen(None), Language::En) => "The cable was on again, or may have been.".to_owned(),
        (Incident::SupplySeen(None), Language::De) => {
            "Das Kabel war wieder dran oder könnte es gewesen sein.".to_owned()
        }
        (Incident::SupplySeen(Some(volt)), Language::En) => format!("A supply of {volt} V was seen."),
        (Incident::SupplySeen(Some(volt)), Language::De) => format!("Eine Spannung von {volt} V war da."),
        (Incident::AfterAnother, Language::En) => "Another job was worked on before this one went on.".to_owned(),
        (Incident::AfterAnother, Language::De) => "Davor lag ein anderer Auftrag auf.".to_owned(),
        (Incident::HandedOver, Language::En) => "The job was handed to another device.".to_owned(),
        (Incident::HandedOver, Language::De) => "Der Auftrag wurde einem anderen Gerät übergeben.".to_owned(),
        (Incident::TakenBack, Language::En) => "It was taken back; what made the vehicle safe ended.".to_owned(),
        (Incident::TakenBack, Language::De) => "Er wurde zurückgenommen; die Absicherung endete.".to_owned(),
        (Incident::TakenOver, Language::En) => "Another device took it over; what made it safe ended.".to_owned(),
        (Incident::TakenOver, Language::De) => "Ein anderes Gerät übernahm ihn; die Absicherung endete.".to_owned(),
        (Incident::Reopened(step, reason), Language::En) => format!("Done again from “{}” on: {reason}", title(step)),
        (Incident::Reopened(step, reason), Language::De) => format!("Ab „{}“ noch einmal: {reason}", title(step)),
    };
    let mut ended = Table::new(
        telling.t("What ended it, or began again", "Was es beendete oder neu begann"),
        &[telling.t("Time", "Zeit"), telling.t("What", "Was")],
    );
    for (what, at) in &telling.told.incidents {
        ended.push(vec![at.to_minute(), incident(what)], false);
    }
    let subtitle = telling.t("What ended it, or began again", "Was es beendete oder neu begann");
    if let Some(table) = ended.block() {
        blocks.extend([Block::Subtitle(subtitle.to_owned()), table]);
    }
    Section::of(telling.t("Made safe", "Abgesichert"), blocks)
}

fn what(telling: &Telling, step: &Step, said: &StepDone) -> Option<String> {
    let language = telling.language();
    let value = |done: &Done| {
        let work = telling.job().work.as_deref()?;
        Some(proof::value(work, step, done, language))
    };
    match (&said.done, &step.kind) {
        (Done::NotTested, _) => None,
        (Done::ProvenDead { before, points, after }, StepKind::ProveDead(prove)) => {
            let known = telling.t("known source", "bekannte Quelle");
            let named = prove.points.iter().zip(points);
            let points = named.map(|(point, volt)| format!("{} {volt} V", point.name.get(language)));
            let all = std::iter::once(format!("{known} {before} V")).chain(points);
            let all: Vec<String> = all.chain([format!("{known} {after} V")]).collect();
            Some(all.join("; "))
        }
        (done @ Done::Waited { .. }, StepKind::Wait(wait)) => {
            let asked = telling.t("asked for", "verlangt");
            Some(format!("{} ({asked}: {})", value(done)?, wait.at_least))
        }
        (_, kind) if kind.uses_ohms() => None,
        _ => {
            let guards = step.gives.iter().filter(|fact| fact.guards() || **fact == Fact::CableOff);
            let made: Vec<String> = guards.map(|fact| fact_name(fact, language)).collect();
            let on = step.battery_on.then(|| telling.t("battery connected", "Batterie angeschlossen").to_owned());
            let all: Vec<String> = made.into_iter().chain(on).collect();
            (!all.is_empty()).then(|| all.join(", "))
        }
    }
}
