//! Why a procedure file or a photo was not taken.

use super::refusal::of_the_meter;
use super::{Said, tongue};
use crate::job::{FileMistake, Refusal};
use crate::verdict::words::Language;

/// A procedure file that was not kept.
pub(super) fn procedure_refusal(refusal: &Refusal, language: Language) -> (String, String) {
    match refusal {
        Refusal::ProcedureWrong { mistakes } => file_words(mistakes, language),
        Refusal::ProcedureLooser { looser } => match language {
            Language::En => (
                format!("This version keeps less than the one that is known: {looser}."),
                "Put it back, or give the procedure an id of its own.".into(),
            ),
            Language::De => (
                format!("Diese Fassung hält weniger ein als die bekannte: {looser}."),
                "Wieder einsetzen oder dem Ablauf eine eigene id geben.".into(),
            ),
        },
        Refusal::ProcedureVersion { known } => match language {
            Language::En => (
                format!("Version {known} of this procedure is known, and this file says something else."),
                format!("Count its version up to {} or more.", known.saturating_add(1)),
            ),
            Language::De => (
                format!("Fassung {known} dieses Ablaufs ist bekannt, und diese Datei sagt etwas anderes."),
                format!("Ihre version auf {} oder mehr hochzählen.", known.saturating_add(1)),
            ),
        },
        other => {
            let (en, en_do, de, de_do) = of_photos(other);
            (tongue(language, en, de).to_owned(), tongue(language, en_do, de_do).to_owned())
        }
    }
}

/// The first mistake of a file; the others stand in the refusal itself.
fn file_words(mistakes: &[FileMistake], language: Language) -> (String, String) {
    let (count, first) = (mistakes.len(), mistakes.first());
    let at = first.map_or(String::new(), |m| match language {
        Language::En => format!("Line {}, column {}: {}.", m.line, m.column, m.what),
        Language::De => format!("Zeile {}, Spalte {}: {}.", m.line, m.column, m.what),
    });
    let instead = first.map_or(String::new(), |m| match language {
        Language::En => format!("Write instead: {}.", m.instead),
        Language::De => format!("Stattdessen schreiben: {}.", m.instead),
    });
    match language {
        Language::En => (format!("This file is no procedure; mistakes: {count}. {at}"), instead),
        Language::De => (format!("Diese Datei ist kein Ablauf; Fehler: {count}. {at}"), instead),
    }
}

/// Photos, and what the procedure says itself; the rest is handed on.
pub(super) fn of_photos(refusal: &Refusal) -> Said {
    match refusal {
        Refusal::TooManyPhotos => (
            "This job holds as many photos as are kept.",
            "Go on without another one.",
            "Dieser Auftrag hat so viele Fotos, wie aufgehoben werden.",
            "Ohne weiteres Foto weitermachen.",
        ),
        Refusal::NoSuchPhoto => (
            "This photo is not kept here, or it was erased.",
            "Go on without it.",
            "Dieses Foto ist hier nicht aufgehoben oder wurde gelöscht.",
            "Ohne es weitermachen.",
        ),
        Refusal::NotClosed => (
            "This job is not closed; its details and photos are still needed.",
            "Close the job first.",
            "Dieser Auftrag ist nicht abgeschlossen; Angaben und Fotos werden noch gebraucht.",
            "Den Auftrag zuerst abschließen.",
        ),
        Refusal::NothingToErase => (
            "No job has details that would have to be erased.",
            "Nothing has to be done.",
            "Bei keinem Auftrag gibt es Angaben zu löschen.",
            "Es ist nichts zu tun.",
        ),
        Refusal::NoPhoto => (
            "This is no photo that can be read.",
            "Take it again, or choose a JPEG or PNG file.",
            "Das ist kein lesbares Foto.",
            "Noch einmal aufnehmen oder eine JPEG- oder PNG-Datei wählen.",
        ),
        Refusal::NoCode => (
            "No code can be read in this picture.",
            "Take it again, straight on, sharp and with the whole code in it, or paste the text.",
            "In diesem Bild ist kein Code zu lesen.",
            "Noch einmal aufnehmen, gerade, scharf und mit dem ganzen Code darin, oder den Text einfügen.",
        ),
        Refusal::ByProcedure => (
            "The procedure of this job says this at one of its steps.",
            "Go to the step.",
            "Das sagt der Ablauf dieses Auftrags an einem seiner Schritte.",
            "Zu dem Schritt gehen.",
        ),
        other => of_the_meter(other),
    }
}
