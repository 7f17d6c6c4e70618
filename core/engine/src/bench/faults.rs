//! Faults in words: what happened, what it means for the job, what to do.

use crate::key_store::Away;
use evenwire_core::record::Renewal;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::Notice;
use evenwire_store::{CheckReport, StoreError};

/// The notice for a step that the store did not take.
pub(super) fn not_written(error: &StoreError, language: Language) -> Notice {
    let (code, en, de) = match error {
        StoreError::Full { .. } => (
            "disk-full",
            (
                "There is no room left on this device. The last step was not recorded; everything before it is safe.",
                "Make room, then connect the meter again.",
            ),
            (
                "Auf diesem Gerät ist kein Platz mehr. Der letzte Schritt wurde nicht aufgezeichnet; alles davor ist sicher.",
                "Platz schaffen, dann das Messgerät neu verbinden.",
            ),
        ),
        StoreError::ReadOnly { .. } => (
            "read-only",
            (
                "The record cannot be written here. The last step was not recorded; everything before it is safe.",
                "Check the rights of the file, then start again.",
            ),
            (
                "Hier kann nichts aufgezeichnet werden. Der letzte Schritt fehlt; alles davor ist sicher.",
                "Rechte der Datei prüfen, dann neu starten.",
            ),
        ),
        StoreError::Damaged { .. } => (
            "damaged",
            (
                "The record on this device is damaged. The last step was not recorded.",
                "Stop here, keep the file and ask for help: more may be missing from it.",
            ),
            (
                "Das Protokoll auf diesem Gerät ist beschädigt. Der letzte Schritt wurde nicht aufgezeichnet.",
                "Hier aufhören, Datei aufbewahren und Hilfe holen: Es kann mehr darin fehlen.",
            ),
        ),
        _ => (
            "not-recorded",
            (
                "The last step could not be recorded; everything before it is safe.",
                "Try again. If it stays, start the program anew.",
            ),
            (
                "Der letzte Schritt konnte nicht aufgezeichnet werden; alles davor ist sicher.",
                "Noch einmal versuchen. Bleibt es so, das Programm neu starten.",
            ),
        ),
    };
    notice(code, en, de, language)
}

/// The notice for details that were erased while another program read the ledger.
pub(super) fn still_in_the_log(language: Language) -> Notice {
    notice(
        "still-in-the-log",
        (
            "The details are erased, but another program reads the record just now: traces of them may still be in the \
             file beside it.",
            "End the other program, then erase once more.",
        ),
        (
            "Die Angaben sind gelöscht, aber ein anderes Programm liest gerade im Protokoll: In der Datei daneben \
             können noch Spuren sein.",
            "Das andere Programm beenden, dann noch einmal löschen.",
        ),
        language,
    )
}

/// The notice for a report that could not be put into its folder.
pub(super) fn no_paper(folder: &str, language: Language) -> Notice {
    let (words, remedy) = match language {
        Language::En => (
            format!("The file could not be written into {folder}. The record of the job is whole."),
            "Make room or check the rights of the folder, then ask for it again.",
        ),
        Language::De => (
            format!("Die Datei ließ sich nicht in {folder} schreiben. Das Protokoll des Auftrags ist vollständig."),
            "Platz schaffen oder die Rechte des Ordners prüfen, dann noch einmal anfordern.",
        ),
    };
    Notice { code: "no-paper".into(), words, remedy: remedy.into() }
}

/// The notice for a record that is too large to go through a page.
pub(super) fn too_large(language: Language) -> Notice {
    notice(
        "too-large",
        (
            "The record is too large to be handed over by this page. Nothing was copied.",
            "Run `evenwire-cli backup` with a name for the copy; the program may stay open.",
        ),
        (
            "Die Aufzeichnungen sind zu groß, um über diese Seite zu gehen. Nichts wurde kopiert.",
            "`evenwire-cli backup` mit einem Namen für die Kopie ausführen; das Programm darf offen bleiben.",
        ),
        language,
    )
}

/// The notice for a claim file that nobody can sign.
pub(super) fn no_key(language: Language) -> Notice {
    let (en, de) = (
        (
            "The key of this record is not here, so nothing can be signed. The record itself is whole.",
            "Start the program anew: it makes a key. Tell the shop if this comes again.",
        ),
        (
            "Der Schlüssel dieses Protokolls ist nicht hier, darum lässt sich nichts unterschreiben. Das Protokoll ist vollständig.",
            "Das Programm neu starten: Es macht einen Schlüssel. Kommt das wieder, dem Betrieb sagen.",
        ),
    );
    notice("no-key", en, de, language)
}

/// The notice for a key whose secret is not to be had for now.
pub(super) fn key_away(away: Away, language: Language) -> Notice {
    let (code, en, de) = match away {
        Away::Locked => (
            "key-locked",
            (
                "The key of this device is locked in the system’s key store. You can work, and all of it is recorded; \
                 the signature of the device under closed jobs comes later, and nothing goes to the shop yet.",
                "Unlock the key store. Closed jobs are then signed and sent by themselves; what needed the key, ask for again.",
            ),
            (
                "Der Schlüssel dieses Geräts ist im Schlüsselbund des Systems verschlossen. Du kannst arbeiten, alles wird \
                 aufgezeichnet; das Gerät selbst unterschreibt geschlossene Aufträge erst später, und in den Betrieb geht noch nichts.",
                "Den Schlüsselbund aufschließen. Geschlossene Aufträge werden dann von selbst unterschrieben und geschickt; was den Schlüssel brauchte, noch einmal anstoßen.",
            ),
        ),
        Away::Silent => (
            "key-away",
            (
                "The system’s key store, where the key of this device lies, does not answer. You can work, and all of it is \
                 recorded; the signature of the device under closed jobs comes later, and nothing goes to the shop yet.",
                "Log in to the desktop in which Evenwire ran before. Closed jobs are then signed and sent by themselves.",
            ),
            (
                "Der Schlüsselbund des Systems, in dem der Schlüssel dieses Geräts liegt, antwortet nicht. Du kannst \
                 arbeiten, alles wird aufgezeichnet; das Gerät selbst unterschreibt geschlossene Aufträge erst später, und in den Betrieb geht noch nichts.",
                "An der Oberfläche anmelden, unter der Evenwire bisher lief. Geschlossene Aufträge werden dann von selbst unterschrieben und geschickt.",
            ),
        ),
    };
    notice(code, en, de, language)
}

/// The notice for something that the store could not give.
pub(super) fn not_read(error: &StoreError, language: Language) -> Notice {
    let (code, en, de) = match error {
        StoreError::Damaged { .. } => (
            "damaged",
            (
                "The record on this device is damaged: what you asked for cannot be read. Nothing was changed.",
                "Keep the file and ask for help before going on.",
            ),
            (
                "Das Protokoll auf diesem Gerät ist beschädigt: Das Gewünschte ist nicht lesbar. Nichts wurde geändert.",
                "Datei aufbewahren und Hilfe holen, bevor es weitergeht.",
            ),
        ),
        _ => (
            "not-read",
            (
                "The record could not be read just now. Nothing was changed.",
                "Try again. If it stays, start the program anew.",
            ),
            (
                "Das Protokoll war gerade nicht lesbar. Nichts wurde geändert.",
                "Noch einmal versuchen. Bleibt es so, das Programm neu starten.",
            ),
        ),
    };
    notice(code, en, de, language)
}

/// The notice when something that was recorded earlier is not whole.
pub(super) fn not_whole(report: &CheckReport, language: Language) -> Notice {
    let mut found = Vec::new();
    let (chunks, others) = (report.bad_chunks.len(), report.others.len());
    let say = |en: String, de: String| if language == Language::De { de } else { en };
    if let Some(entry) = &report.bad_entry {
        let sequence = entry.sequence;
        found.push(say(format!("the record from entry {sequence} on"), format!("das Protokoll ab Eintrag {sequence}")));
    }
    if chunks > 0 {
        found.push(say(format!("{chunks} stretches of samples"), format!("{chunks} Abschnitte Messwerte")));
    }
    if others > 0 {
        found.push(say(format!("{others} things beside it"), format!("{others} Angaben daneben")));
    }
    let found = found.join(", ");
    let (words, remedy) = match language {
        Language::En => (
            format!("A look at the whole record found that it is not as it was written: {found}. Nothing was changed."),
            "What you measure now is recorded. Close the program after this job and run `evenwire-cli rescue`, or keep \
             the file and ask for help.",
        ),
        Language::De => (
            format!(
                "Eine Durchsicht aller Aufzeichnungen ergab, dass sie nicht sind, wie sie geschrieben wurden: {found}. Nichts wurde geändert."
            ),
            "Was du jetzt misst, wird aufgezeichnet. Nach diesem Auftrag das Programm schließen und `evenwire-cli \
             rescue` ausführen, oder die Datei aufbewahren und Hilfe holen.",
        ),
    };
    Notice { code: "not-whole".into(), words, remedy: remedy.into() }
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

/// The notice after a second one in a row: the job is not on the bench any more.
pub(super) fn put_aside(language: Language) -> Notice {
    notice(
        "job-put-aside",
        (
            "This job led the program into a fault of its own twice, so it was put aside. Nothing recorded in it is lost.",
            "Go on with another job, and ask for help with this one.",
        ),
        (
            "Dieser Auftrag hat das Programm zweimal in einen eigenen Fehler geführt und wurde beiseitegelegt. Nichts darin Aufgezeichnetes fehlt.",
            "Mit einem anderen Auftrag weitermachen und für diesen Hilfe holen.",
        ),
        language,
    )
}

/// The notice when not even an empty job can be built from the ledger.
pub(super) fn stopped(language: Language) -> Notice {
    notice(
        "stopped",
        (
            "The program cannot go on from its record. Nothing is recorded any more; what was recorded stays in the file.",
            "Measure no further. Start the program again; if it stays, keep the file and ask for help.",
        ),
        (
            "Das Programm kommt mit seinem Protokoll nicht weiter. Es wird nichts mehr aufgezeichnet; Aufgezeichnetes bleibt in der Datei.",
            "Nicht weiter messen. Programm neu starten; bleibt es so, Datei aufbewahren und Hilfe holen.",
        ),
        language,
    )
}

/// The ledger goes on under a new id from here on.
pub(super) fn renewed(reason: Renewal, language: Language) -> Notice {
    let en = match reason {
        Renewal::KeyMissing => "This record came without its key, as a copied file does.",
        Renewal::OtherKey => "The key beside this record belongs to another one.",
        Renewal::Behind => "This record is an older copy: this device had recorded more than stands in it.",
        Renewal::Differs => "This record is not the one this device wrote last.",
        Renewal::Restored => "This record was put back from a backup.",
    };
    let de = match reason {
        Renewal::KeyMissing => "Dieses Protokoll kam ohne seinen Schlüssel, wie eine kopierte Datei.",
        Renewal::OtherKey => "Der Schlüssel neben diesem Protokoll gehört zu einem anderen.",
        Renewal::Behind => {
            "Dieses Protokoll ist eine ältere Kopie: Dieses Gerät hatte mehr aufgezeichnet, als darin steht."
        }
        Renewal::Differs => "Dieses Protokoll ist nicht das, was dieses Gerät zuletzt geschrieben hat.",
        Renewal::Restored => "Dieses Protokoll wurde aus einer Sicherung zurückgespielt.",
    };
    let (words, remedy) = match language {
        Language::En => (
            format!("{en} Everything in it stays and is valid; from here on it is recorded under a new device number."),
            "You can work on. Tell the shop, so that nobody wonders about two records that begin alike.",
        ),
        Language::De => (
            format!("{de} Alles darin bleibt und gilt; ab hier wird unter einer neuen Gerätenummer aufgezeichnet."),
            "Du kannst weiterarbeiten. Sag in der Werkstatt Bescheid, damit sich niemand über zwei Protokolle mit gleichem Anfang wundert.",
        ),
    };
    Notice { code: format!("identity-{}", code_of(reason)), words, remedy: remedy.into() }
}

fn code_of(reason: Renewal) -> &'static str {
    match reason {
        Renewal::KeyMissing => "key-missing",
        Renewal::OtherKey => "other-key",
        Renewal::Behind => "behind",
        Renewal::Differs => "differs",
        Renewal::Restored => "restored",
    }
}

/// What came from the page is no ask.
pub(super) fn not_understood(language: Language) -> Notice {
    notice(
        "not-understood",
        (
            "The page asked for something this program does not know. Nothing was done.",
            "Load the page anew; if it stays, page and program are not of the same version.",
        ),
        (
            "Die Seite hat etwas verlangt, das dieses Programm nicht kennt. Es wurde nichts getan.",
            "Seite neu laden; bleibt es so, sind Seite und Programm nicht von derselben Version.",
        ),
        language,
    )
}

/// The system gives no random bytes, so no PIN can be kept.
pub(super) fn no_random(language: Language) -> Notice {
    notice(
        "no-random",
        ("This device gives no random numbers just now; the PIN was not kept.", "Try again."),
        ("Dieses Gerät gibt gerade keine Zufallszahlen; die PIN wurde nicht aufgehoben.", "Noch einmal versuchen."),
        language,
    )
}

/// The bench has ended.
pub(super) fn gone(language: Language) -> Notice {
    notice(
        "ended",
        ("The program is closing.", "Start it again; everything recorded is there."),
        ("Das Programm wird beendet.", "Neu starten; alles Aufgezeichnete ist da."),
        language,
    )
}

fn notice(code: &str, en: (&str, &str), de: (&str, &str), language: Language) -> Notice {
    let (words, remedy) = match language {
        Language::En => en,
        Language::De => de,
    };
    Notice { code: code.into(), words: words.into(), remedy: remedy.into() }
}
