//! Words of the strip, of measuring and of the record.

use super::{practice_name, tongue};
use crate::job::{GivenVerdict, Since, Stage};
use crate::meter::link::Source;
use crate::part::Part;
use crate::record::Instrument;
use crate::verdict::words::Language;
use crate::verdict::{Code, SetVerdict};
use crate::view::faces::end_name;
use crate::view::model::{Mark, Rung};
use std::collections::BTreeSet;

/// Title of a step.
pub(in crate::view) fn stage_title(stage: Stage, language: Language) -> &'static str {
    let (en, de) = match stage {
        Stage::Start => ("Before you begin", "Bevor du beginnst"),
        Stage::Steps => ("The steps", "Die Schritte"),
        Stage::Part => ("The part", "Das Teil"),
        Stage::Meter => ("The meter", "Das Messgerät"),
        Stage::Caution => ("Before the clips go on", "Bevor die Klemmen dran kommen"),
        Stage::Measure => ("Measure", "Messen"),
        Stage::Verdict => ("The verdict", "Das Urteil"),
        Stage::HandedOver => ("Handed over", "Übergeben"),
        Stage::Done => ("Closed", "Abgeschlossen"),
    };
    tongue(language, en, de)
}

/// What proves a step that has no value of its own.
pub(in crate::view) fn proof_words(stage: Stage, language: Language) -> &'static str {
    match stage {
        Stage::Start | Stage::Caution => tongue(language, "Caution read", "Hinweis gelesen"),
        _ => "",
    }
}

/// The kind of a given verdict.
pub(in crate::view) fn now_verdict(given: &GivenVerdict) -> SetVerdict {
    given.judgement.set
}

/// A verdict in a few words.
pub(in crate::view) fn verdict_proof(set: SetVerdict, language: Language) -> &'static str {
    match set {
        SetVerdict::Fail => tongue(language, "Condemned", "Verworfen"),
        SetVerdict::Pass => tongue(language, "Alike at rest", "Gleich in Ruhe"),
        SetVerdict::Undecided => tongue(language, "Not decided", "Nicht entschieden"),
    }
}

/// What to do now.
///
/// `now`: the conductor to clip and how many touches it has; `nothing`: no conductor may be measured at all.
pub(in crate::view) fn instruction_words(
    part: &Part,
    now: Option<(u32, usize)>,
    nothing: bool,
    language: Language,
) -> String {
    let conductor = now.and_then(|(index, _)| part.conductors.get(index as usize));
    let again = now.map_or(0, |(_, taken)| taken);
    match (conductor, language) {
        (Some(c), Language::En) if again > 0 => {
            let ends = (end_name(part, &c.from), end_name(part, &c.to));
            format!("Clip conductor {} again: {} and {}.", c.name, ends.0, ends.1)
        }
        (Some(c), Language::De) if again > 0 => {
            let ends = (end_name(part, &c.from), end_name(part, &c.to));
            format!("Leiter {} noch einmal klemmen: {} und {}.", c.name, ends.0, ends.1)
        }
        (Some(c), Language::En) => {
            format!("Clip conductor {}: {} and {}.", c.name, end_name(part, &c.from), end_name(part, &c.to))
        }
        (Some(c), Language::De) => {
            format!("Leiter {} klemmen: {} und {}.", c.name, end_name(part, &c.from), end_name(part, &c.to))
        }
        (None, _) if nothing => tongue(
            language,
            "This part has no conductor that may be measured.",
            "Dieses Teil hat keinen Leiter, der gemessen werden darf.",
        )
        .to_owned(),
        (None, _) => {
            tongue(language, "Every touch is taken. Press “Judge”.", "Alle Berührungen sind da. „Urteilen“ drücken.")
                .to_owned()
        }
    }
}

/// What to do when measuring was broken off and no meter is connected; `name`: the conductor that was asked for.
pub(in crate::view) fn interrupted_words(name: &str, language: Language) -> String {
    match language {
        Language::En => format!("You were about to measure conductor {name}. Connect the meter to go on."),
        Language::De => format!("Als Nächstes war Leiter {name} dran. Mit verbundenem Messgerät geht es weiter."),
    }
}

/// The contact of the clips; `name`: what the clips go on.
pub(in crate::view) fn contact_words(contact: &str, name: &str, language: Language) -> String {
    let (en, de) = match contact {
        "lift" => ("Take the clips off.", "Klemmen abnehmen."),
        "taken" => ("Taken. Take the clips off.", "Übernommen. Klemmen abnehmen."),
        "clip" => ("Clips on {}: hold still.", "Klemmen an {}: ruhig halten."),
        "settling" => ("Hold still …", "Ruhig halten …"),
        "unsteady" => (
            "It does not stand still. Clip again, or take it as it is.",
            "Es steht nicht still. Neu klemmen oder so übernehmen.",
        ),
        "will-not-stand" => ("It will not stand still. Clip again.", "Es steht nicht still. Neu klemmen."),
        _ => ("Nothing is taken now.", "Jetzt wird nichts übernommen."),
    };
    tongue(language, en, de).replace("{}", name)
}

/// Why over-range waits for a key.
pub(in crate::view) fn over_range_words(language: Language) -> &'static str {
    tongue(
        language,
        "The meter shows over-range. Clips in the air look the same as an open conductor: only you can tell.",
        "Das Messgerät zeigt Überlauf. Klemmen in der Luft sehen aus wie ein offener Leiter: Nur du kannst es wissen.",
    )
}

/// Words on the key that takes over-range between two places; `told`: the meter tells by itself which range it is in.
pub(in crate::view) fn isolation_key(told: bool, language: Language) -> &'static str {
    if told {
        return over_range_key(false, language);
    }
    tongue(language, "Highest range, clips on: take over-range", "Höchster Bereich, geklemmt: Überlauf übernehmen")
}

/// Words on the key that takes over-range as open; `before`: this conductor was taken as open already.
pub(in crate::view) fn over_range_key(before: bool, language: Language) -> &'static str {
    if before {
        tongue(language, "Clipped off and on again: take over-range", "Ab- und neu geklemmt: Überlauf übernehmen")
    } else {
        tongue(language, "Clips are on: take over-range", "Klemmen sind dran: Überlauf übernehmen")
    }
}

/// The newest touch.
pub(in crate::view) fn taken_words(name: &str, text: &str, language: Language) -> String {
    match language {
        Language::En => format!("Conductor {name}: {text}"),
        Language::De => format!("Leiter {name}: {text}"),
    }
}

/// Words on the undo key.
pub(in crate::view) fn undo_words(name: &str, text: &str, language: Language) -> String {
    match language {
        Language::En => format!("Take back {text} on conductor {name}"),
        Language::De => format!("{text} an Leiter {name} zurücknehmen"),
    }
}

/// A finding in one word.
pub(in crate::view) fn state_word(mark: Mark, language: Language) -> &'static str {
    let (en, de) = match mark {
        Mark::Consistent => ("alike", "gleich"),
        Mark::High => ("high", "zu hoch"),
        Mark::Low => ("low", "zu niedrig"),
        Mark::Open => ("open", "offen"),
        Mark::Unstable => ("unsteady", "unruhig"),
        Mark::Undecided => ("undecided", "unentschieden"),
        Mark::NotMeasured => ("not measured", "nicht gemessen"),
    };
    tongue(language, en, de)
}

/// What a ladder shows, in a sentence. `broken`: conductors a sweep found a fault on, with their sentences; they are
/// said first, and not once more.
pub(in crate::view) fn ladder_words(
    rungs: &[Rung],
    has_band: bool,
    broken: &[(u32, String)],
    language: Language,
) -> String {
    let is_said = |rung: &&Rung| !broken.iter().any(|(conductor, _)| *conductor == rung.conductor);
    let named = |marks: &[Mark]| {
        let rungs = rungs.iter().filter(|r| marks.contains(&r.mark)).filter(is_said);
        rungs.map(|r| r.name.as_str()).collect::<Vec<&str>>().join(", ")
    };
    let count = |mark: Mark| rungs.iter().filter(|r| r.mark == mark).count();
    let mut sentences: Vec<String> = broken.iter().map(|(_, sentence)| format!("{sentence}.")).collect();
    let alike = count(Mark::Consistent);
    if !has_band {
        sentences.push(
            tongue(language, "There is nothing to compare with yet.", "Noch gibt es nichts zu vergleichen.").to_owned(),
        );
    } else {
        sentences.push(match language {
            Language::En => format!("{alike} of {} conductors read alike.", rungs.len()),
            Language::De => format!("{alike} von {} Leitern messen gleich.", rungs.len()),
        });
    }
    let outside = [
        (&[Mark::High][..], "Too high", "Zu hoch"),
        (&[Mark::Low], "Too low", "Zu niedrig"),
        (&[Mark::Open], "Open", "Offen"),
        (&[Mark::Unstable], "Unsteady", "Unruhig"),
        (&[Mark::Undecided], "Undecided", "Unentschieden"),
        (&[Mark::NotMeasured], "Not measured", "Nicht gemessen"),
    ];
    for (marks, en, de) in outside {
        let names = named(marks);
        if !names.is_empty() {
            sentences.push(format!("{}: {names}.", tongue(language, en, de)));
        }
    }
    sentences.join(" ")
}

/// Value and difference of a conductor in a sentence; nothing where there is no difference to tell.
pub(in crate::view) fn figures_words(
    name: &str,
    (value, difference): &(String, String),
    language: Language,
) -> Option<String> {
    (!difference.is_empty()).then(|| match language {
        Language::En => format!("{name} reads {value}: {difference} against the others."),
        Language::De => format!("{name} misst {value}: {difference} gegenüber den anderen."),
    })
}

/// What changed since a verdict was given.
pub(in crate::view) fn since_words(since: &BTreeSet<Since>, language: Language) -> &'static str {
    let only = |one: Since| since.iter().all(|other| *other == one);
    if only(Since::Readings) {
        tongue(language, "New readings since this verdict.", "Neue Messwerte seit diesem Urteil.")
    } else if only(Since::Part) {
        tongue(
            language,
            "The description of the part changed since this verdict.",
            "Die Beschreibung des Teils hat sich seit diesem Urteil geändert.",
        )
    } else if only(Since::Bench) {
        tongue(
            language,
            "Meter or bench settings changed since this verdict.",
            "Messgerät oder Werkbank-Angaben haben sich seit diesem Urteil geändert.",
        )
    } else {
        tongue(
            language,
            "Readings and settings changed since this verdict.",
            "Messwerte und Angaben haben sich seit diesem Urteil geändert.",
        )
    }
}

/// With what it was measured, and when.
pub(in crate::view) fn measured_with_words(given: &GivenVerdict, language: Language) -> String {
    let guessed = given.judgement.reasons.contains(&Code::LeadsNotZeroed);
    let leads = if guessed {
        tongue(language, "leads not zeroed", "Messleitungen nicht genullt")
    } else {
        tongue(language, "leads zeroed", "Messleitungen genullt")
    };
    let at = given.at.to_minute();
    let Some(i) = &given.instrument else { return format!("{leads}, {at}") };
    let percent = percent_words(i.accuracy_milli_percent);
    let step = tongue(language, "step", "Schritt");
    let counts = i.accuracy_counts;
    let simulated = source_words(i.source, language);
    let simulated = if simulated.is_empty() { String::new() } else { format!(" {simulated}") };
    let name = instrument_words(i, language);
    format!("{name}, {step} {} Ω, ±({percent} % + {counts}), {leads}, {at}.{simulated}", i.step)
}

/// What has to be known of where readings come from; nothing of a meter that told them by radio.
pub(crate) fn source_words(source: Source, language: Language) -> &'static str {
    match source {
        Source::Radio => "",
        Source::Practice => {
            tongue(language, "PRACTICE, nothing real was measured.", "ÜBUNG, nichts Echtes wurde gemessen.")
        }
        Source::Replay => tongue(language, "REPLAY of a recording.", "WIEDERGABE einer Aufzeichnung."),
        Source::Typed => tongue(language, "Read from the display and typed.", "Von der Anzeige abgelesen und getippt."),
    }
}

/// An instrument by its name and what it is known by; one a person named has only that.
pub(crate) fn instrument_words(instrument: &Instrument, language: Language) -> String {
    let (name, identity) = (&practice_name(&instrument.name, instrument.source, language), &instrument.identity);
    if name == identity || name.is_empty() { identity.clone() } else { format!("{name} ({identity})") }
}

/// Thousandths of a percent with as many places as they need, at least one: "0.8", "0.125".
pub(crate) fn percent_words(milli: u32) -> String {
    let all = format!("{}.{:03}", milli / 1_000, milli % 1_000);
    let short = all.trim_end_matches('0');
    if short.ends_with('.') { format!("{short}0") } else { short.to_owned() }
}

/// Where a verdict is stored.
pub(in crate::view) fn stored_words(sequence: u64, language: Language) -> String {
    match language {
        Language::En => format!("Recorded as entry {sequence} of this device's ledger."),
        Language::De => format!("Aufgezeichnet als Eintrag {sequence} im Buch dieses Geräts."),
    }
}
