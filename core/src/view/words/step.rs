//! Words at the steps of a procedure: refusals, ends of a job, kinds of evidence.

use super::facts::fact_words;
use super::{Said, tongue};
use crate::procedure::Origin;
use crate::record::{Alike, Lamp, Outcome};
use crate::verdict::words::Language;
use crate::work::{Evidence, Need, StepRefusal};

/// Why a wish at a step was refused, and what to do.
pub(super) fn step_refusal(refusal: &StepRefusal, language: Language) -> (String, String) {
    let (en, de) = (Language::En, Language::De);
    match refusal {
        StepRefusal::Needs { needs } => needs_words(needs, language),
        StepRefusal::Wait { left_s } => (
            match language {
                Language::En => format!("Wait {left_s} s more."),
                Language::De => format!("Noch {left_s} s warten."),
            },
            tongue(language, "Nothing shortens it.", "Nichts verkürzt das.").to_owned(),
        ),
        StepRefusal::Unread { missing } => match language {
            Language::En => (format!("Readings still missing: {missing}."), "Take them; the list names them.".into()),
            Language::De => (format!("Es fehlen noch Messungen: {missing}."), "Aufnehmen; die Liste nennt sie.".into()),
        },
        StepRefusal::NotCountedBack { loads, locks } => match language {
            Language::En => (
                format!("Still out: substitute loads {loads}, lock pins {locks}."),
                "Take them out of the vehicle and count them back first.".into(),
            ),
            Language::De => (
                format!("Noch draußen: Ersatzlasten {loads}, Sperrstifte {locks}."),
                "Erst aus dem Fahrzeug nehmen und zurückzählen.".into(),
            ),
        },
        StepRefusal::Code { text } => match language {
            Language::En => {
                (format!("“{text}” is no trouble code."), "Write it like B0001-13, or tick that none is stored.".into())
            }
            Language::De => (
                format!("„{text}“ ist kein Fehlercode."),
                "So schreiben: B0001-13, oder ankreuzen, dass keiner gespeichert ist.".into(),
            ),
        },
        StepRefusal::StillOpen { steps, not_repaired, not_together } => {
            still_open((steps.len(), *not_repaired, *not_together), language)
        }
        StepRefusal::Empty { field }
        | StepRefusal::TooLong { field }
        | StepRefusal::Number { field, .. }
        | StepRefusal::KnownSource { field } => {
            let what = (entry_words(field, en), entry_words(field, de));
            let said = at_field(refusal);
            (
                format!("{}: {}", tongue(language, &what.0, &what.1), tongue(language, said.0, said.2)),
                tongue(language, said.1, said.3).to_owned(),
            )
        }
        plain => {
            let (en, en_do, de, de_do) = plain_words(plain);
            (tongue(language, en, de).to_owned(), tongue(language, en_do, de_do).to_owned())
        }
    }
}

fn needs_words(needs: &[Need], language: Language) -> (String, String) {
    let facts: Vec<String> = needs.iter().map(|need| fact_words(&need.fact, language)).collect();
    match language {
        Language::En => {
            (format!("First this has to be so: {}", facts.join(" ")), "Go to the step that makes it so.".into())
        }
        Language::De => {
            (format!("Zuerst muss gelten: {}", facts.join(" ")), "Zu dem Schritt gehen, der das herstellt.".into())
        }
    }
}

fn still_open((steps, not_repaired, not_together): (usize, bool, bool), language: Language) -> (String, String) {
    let mut said = Vec::new();
    if not_repaired {
        said.push(tongue(
            language,
            "Lamp and codes do not say that it is repaired.",
            "Lampe und Codes sagen nicht, dass es repariert ist.",
        ));
    }
    if not_together {
        said.push(tongue(
            language,
            "A shorting bar is held open, or an airbag is not in its place.",
            "Eine Kurzschlussbrücke ist offen gehalten, oder ein Airbag ist nicht an seinem Platz.",
        ));
    }
    if steps > 0 {
        said.push(tongue(language, "Steps are open.", "Schritte sind offen."));
    }
    let remedy = tongue(
        language,
        "Battery off, wait and prove dead before anything is touched again; or sign it as not repaired.",
        "Batterie ab, warten, Spannungsfreiheit feststellen, bevor wieder etwas angefasst wird; oder als nicht repariert unterschreiben.",
    );
    (said.join(" "), remedy.to_owned())
}

/// What is wrong at a field: English why and what to do, German why and what to do.
fn at_field(refusal: &StepRefusal) -> Said {
    match refusal {
        StepRefusal::Empty { .. } => ("this is missing.", "Fill it in.", "Das fehlt.", "Bitte eintragen."),
        StepRefusal::TooLong { .. } => {
            ("the text is too long.", "Shorten it.", "Der Text ist zu lang.", "Bitte kürzen.")
        }
        StepRefusal::Number { ambiguous: true, .. } => (
            "is the comma or point a decimal sign or a thousands sign?",
            "Write it with other decimal places, like 1.25.",
            "Ist das Komma oder der Punkt ein Dezimalzeichen oder ein Tausenderzeichen?",
            "Mit anderen Nachkommastellen schreiben, etwa 1,25.",
        ),
        StepRefusal::KnownSource { .. } => (
            "the known source reads under 1 V, so the meter is not shown to work.",
            "Look at leads, range and battery of the meter, then begin with the known source again.",
            "Die bekannte Quelle zeigt unter 1 V; das Messgerät ist nicht nachgewiesen.",
            "Leitungen, Bereich und Batterie des Messgeräts prüfen, dann wieder mit der bekannten Quelle beginnen.",
        ),
        _ => ("this is not a number.", "Write it like 12.6.", "Das ist keine Zahl.", "So schreiben: 12,6."),
    }
}

/// Refusals without figures; the rest is handed on.
fn plain_words(refusal: &StepRefusal) -> Said {
    match refusal {
        StepRefusal::NoProcedure => (
            "This job follows no procedure.",
            "Choose one first.",
            "Dieser Auftrag folgt keinem Ablauf.",
            "Zuerst einen wählen.",
        ),
        StepRefusal::ProcedureBegun => (
            "This job follows a procedure already.",
            "Go on with it, or start a new job.",
            "Dieser Auftrag folgt schon einem Ablauf.",
            "Damit weitermachen oder einen neuen Auftrag beginnen.",
        ),
        StepRefusal::NoSuchProcedure => (
            "This procedure is not here, or it was withdrawn.",
            "Choose another one.",
            "Diesen Ablauf gibt es hier nicht, oder er ist zurückgezogen.",
            "Einen anderen wählen.",
        ),
        StepRefusal::OtherJob => (
            "Another job is on the bench now.",
            "Look at order and vehicle at the top, then press again.",
            "Jetzt liegt ein anderer Auftrag auf.",
            "Oben Auftrag und Fahrzeug ansehen, dann noch einmal drücken.",
        ),
        StepRefusal::NoSuchStep => (
            "The procedure has no such step.",
            "Go back to the list.",
            "Diesen Schritt hat der Ablauf nicht.",
            "Zurück zur Liste.",
        ),
        StepRefusal::Settled => (
            "This step is done.",
            "If it does not hold any more, do it again from here.",
            "Dieser Schritt ist erledigt.",
            "Gilt er nicht mehr, ab hier noch einmal machen.",
        ),
        StepRefusal::NotBegun => (
            "This step was not begun.",
            "Read its cautions and begin it.",
            "Dieser Schritt ist nicht begonnen.",
            "Hinweise lesen und beginnen.",
        ),
        StepRefusal::StepFirst { .. } => (
            "Another step comes first.",
            "Do that one, or leave it out for a reason.",
            "Ein anderer Schritt kommt zuerst.",
            "Diesen machen oder mit Grund auslassen.",
        ),
        other => of_the_order(other),
    }
}

/// Refusals about order and evidence; the rest is handed on.
fn of_the_order(refusal: &StepRefusal) -> Said {
    match refusal {
        StepRefusal::WaitStopped => (
            "The wait does not count.",
            "Make sure of the cable first; then the whole time starts.",
            "Die Wartezeit läuft nicht.",
            "Zuerst des Kabels sicher sein; dann läuft die ganze Zeit.",
        ),
        StepRefusal::Evidence { evidence: Evidence::Photo } => (
            "A photo is asked for at this step.",
            "Take one.",
            "Zu diesem Schritt gehört ein Foto.",
            "Eines aufnehmen.",
        ),
        StepRefusal::Evidence { evidence: Evidence::Words } => (
            "Words are asked for at this step.",
            "Write what you saw.",
            "Zu diesem Schritt gehören Worte.",
            "Schreiben, was du gesehen hast.",
        ),
        StepRefusal::OtherKind => (
            "This was entered for another kind of step.",
            "Look at the step again.",
            "Das gehört zu einer anderen Art von Schritt.",
            "Den Schritt noch einmal ansehen.",
        ),
        StepRefusal::CodesAndNone => (
            "Codes are listed, and that there is none is ticked.",
            "Take one of the two away.",
            "Es stehen Codes da, und angekreuzt ist, dass es keine gibt.",
            "Eines von beiden wegnehmen.",
        ),
        StepRefusal::TurnsUnlikePublished => (
            "The turns counted are not those that are published.",
            "Count again, gently. If they stay apart, stop and ask the maker.",
            "Die gezählten Umdrehungen sind nicht die veröffentlichten.",
            "Noch einmal sanft zählen. Bleibt es dabei, anhalten und beim Hersteller fragen.",
        ),
        StepRefusal::TooFewTurns => (
            "Too few turns are free on a side.",
            "Go back to the centre and count again.",
            "Auf einer Seite sind zu wenige Umdrehungen frei.",
            "Zurück zur Mitte und noch einmal zählen.",
        ),
        StepRefusal::SidesUnlike => (
            "One side has more free turns than the other: it is not in its centre.",
            "Count from the end again, half of it back.",
            "Eine Seite hat mehr freie Umdrehungen: Das ist nicht die Mitte.",
            "Noch einmal vom Ende zählen, die Hälfte zurück.",
        ),
        other => of_the_entry(other),
    }
}

/// Refusals about what was entered.
fn of_the_entry(refusal: &StepRefusal) -> Said {
    match refusal {
        StepRefusal::NewFastener => (
            "A new bolt is needed here.",
            "Fit one and tick it.",
            "Hier gehört eine neue Schraube hin.",
            "Einsetzen und ankreuzen.",
        ),
        StepRefusal::AngleNotTurned => (
            "It has to be turned on by the angle.",
            "Do it and tick it.",
            "Sie muss um den Winkel weitergedreht werden.",
            "Machen und ankreuzen.",
        ),
        StepRefusal::Origin => (
            "The procedure does not let in a part of this origin.",
            "Choose another part.",
            "Der Ablauf lässt ein Teil dieser Herkunft nicht zu.",
            "Ein anderes Teil wählen.",
        ),
        StepRefusal::ZeroMoved => (
            "The zero moved too far, or another meter is in use: what was read before was set aside.",
            "Do the steps again that the list marks, then this one.",
            "Die Nullung ist zu weit gewandert, oder ein anderes Messgerät ist im Gebrauch: Was davor gemessen wurde, ist verworfen.",
            "Die in der Liste markierten Schritte noch einmal machen, dann diesen.",
        ),
        StepRefusal::MayNotSkip => (
            "This step cannot be left out.",
            "Do it, or sign the job as not repaired.",
            "Dieser Schritt lässt sich nicht auslassen.",
            "Machen oder den Auftrag als nicht repariert unterschreiben.",
        ),
        other => of_who_signs(other),
    }
}

/// Refusals about who signs, and what.
fn of_who_signs(refusal: &StepRefusal) -> Said {
    match refusal {
        StepRefusal::OwnSecond => (
            "Nobody is their own second.",
            "Somebody else signs, with their own PIN.",
            "Niemand zeichnet sich selbst gegen.",
            "Jemand anderes unterschreibt mit eigener PIN.",
        ),
        StepRefusal::DoerUnknown => (
            "Nobody was named who does this job, so nobody can be told apart as the second.",
            "First whoever did it says so with a PIN; then somebody else signs.",
            "Niemand ist genannt, der diesen Auftrag macht; also steht nicht fest, wer die zweite Person ist.",
            "Zuerst sagt es mit PIN, wer ihn gemacht hat; dann unterschreibt jemand anderes.",
        ),
        StepRefusal::DoerNameless => (
            "The name of somebody who did a part of this job is not on this device, so nobody can tell whether you are \
             that person.",
            "Have it signed on the device where the name is, or take the job over once more from a file with names.",
            "Der Name von jemandem, der einen Teil dieses Auftrags gemacht hat, ist nicht auf diesem Gerät; also kann \
             niemand sagen, ob du das bist.",
            "Auf dem Gerät unterschreiben lassen, das den Namen hat, oder den Auftrag aus einer Datei mit Namen übernehmen.",
        ),
        StepRefusal::SeenOtherwise => (
            "This step was done again since you saw it.",
            "Look at what stands there now, then sign.",
            "Dieser Schritt wurde noch einmal gemacht, seit du ihn gesehen hast.",
            "Ansehen, was jetzt dasteht, dann unterschreiben.",
        ),
        StepRefusal::CompareFirst { .. } => (
            "By what was read since, a comparison comes out worse than it was kept.",
            "Do that comparison again; the list marks it. Then sign.",
            "Nach dem, was seither gemessen wurde, fällt ein Vergleich schlechter aus, als er festgehalten ist.",
            "Diesen Vergleich noch einmal machen; die Liste markiert ihn. Dann unterschreiben.",
        ),
        StepRefusal::NothingToSign => (
            "Nothing waits for a second signature there.",
            "Look at what waits.",
            "Dort wartet nichts auf eine zweite Unterschrift.",
            "Ansehen, was wartet.",
        ),
        _ => (
            "This cannot be done now.",
            "Look at the step again.",
            "Das geht jetzt nicht.",
            "Den Schritt noch einmal ansehen.",
        ),
    }
}

/// The name of a field at a step.
fn entry_words(field: &str, language: Language) -> String {
    if let Some(index) = field.strip_prefix("point-").and_then(|n| n.parse::<usize>().ok()) {
        return format!("{} {}", tongue(language, "Point", "Stelle"), index + 1);
    }
    if let Some(index) = field.strip_prefix("value-").and_then(|n| n.parse::<usize>().ok()) {
        return format!("{} {}", tongue(language, "Value", "Wert"), index + 1);
    }
    let (en, de) = match field {
        "before" => ("Known source before", "Bekannte Quelle davor"),
        "after" => ("Known source after", "Bekannte Quelle danach"),
        "list" => ("Codes", "Fehlercodes"),
        "lamp" => ("What the lamp did", "Was die Lampe tat"),
        "total" => ("Turns from end to end", "Umdrehungen von Ende zu Ende"),
        "left" => ("Turns free to the left", "Freie Umdrehungen links"),
        "right" => ("Turns free to the right", "Freie Umdrehungen rechts"),
        "wrench" => ("The wrench", "Der Schlüssel"),
        "most" => ("Its largest setting", "Seine größte Einstellung"),
        "number" => ("The number on the part", "Die Nummer auf dem Teil"),
        "from" => ("Where it comes from", "Woher es kommt"),
        "outcome" => ("How the job ends", "Wie der Auftrag endet"),
        "reason" => ("The reason", "Der Grund"),
        _ => ("What you wrote", "Was du geschrieben hast"),
    };
    tongue(language, en, de).to_owned()
}

/// What the lamp did.
pub(crate) fn lamp_words(lamp: Lamp, language: Language) -> &'static str {
    match lamp {
        Lamp::WentOff => tongue(language, "It came on and went off.", "Sie ging an und wieder aus."),
        Lamp::StayedOn => tongue(language, "It stayed on, or came on again.", "Sie blieb an oder ging wieder an."),
        Lamp::NeverCame => tongue(language, "It never came on.", "Sie ging nie an."),
    }
}

/// How a job ends.
pub(crate) fn outcome_words(outcome: Outcome, language: Language) -> &'static str {
    match outcome {
        Outcome::Repaired => tongue(language, "Repaired", "Repariert"),
        Outcome::NotRepaired => tongue(language, "Not repaired", "Nicht repariert"),
        Outcome::Refused => tongue(language, "Refused by the customer", "Vom Kunden abgelehnt"),
    }
}

/// What comparing a group came to.
pub(in crate::view) fn alike_words(alike: Alike, language: Language) -> &'static str {
    match alike {
        Alike::All => tongue(language, "They read alike.", "Sie messen gleich."),
        Alike::NotAll => tongue(language, "Not all of them read alike.", "Nicht alle messen gleich."),
        Alike::CannotTell => tongue(language, "It cannot be told yet.", "Das lässt sich noch nicht sagen."),
    }
}

/// Where a part comes from.
pub(crate) fn origin_words(origin: Origin, language: Language) -> &'static str {
    match origin {
        Origin::New => tongue(language, "new", "neu"),
        Origin::Used => tongue(language, "used", "gebraucht"),
        Origin::Rebuilt => tongue(language, "rebuilt", "überholt"),
    }
}
