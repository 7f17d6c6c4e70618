//! Why a job is not handed over, taken back or taken over, and what to do.

use super::tongue;
use crate::job::HandRefusal;
use crate::verdict::words::Language;

/// Why, and what to do.
pub(super) fn hand_refusal(refusal: &HandRefusal, language: Language) -> (String, String) {
    let said = |en: &str, de: &str| tongue(language, en, de).to_owned();
    match refusal {
        HandRefusal::Away { to } => (
            away(to, language),
            said("Take it back first, if nobody took it over.", "Erst zurücknehmen, falls ihn niemand übernommen hat."),
        ),
        HandRefusal::NotAway => (
            said("This job was not handed over.", "Dieser Auftrag ist nicht übergeben."),
            said("Go on with it.", "Einfach weitermachen."),
        ),
        HandRefusal::NoKey => (
            said(
                "This record names no key of its device, so nobody could tell who hands the job over.",
                "Diese Aufzeichnung nennt keinen Schlüssel ihres Geräts: Niemand könnte sagen, wer übergibt.",
            ),
            said("Start the app again.", "Die App neu starten."),
        ),
        HandRefusal::KeyAway => (
            said(
                "The key of this device cannot be read from the system’s key store now, and without it nobody could tell who \
                 hands the job over.",
                "Der Schlüssel dieses Geräts lässt sich gerade nicht aus dem Schlüsselbund des Systems lesen, und ohne ihn \
                 könnte niemand sagen, wer übergibt.",
            ),
            said(
                "Unlock the key store, then hand the job over again.",
                "Den Schlüsselbund aufschließen, dann noch einmal übergeben.",
            ),
        ),
        HandRefusal::Here => (
            said("Everything in this file is here already.", "Alles aus dieser Datei ist schon hier."),
            said("Open the job in the list.", "Den Auftrag in der Liste öffnen."),
        ),
        HandRefusal::Parted => (
            said(
                "The job went on here and on the other device. Both ways stand in the record, and neither takes the \
                 place of the other.",
                "Der Auftrag ging hier und auf dem anderen Gerät weiter. Beide Fassungen stehen in der Aufzeichnung, \
                 keine ersetzt die andere.",
            ),
            said(
                "Decide together which device goes on; the office sees both.",
                "Gemeinsam entscheiden, welches Gerät weitermacht; das Büro sieht beide.",
            ),
        ),
        HandRefusal::Taken { by } => (
            match language {
                Language::En => format!("{by} took this job over already."),
                Language::De => format!("{by} hat diesen Auftrag schon übernommen."),
            },
            said("Ask there before you go on.", "Dort nachfragen, bevor du weitermachst."),
        ),
        of_file => file_refusal(of_file, language),
    }
}

fn away(to: &str, language: Language) -> String {
    match (language, to.is_empty()) {
        (Language::En, true) => "This job was handed over. Here it can be read.".to_owned(),
        (Language::De, true) => "Dieser Auftrag ist übergeben. Hier kann man ihn lesen.".to_owned(),
        (Language::En, false) => format!("This job was handed over to {to}. Here it can be read."),
        (Language::De, false) => format!("Dieser Auftrag ist an {to} übergeben. Hier kann man ihn lesen."),
    }
}

fn file_refusal(refusal: &HandRefusal, language: Language) -> (String, String) {
    let said = |en: &str, de: &str| tongue(language, en, de).to_owned();
    match refusal {
        HandRefusal::File { what } => (
            match language {
                Language::En => format!("This is no file of a job as a device wrote it: {what}."),
                Language::De => format!("Das ist keine Auftragsdatei, wie ein Gerät sie schrieb: {what}."),
            },
            said(
                "Nothing here changed. Have the device that handed the job over write the file again.",
                "Hier hat sich nichts geändert. Das Gerät, das übergeben hat, die Datei noch einmal schreiben lassen.",
            ),
        ),
        HandRefusal::NewerFile => (
            said(
                "This file is of a newer version of the app.",
                "Diese Datei stammt von einer neueren Fassung der App.",
            ),
            said("Update the app here.", "Die App hier aktualisieren."),
        ),
        _ => (
            said("The job in this file was not handed over.", "Der Auftrag in dieser Datei ist nicht übergeben."),
            said(
                "Hand it over on the device it is on, then take the file that writes.",
                "Ihn auf seinem Gerät übergeben und die Datei nehmen, die dabei entsteht.",
            ),
        ),
    }
}
