//! Codes, cautions, photos, and where all of it is recorded.

use super::Telling;
use super::model::{Block, Field, PhotoBlock, Section, Table};
use super::steps::done_at;
use crate::dtc::TroubleCode;
use crate::job::Then;
use crate::procedure::{CodesWhen, StepKind};
use crate::record::{Details, Done, PhotoFact};
use crate::unit::Stamp;
use crate::view::words::{before_words, field_words, lamp_words};

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

/// What stood in place of order, vehicle and personal details before it was corrected.
pub(super) fn corrected(telling: &Telling) -> Option<Section> {
    let (title, language) = (telling.t("Corrected", "Berichtigt"), telling.language());
    let columns = [telling.t("What", "Was"), telling.t("Before", "Vorher"), telling.t("Until", "Bis")];
    let mut table = Table::new(title, &columns);
    // Where details were erased, what stood before them is gone as well.
    let (none, details) = (Details::default(), telling.asked.details);
    let earlier = details.map_or(&[][..], |_| telling.asked.earlier);
    for correction in telling.job().corrections(details.unwrap_or(&none), earlier) {
        let what = field_words(correction.field, language).to_owned();
        let until = telling.here(&correction.until).to_minute();
        table.push(vec![what, before_words(&correction.before, language).to_owned(), until], false);
    }
    Section::of(title, table.block().into_iter().collect())
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
    let photos = telling.told.photos.iter().map(|kept| Block::Photo(photo(telling, kept)));
    Section::of(telling.t("Photos", "Fotos"), photos.collect())
}

/// A photo with the title of its step.
pub(super) fn photo(telling: &Telling, (photo, at): &(PhotoFact, Stamp)) -> PhotoBlock {
    let step = photo.step.as_deref().and_then(|id| telling.job().work.as_deref()?.procedure.step(id));
    let of = step.map_or_else(|| telling.t("Of the job", "Zum Auftrag"), |step| step.title.get(telling.language()));
    PhotoBlock {
        photo: photo.photo,
        caption: format!("{of}, {}", at.to_minute()),
        width: photo.width,
        height: photo.height,
        missing: telling
            .t("This photo was erased, or cannot be shown.", "Dieses Foto ist gelöscht oder nicht darstellbar.")
            .to_owned(),
    }
}

/// From which device to which it went, and when.
pub(super) fn handed(telling: &Telling) -> Option<Section> {
    let title = telling.t("Handed over", "Übergeben");
    let columns = [
        telling.t("Time", "Zeit"),
        telling.t("By device", "Vom Gerät"),
        telling.t("To", "An"),
        telling.t("Then", "Danach"),
    ];
    let mut table = Table::new(title, &columns);
    for over in &telling.job().hands.over {
        let then = match &over.then {
            Then::Waits => telling.t("waits to be taken over", "wartet auf Übernahme").to_owned(),
            Then::TakenBack(at) => {
                format!("{} {}", telling.t("taken back", "zurückgenommen"), telling.here(at).to_minute())
            }
            Then::Claimed { at, device } => {
                let (by, at) = (telling.t("taken over by", "übernommen von"), telling.here(at).to_minute());
                format!("{by} {} {at}", short(*device))
            }
        };
        let device = format!("{} ({})", short(over.device), over.key.fingerprint());
        table.push(vec![telling.here(&over.at).to_minute(), device, over.to.clone(), then], false);
    }
    Section::of(title, table.block().into_iter().collect())
}

/// A device by the end of its number, where ids differ.
fn short(device: uuid::Uuid) -> String {
    let id = device.simple().to_string();
    id[id.len() - 8..].to_owned()
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
