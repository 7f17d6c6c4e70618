//! Why a wish was refused, and what to do.

use super::correction::of_corrections;
use super::file::procedure_refusal;
use super::handed::hand_refusal;
use super::people::roster_refusal;
use super::step::step_refusal;
use super::{Said, end_words, tongue};
use crate::job::Refusal;
use crate::verdict::words::Language;
use crate::view::Notice;

/// The notice for a refusal: a stable code, why, and what to do.
pub fn refusal_notice(refusal: &Refusal, language: Language) -> Notice {
    let code = serde_json::to_value(refusal).ok();
    let code = code.as_ref().and_then(|v| v["code"].as_str()).unwrap_or("refused").to_owned();
    let (words, remedy) = words_and_remedy(refusal, language);
    Notice { code, words, remedy }
}

fn words_and_remedy(refusal: &Refusal, language: Language) -> (String, String) {
    match refusal {
        Refusal::End { why } => (
            end_words(*why, language).to_owned(),
            tongue(language, "Choose another conductor.", "Einen anderen Leiter wählen.").to_owned(),
        ),
        Refusal::TooLong { field } => {
            let what = field_words(field, language);
            (
                match language {
                    Language::En => format!("{what}: the text is too long."),
                    Language::De => format!("{what}: Der Text ist zu lang."),
                },
                tongue(language, "Shorten it.", "Bitte kürzen.").to_owned(),
            )
        }
        Refusal::Day { field } => {
            let what = field_words(field, language);
            match language {
                Language::En => (format!("{what}: this is not a day."), "Write it like 2026-05-31.".into()),
                Language::De => (format!("{what}: Das ist kein Tag."), "So schreiben: 2026-05-31.".into()),
            }
        }
        Refusal::Step { refusal } => step_refusal(refusal, language),
        Refusal::Hand { refusal } => hand_refusal(refusal, language),
        Refusal::Roster { refusal } => roster_refusal(refusal, language),
        Refusal::ProcedureWrong { .. } | Refusal::ProcedureLooser { .. } | Refusal::ProcedureVersion { .. } => {
            procedure_refusal(refusal, language)
        }
        Refusal::StepUnlikeDisplay { step, shown } => match language {
            Language::En => (
                format!("The display shows {shown} Ω. A meter that counts in steps of {step} Ω cannot show that."),
                "Type the step of the last digit in this range.".into(),
            ),
            Language::De => (
                format!("Die Anzeige zeigt {shown} Ω. Das kann ein Gerät mit Schritten von {step} Ω nicht zeigen."),
                "Den Schritt der letzten Stelle in diesem Bereich eintragen.".into(),
            ),
        },
        Refusal::FinerThanStep { step } => match language {
            Language::En => (
                format!("The meter counts in steps of {step} Ω; these are more decimal places than it shows."),
                "Type what the display shows, or correct the meter's step.".into(),
            ),
            Language::De => (
                format!("Das Messgerät zählt in Schritten von {step} Ω; so viele Nachkommastellen zeigt es nicht."),
                "Tippen, was die Anzeige zeigt, oder den Anzeigeschritt berichtigen.".into(),
            ),
        },
        Refusal::Number { field, ambiguous } => number_words(field, *ambiguous, language),
        Refusal::PartWrong { .. } => (
            tongue(
                language,
                "The part cannot be measured as described.",
                "So beschrieben lässt sich das Teil nicht messen.",
            )
            .to_owned(),
            tongue(language, "Correct the marked lines.", "Die markierten Zeilen berichtigen.").to_owned(),
        ),
        other => {
            let (en, en_do, de, de_do) = of_the_job(other);
            (tongue(language, en, de).to_owned(), tongue(language, en_do, de_do).to_owned())
        }
    }
}

fn number_words(field: &str, ambiguous: bool, language: Language) -> (String, String) {
    let what = field_words(field, language);
    match (ambiguous, language) {
        (true, Language::En) => (
            format!("{what}: is the comma or point a decimal sign or a thousands sign?"),
            "Write 1234 for a thousand, 1.2340 for a decimal.".into(),
        ),
        (true, Language::De) => (
            format!("{what}: Ist das Komma oder der Punkt ein Dezimal- oder ein Tausenderzeichen?"),
            "1234 für tausend schreiben, 1,2340 für eine Dezimalzahl.".into(),
        ),
        (false, _) => {
            let like = match field {
                "top" => tongue(language, "600 or 60000000", "600 oder 60000000"),
                "accuracy_percent" | "tolerance_percent" => tongue(language, "0.8", "0,8"),
                "accuracy_counts" => "3",
                "temperature" => tongue(language, "21: −40 to 85 °C is allowed", "21: erlaubt ist −40 bis 85 °C"),
                "resistor" => tongue(language, "10.0", "10,0"),
                _ => tongue(language, "0.01", "0,01"),
            };
            match language {
                Language::En => {
                    (format!("{what}: this is not a number that can be used."), format!("Write it like {like}."))
                }
                Language::De => (format!("{what}: Das ist keine brauchbare Zahl."), format!("So schreiben: {like}.")),
            }
        }
    }
}

pub(crate) fn field_words(field: &str, language: Language) -> &str {
    let (en, de) = match field {
        "order" => ("Order", "Auftrag"),
        "vehicle" => ("Vehicle", "Fahrzeug"),
        "name" => ("Name", "Name"),
        "address" => ("Address", "Anschrift"),
        "logo" => ("Logo", "Logo"),
        "to" => ("To whom", "An wen"),
        "role" => ("Role", "Aufgabe"),
        "customer" => ("Customer", "Kunde"),
        "phone" => ("Phone", "Telefon"),
        "plate" => ("Plate", "Kennzeichen"),
        "vin" => ("VIN", "FIN"),
        "odometer" => ("Odometer", "Kilometerstand"),
        "technician" => ("Technician", "Techniker"),
        "complaint" => ("Complaint", "Beanstandung"),
        "temperature" => ("Temperature in °C", "Temperatur in °C"),
        "label" => ("Name of the meter", "Name des Messgeräts"),
        "step" => ("Smallest step of the display", "Kleinster Schritt der Anzeige"),
        "top" => ("Highest value it shows", "Höchster Wert, den es zeigt"),
        "accuracy_percent" => ("Accuracy, ± % of reading", "Genauigkeit, ± % vom Messwert"),
        "calibration_due" => ("Calibration due", "Kalibrierung fällig"),
        "resistor" => ("Resistor in Ω", "Widerstand in Ω"),
        "tolerance_percent" => ("Tolerance in percent", "Toleranz in Prozent"),
        "reading" => ("Reading", "Messwert"),
        "opened" => ("How it is held open", "Wie sie offen gehalten wird"),
        "accuracy_counts" => ("Accuracy, ± steps of the last digit", "Genauigkeit, ± Schritte der letzten Stelle"),
        other => (other, other),
    };
    tongue(language, en, de)
}

/// Refusals about the job and its part; the rest is handed on.
fn of_the_job(refusal: &Refusal) -> Said {
    match refusal {
        Refusal::NoJob => (
            "No job is on the bench.",
            "Open or start a job.",
            "Kein Auftrag liegt auf.",
            "Einen Auftrag öffnen oder beginnen.",
        ),
        Refusal::NoSuchJob => (
            "This job is not stored here.",
            "Go back to the list.",
            "Dieser Auftrag ist hier nicht gespeichert.",
            "Zurück zur Liste.",
        ),
        Refusal::OrderMissing => (
            "The job has no order number or name.",
            "Write one; anything you will recognise.",
            "Der Auftrag hat weder Nummer noch Namen.",
            "Etwas eintragen, woran du ihn erkennst.",
        ),
        Refusal::CautionFirst { .. } => (
            "A caution has to be read first.",
            "Read it and confirm.",
            "Zuerst kommt ein Sicherheitshinweis.",
            "Lesen und bestätigen.",
        ),
        Refusal::PartFirst => (
            "No part is described yet.",
            "Describe the part first.",
            "Noch ist kein Teil beschrieben.",
            "Zuerst das Teil beschreiben.",
        ),
        Refusal::PartMeasured => (
            "This part was already measured; its description stays.",
            "Start a new job for another part.",
            "Dieses Teil wurde schon gemessen; die Beschreibung bleibt.",
            "Für ein anderes Teil einen neuen Auftrag beginnen.",
        ),
        Refusal::TemplateName => (
            "The saved part needs a name of at most 60 characters.",
            "Write one.",
            "Das gespeicherte Teil braucht einen Namen mit höchstens 60 Zeichen.",
            "Einen Namen eintragen.",
        ),
        Refusal::NewerProgram => (
            "This job was worked on with a newer program. It can be read here, not changed.",
            "Bring this program up to date.",
            "An diesem Auftrag hat ein neueres Programm gearbeitet. Hier lässt er sich lesen, nicht ändern.",
            "Dieses Programm auf den neuen Stand bringen.",
        ),
        Refusal::Finished => (
            "The job is closed. Its record stays as it is.",
            "Start a new job.",
            "Der Auftrag ist abgeschlossen. Sein Protokoll bleibt, wie es ist.",
            "Einen neuen Auftrag beginnen.",
        ),
        Refusal::BenchTaken => (
            "Another job is on the bench.",
            "Leave it first; nothing of it is lost.",
            "Ein anderer Auftrag liegt auf.",
            "Ihn zuerst verlassen; nichts geht verloren.",
        ),
        other => of_corrections(other),
    }
}

/// Refusals about the meter; the rest is handed on.
pub(super) fn of_the_meter(refusal: &Refusal) -> Said {
    match refusal {
        Refusal::NoSuchMeter => (
            "This meter is no longer in the list.",
            "Search again.",
            "Dieses Messgerät steht nicht mehr in der Liste.",
            "Noch einmal suchen.",
        ),
        Refusal::MeterFirst => {
            ("No meter is connected.", "Connect one.", "Kein Messgerät ist verbunden.", "Eines verbinden.")
        }
        Refusal::MeterUnknown => (
            "Not enough is known about the meter for a verdict.",
            "Fill in its name, step, accuracy and top of range; they stand in its manual.",
            "Für ein Urteil ist zu wenig über das Messgerät bekannt.",
            "Name, Anzeigeschritt, Genauigkeit und Bereichsende eintragen; sie stehen in der Anleitung.",
        ),
        Refusal::TestCurrent => (
            "This meter drives more than 10 mA. It is not for restraint wiring.",
            "Use a multimeter with a test current of a few milliamps at most.",
            "Dieses Messgerät treibt mehr als 10 mA. Für Rückhaltesysteme ungeeignet.",
            "Ein Multimeter mit höchstens wenigen Milliampere Prüfstrom nehmen.",
        ),
        Refusal::NotOverRange => (
            "The meter does not show over-range steadily.",
            "Hold the clips on for a second, then press again.",
            "Das Messgerät zeigt nicht ruhig Überlauf.",
            "Klemmen eine Sekunde halten, dann noch einmal drücken.",
        ),
        Refusal::AboveRange => (
            "The range ends below 1000 Ω: above range is not open.",
            "Set the meter to automatic range or a range of 1 kΩ and more.",
            "Der Bereich endet unter 1000 Ω: darüber heißt nicht offen.",
            "Automatische Bereichswahl oder einen Bereich ab 1 kΩ einstellen.",
        ),
        Refusal::Stale => (
            "The meter shows no fresh value.",
            "Wait for a live value.",
            "Das Messgerät zeigt keinen frischen Wert.",
            "Auf einen frischen Wert warten.",
        ),
        Refusal::OtherMeter => (
            "Another meter is connected than the one this job uses.",
            "Say “Use this meter”, or connect the other one again.",
            "Es ist ein anderes Messgerät verbunden als das dieses Auftrags.",
            "„Dieses Gerät nehmen“ drücken oder das andere verbinden.",
        ),
        other => of_measuring(other),
    }
}

/// Refusals while clipping and judging.
fn of_measuring(refusal: &Refusal) -> Said {
    match refusal {
        Refusal::NoSuchConductor => (
            "The part has no such conductor.",
            "Choose one from the list.",
            "Diesen Leiter hat das Teil nicht.",
            "Einen aus der Liste wählen.",
        ),
        Refusal::NothingToTake => (
            "There is no contact to take.",
            "Put the clips on and hold them still.",
            "Es gibt keinen Kontakt zu übernehmen.",
            "Klemmen anlegen und ruhig halten.",
        ),
        Refusal::NothingToUndo => (
            "There is no touch to take back.",
            "Go on measuring.",
            "Es gibt keine Messung zurückzunehmen.",
            "Weiter messen.",
        ),
        Refusal::NewerTouch => (
            "That touch is not the newest any more. No other one was taken back.",
            "See which one the key names now.",
            "Das ist nicht mehr die neueste Messung. Keine andere wurde zurückgenommen.",
            "Nachsehen, welche jetzt auf der Taste steht.",
        ),
        Refusal::NothingMeasured => (
            "Nothing was measured yet.",
            "Measure at least one conductor.",
            "Noch wurde nichts gemessen.",
            "Mindestens einen Leiter messen.",
        ),
        Refusal::VerdictFirst => (
            "There is no up-to-date verdict yet.",
            "Judge the readings first.",
            "Es gibt noch kein aktuelles Urteil.",
            "Zuerst die Messwerte beurteilen.",
        ),
        Refusal::VerdictGiven => (
            "The verdict was given.",
            "Press “Measure more” to go on measuring.",
            "Das Urteil ist gefallen.",
            "„Weiter messen“ drücken, um weiterzumessen.",
        ),
        other => of_proving(other),
    }
}

/// Refusals about zero, bars, isolation, sweeps, typed readings and old parts.
fn of_proving(refusal: &Refusal) -> Said {
    match refusal {
        Refusal::SweepPlan => (
            "Turns and passes go from 1 to 20, the pace from 2 to 20 seconds, or by key.",
            "Correct the plan.",
            "Umdrehungen und Durchgänge gehen von 1 bis 20, der Takt von 2 bis 20 Sekunden, oder mit Taste.",
            "Den Plan berichtigen.",
        ),
        Refusal::SameConductor => (
            "These are the same conductor.",
            "Choose two different ones.",
            "Das ist derselbe Leiter.",
            "Zwei verschiedene wählen.",
        ),
        Refusal::BarFirst { .. } => (
            "Nobody said yet whether a shorting bar bridges this pair.",
            "Say first whether there is a bar, and how it is held open.",
            "Noch sagte niemand, ob eine Kurzschlussbrücke dieses Paar verbindet.",
            "Zuerst angeben, ob da eine Brücke ist und wie sie offen gehalten wird.",
        ),
        Refusal::NothingAside => (
            "Nothing of that sort is going on.",
            "Look at the step that is open.",
            "So etwas läuft gerade nicht.",
            "Den offenen Schritt ansehen.",
        ),
        Refusal::NothingSwept => (
            "No value has come yet.",
            "Clip on, then move the part.",
            "Noch kam kein Wert.",
            "Anklemmen, dann das Teil bewegen.",
        ),
        Refusal::NoSuchReading => (
            "This reading does not stand any more.",
            "Look at the list again.",
            "Diese Messung steht nicht mehr.",
            "Die Liste noch einmal ansehen.",
        ),
        Refusal::RadioNeeded => (
            "A sweep needs a stream of readings: a meter with radio.",
            "Connect one, or leave the sweep out; it is then shown as not done.",
            "Beim Bewegen braucht es einen Strom von Messwerten: ein Messgerät mit Funk.",
            "Eines verbinden oder es weglassen; es steht dann als nicht gemacht da.",
        ),
        Refusal::NotTyped => (
            "This job uses a meter with radio. Nothing is typed for it.",
            "Clip on and hold still.",
            "Dieser Auftrag nutzt ein Messgerät mit Funk. Dafür wird nichts getippt.",
            "Anklemmen und ruhig halten.",
        ),
        Refusal::NothingToCompareWith => (
            "That part has no verdict that still holds, or no two conductors that read alike.",
            "Open that job and judge it again.",
            "Jenes Teil hat kein gültiges Urteil oder keine zwei Leiter, die gleich messen.",
            "Jenen Auftrag öffnen und neu beurteilen.",
        ),
        _ => (
            "This cannot be done now.",
            "Look at the step that is open.",
            "Das geht jetzt nicht.",
            "Den offenen Schritt ansehen.",
        ),
    }
}
