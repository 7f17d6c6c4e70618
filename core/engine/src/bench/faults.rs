//! Faults in words: what happened, what it means for the job, what to do.

use evenwire_core::verdict::words::Language;
use evenwire_core::view::Notice;
use evenwire_store::StoreError;

/// The notice for a store that did not take something.
pub(super) fn store_fault(error: &StoreError, language: Language) -> Notice {
    let (code, en, en_do, de, de_do) = match error {
        StoreError::Full { .. } => (
            "disk-full",
            "There is no room left on this device. The last step was not recorded; everything before it is safe.",
            "Make room, then connect the meter again.",
            "Auf diesem Gerät ist kein Platz mehr. Der letzte Schritt wurde nicht aufgezeichnet; alles davor ist sicher.",
            "Platz schaffen, dann das Messgerät neu verbinden.",
        ),
        StoreError::ReadOnly { .. } => (
            "read-only",
            "The record cannot be written here. The last step was not recorded; everything before it is safe.",
            "Check the rights of the file, then start again.",
            "Hier kann nichts aufgezeichnet werden. Der letzte Schritt fehlt; alles davor ist sicher.",
            "Rechte der Datei prüfen, dann neu starten.",
        ),
        StoreError::Damaged { .. } => (
            "damaged",
            "The record on this device is damaged. Nothing is written to it any more.",
            "Keep the file and ask for help before going on.",
            "Das Protokoll auf diesem Gerät ist beschädigt. Es wird nichts mehr hineingeschrieben.",
            "Datei aufbewahren und Hilfe holen, bevor es weitergeht.",
        ),
        _ => (
            "not-recorded",
            "The last step could not be recorded; everything before it is safe.",
            "Try again. If it stays, start the program anew.",
            "Der letzte Schritt konnte nicht aufgezeichnet werden; alles davor ist sicher.",
            "Noch einmal versuchen. Bleibt es so, das Programm neu starten.",
        ),
    };
    notice(code, (en, en_do), (de, de_do), language)
}

/// The notice after a broken invariant: the session was built anew from the ledger.
pub(super) fn bug(language: Language) -> Notice {
    notice(
        "started-anew",
        (
            "The program met a fault of its own and took up the job again from its record. Nothing recorded is lost.",
            "Check the last touch, connect the meter again and go on.",
        ),
        (
            "Das Programm hatte einen eigenen Fehler und hat den Auftrag aus dem Protokoll neu aufgenommen. Nichts Aufgezeichnetes fehlt.",
            "Letzte Berührung prüfen, Messgerät neu verbinden und weitermachen.",
        ),
        language,
    )
}

/// The bench has ended.
pub(super) fn gone() -> Notice {
    Notice {
        code: "ended".into(),
        words: "The program is closing.".into(),
        remedy: "Start it again; everything recorded is there.".into(),
    }
}

fn notice(code: &str, en: (&str, &str), de: (&str, &str), language: Language) -> Notice {
    let (words, remedy) = match language {
        Language::En => en,
        Language::De => de,
    };
    Notice { code: code.into(), words: words.into(), remedy: remedy.into() }
}
