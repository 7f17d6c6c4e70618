//! What the window says when the ledger cannot be opened. The language a person chose is in the ledger, so the
//! system's own is spoken.

use evenwire_core::verdict::words::Language;
use evenwire_core::view::Notice;
use evenwire_engine::bench::StartError;
use evenwire_store::StoreError;

/// The language the system speaks, from the environment that `look` reads; English where it says nothing.
pub fn language(look: impl Fn(&str) -> Option<String>) -> Language {
    let set = |name| look(name).filter(|value| !value.is_empty());
    let spoken = ["LC_ALL", "LC_MESSAGES", "LANG"].into_iter().find_map(set);
    if spoken.is_some_and(|spoken| spoken.starts_with("de")) { Language::De } else { Language::En }
}

/// Why there is no bench, what that means for the record, and what to do.
pub fn notice(fault: &StartError, language: Language) -> Notice {
    let StartError::Store { path, source } = fault else { return system(fault, language) };
    let file = path.display();
    let (code, en, en_do, de, de_do) = match source {
        StoreError::Newer { .. } => (
            "newer-ledger",
            "A newer Evenwire wrote this record. This one cannot read it and has changed nothing in it.",
            "Install the newer Evenwire again.",
            "Ein neueres Evenwire hat diese Aufzeichnungen geschrieben. Dieses kann sie nicht lesen und hat nichts daran geändert.",
            "Das neuere Evenwire wieder installieren.",
        ),
        StoreError::NotOurs { .. } => (
            "not-a-ledger",
            "The file for the record belongs to another program. Nothing in it was changed.",
            "Move it elsewhere, then start again.",
            "Die Datei für die Aufzeichnungen gehört einem anderen Programm. Nichts daran wurde geändert.",
            "Sie woandershin legen, dann neu starten.",
        ),
        StoreError::Damaged { .. } => (
            "damaged",
            "The record on this device is damaged. It was not opened, and nothing in it was changed.",
            "`evenwire-cli rescue` keeps the file and goes on with what can be read of it. Or keep it and ask for help.",
            "Die Aufzeichnungen auf diesem Gerät sind beschädigt. Sie wurden nicht geöffnet, nichts daran wurde geändert.",
            "`evenwire-cli rescue` hebt die Datei auf und macht mit dem weiter, was lesbar ist. Oder sie aufbewahren und Hilfe holen.",
        ),
        StoreError::InUse { .. } => (
            "in-use",
            "Another Evenwire has this record open. Two at once would disturb each other; nothing was changed.",
            "Close it there, then start again.",
            "Ein anderes Evenwire hat diese Aufzeichnungen geöffnet. Zwei zugleich würden einander stören; nichts wurde geändert.",
            "Dort schließen, dann neu starten.",
        ),
        StoreError::Busy { .. } => (
            "busy",
            "Another program is using the record. Nothing was changed.",
            "Close that program, then start again.",
            "Ein anderes Programm benutzt die Aufzeichnungen. Nichts wurde geändert.",
            "Jenes Programm schließen, dann neu starten.",
        ),
        StoreError::Full { .. } => (
            "disk-full",
            "There is no room left on this device, so the record cannot be opened.",
            "Make room, then start again.",
            "Auf diesem Gerät ist kein Platz mehr, daher lassen sich die Aufzeichnungen nicht öffnen.",
            "Platz schaffen, dann neu starten.",
        ),
        _ => (
            "no-bench",
            "The record cannot be opened. Nothing was changed.",
            "Check that the file and its folder may be written to, then start again.",
            "Die Aufzeichnungen lassen sich nicht öffnen. Nichts wurde geändert.",
            "Prüfen, ob Datei und Ordner beschrieben werden dürfen, dann neu starten.",
        ),
    };
    let words = |words: &str, remedy: &str, label: &str| Notice {
        code: code.into(),
        words: words.into(),
        remedy: format!("{remedy} {label}: {file}"),
    };
    match language {
        Language::En => words(en, en_do, "The file"),
        Language::De => words(de, de_do, "Die Datei"),
    }
}

fn system(fault: &StartError, language: Language) -> Notice {
    let (words, remedy) = match language {
        Language::En => ("Evenwire cannot begin here", "Start it again; if it stays, start the device anew."),
        Language::De => ("Evenwire kann hier nicht beginnen", "Neu starten; bleibt es so, auch das Gerät neu starten."),
    };
    Notice { code: "no-bench".into(), words: format!("{words}: {fault}."), remedy: remedy.into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_window_and_serve_keep_one_ledger() {
        // The window's folder is named after its identifier, that of `serve` by the engine.
        let configured = include_str!("../tauri.conf.json");
        let identifier = format!("\"identifier\": \"{}\"", evenwire_engine::place::FOLDER);
        assert!(configured.contains(&identifier), "{identifier}");
    }

    fn spoken(set: &[(&str, &str)]) -> Language {
        language(|name| set.iter().find(|(of, _)| *of == name).map(|(_, value)| (*value).to_owned()))
    }

    #[test]
    fn the_systems_language_is_spoken() {
        assert_eq!(spoken(&[]), Language::En);
        assert_eq!(spoken(&[("LANG", "de_AT.UTF-8")]), Language::De);
        assert_eq!(spoken(&[("LANG", "de_DE.UTF-8"), ("LC_ALL", "C.UTF-8")]), Language::En);
        assert_eq!(spoken(&[("LC_ALL", ""), ("LC_MESSAGES", "de"), ("LANG", "en_GB")]), Language::De);
    }

    #[test]
    fn a_newer_record_is_named_with_its_file_in_both_languages() {
        let source = StoreError::Newer { path: "van.db".into(), found: 7, known: 1 };
        let fault = StartError::Store { path: "van.db".into(), source };
        let said = notice(&fault, Language::En);
        assert_eq!(said.code, "newer-ledger");
        assert!(said.words.starts_with("A newer Evenwire"), "{}", said.words);
        assert!(said.remedy.ends_with("van.db"), "{}", said.remedy);
        assert_ne!(notice(&fault, Language::De).words, said.words);
    }

    #[test]
    fn a_damaged_record_names_what_goes_on_with_the_rest_of_it() {
        let fault = StartError::Store { path: "van.db".into(), source: StoreError::Damaged { what: "torn".into() } };
        let (en, de) = (notice(&fault, Language::En), notice(&fault, Language::De));
        assert_eq!((en.code.as_str(), de.code.as_str()), ("damaged", "damaged"));
        assert!(en.words.ends_with("nothing in it was changed.") && de.words.ends_with("nichts daran wurde geändert."));
        for said in [en, de] {
            assert!(said.remedy.starts_with("`evenwire-cli rescue`") && said.remedy.ends_with("van.db"), "{said:?}");
        }
    }

    #[test]
    fn a_record_that_is_open_elsewhere_is_to_be_closed_there() {
        let fault = StartError::Store { path: "van.db".into(), source: StoreError::InUse { path: "van.db".into() } };
        let said = notice(&fault, Language::En);
        assert_eq!(said.code, "in-use");
        assert!(said.words.starts_with("Another Evenwire has this record open."), "{}", said.words);
        assert!(said.remedy.starts_with("Close it there") && said.remedy.ends_with("van.db"), "{}", said.remedy);
        assert!(notice(&fault, Language::De).remedy.starts_with("Dort schließen"));
    }
}
