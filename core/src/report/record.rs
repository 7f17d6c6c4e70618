//! Codes, cautions, photos, and where all of it is recorded.

use super::Telling;
use super::model::{Block, Field, PhotoBlock, Section, Table};
use super::steps::done_at;
use crate::dtc::TroubleCode;
use crate::procedure::{CodesWhen, StepKind};
use crate::record::Done;
use crate::view::words::lamp_words;

/// Codes before and after: gone, still there, new; and what the lamp did.
pub(super) fn codes(telling: &Telling) -> Option<Section> {
    let language = telling.language();
    let scans: Vec<(String, CodesWhen, &Done)> = done_at(telling)
        .into_iter()
        .filter_map(|(step, state, said)| match &step.kind {
            StepKind::Codes(codes) => {
                let title = format!("{}, {}", step.title.get(language), state.at.to_minute());
                Some((title, codes.when, &said.done))
            }
            _ => None,
        })
        .collect();
    let mut blocks: Vec<Block> = Vec::new();
    let fields: Vec<Field> = scans.iter().map(|(title, _, done)| Field::new(title, told(telling, done))).collect();
    blocks.extend((!fields.is_empty()).then_some(Block::Fields(fields)));
    blocks.extend(compared(telling));
    Section::of(telling.t("Trouble codes", "Fehlercodes"), blocks)
}

fn told(telling: &Telling, done: &Done) -> String {
    let Done::Codes { codes, no_scanner, lamp } = done else {
        return telling.t("not tested", "nicht geprüft").to_owned();
    };
    let list: Vec<String> = codes.iter().map(ToString::to_string).collect();
    let read = match (no_scanner, list.is_empty()) {
        (true, _) => telling.t("no scanner: nobody knows", "kein Diagnosegerät: nicht bekannt").to_owned(),
        (false, true) => telling.t("no code stored", "kein Code gespeichert").to_owned(),
        (false, false) => list.join(", "),
    };
    match lamp {
        None => read,
        Some(lamp) => {
            let lamp = lamp_words(*lamp, telling.language()).trim_end_matches('.');
            format!("{read}; {}: {lamp}", telling.t("lamp", "Lampe"))
        }
    }
}

fn compared(telling: &Telling) -> Option<Block> {
    let work = telling.job().work.as_deref()?;
    let (before, _) = work.codes(CodesWhen::Before)?;
    let (after, _) = work.codes(CodesWhen::After)?;
    let mut table = Table::new(
        telling.t("Codes before and after", "Codes davor und danach"),
        &[telling.t("Code", "Code"), telling.t("At the end", "Am Ende")],
    );
    let mut row = |code: &TroubleCode, said: &str| table.push(vec![code.to_string(), said.to_owned()], false);
    for code in before {
        let still = after.contains(code);
        row(code, if still { telling.t("still there", "noch da") } else { telling.t("gone", "weg") });
    }
    after.iter().filter(|code| !before.contains(code)).for_each(|code| row(code, telling.t("new", "neu")));
    table.block()
}

/// Every caution that was accepted, with its text and when.
pub(super) fn cautions(telling: &Telling) -> Option<Section> {
    let mut table = Table::new(
        telling.t("Cautions read and accepted", "Gelesene und bestätigte Hinweise"),
        &[telling.t("Time", "Zeit"), telling.t("Caution", "Hinweis")],
    );
    for (caution, at) in &telling.told.cautions {
        table.push(vec![at.to_minute(), caution.text(telling.language()).to_owned()], false);
    }
    let title = telling.t("Cautions read and accepted", "Gelesene und bestätigte Hinweise");
    Section::of(title, table.block().into_iter().collect())
}

/// Every photo with the title of its step.
pub(super) fn photos(telling: &Telling) -> Option<Section> {
    let language = telling.language();
    let photos = telling.told.photos.iter().map(|(photo, at)| {
        let step = photo.step.as_deref().and_then(|id| telling.job().work.as_deref()?.procedure.step(id));
        let of = step.map_or_else(|| telling.t("Of the job", "Zum Auftrag"), |step| step.title.get(language));
        Block::Photo(PhotoBlock {
            photo: photo.photo,
            caption: format!("{of}, {}", at.to_minute()),
            width: photo.width,
            height: photo.height,
            missing: telling
                .t("This photo was erased, or cannot be shown.", "Dieses Foto ist gelöscht oder nicht darstellbar.")
                .to_owned(),
        })
    });
    Section::of(telling.t("Photos", "Fotos"), photos.collect())
}

/// Where the job is recorded, so that somebody can hold this report against the ledger.
pub(super) fn place(telling: &Telling) -> Option<Section> {
    let place = telling.asked.place?;
    let job = telling.job();
    let fields = vec![
        Field::new(telling.t("Job", "Auftrag"), job.id.to_string()),
        Field::new(telling.t("Ledger of device", "Buch des Geräts"), place.device.to_string()),
        Field::new(telling.t("Newest entry", "Neuester Eintrag"), place.sequence.to_string()),
        Field::new(telling.t("Its hash", "Seine Prüfsumme"), place.hash.to_string()),
        Field::new(telling.t("Report made", "Bericht erstellt"), telling.here(&telling.asked.printed).to_minute()),
    ];
    Section::of(telling.t("The record", "Die Aufzeichnung"), vec![Block::Fields(fields)])
}
