//! Words of what supports the readings: zero, meter check, bars, isolation, sweeps, limits, the old part.

use super::tongue;
use crate::job::Retired;
use crate::part::{Part, PartLimit};
use crate::record::BarState;
use crate::unit::{Day, Quantity};
use crate::verdict::words::Language;
use crate::verdict::{Isolation, ResistorResult};

/// "4 to 5", "4 to metal".
pub(crate) fn pair_words(part: &Part, a: u32, other: Option<u32>, language: Language) -> String {
    let name = |c: u32| part.conductors.get(c as usize).map_or("?", |c| c.name.as_str());
    match other {
        Some(b) => format!("{} {} {}", name(a), tongue(language, "to", "gegen"), name(b)),
        None => format!("{} {}", name(a), tongue(language, "to metal", "gegen Metall")),
    }
}

/// "at most 1.00 Ω at 20 °C (maker's sheet)", "(shop's own)".
pub(in crate::view) fn limit_words(limit: &PartLimit, language: Language) -> String {
    let side = |q: Option<Quantity>, en: &str, de: &str| q.map(|q| format!("{} {q} Ω", tongue(language, en, de)));
    let sides = side(limit.low, "at least", "mindestens").into_iter().chain(side(limit.high, "at most", "höchstens"));
    let sides: Vec<String> = sides.collect();
    let at = match (limit.temperature, language) {
        (None, _) => String::new(),
        (Some(t), Language::En) => format!(" at {t} °C"),
        (Some(t), Language::De) => format!(" bei {t} °C"),
    };
    let source = match limit.source.as_str() {
        "" => tongue(language, "shop's own", "eigener Wert des Betriebs"),
        source => source,
    };
    format!("{}{at} ({source})", sides.join(", "))
}

/// What an isolation reading means: (state of the proof, sentence).
pub(crate) fn isolation_words(means: Isolation, language: Language) -> (&'static str, &'static str) {
    let (state, en, de) = match means {
        Isolation::BeyondRange => {
            ("good", "Isolated as far as this meter reaches.", "Isoliert, soweit dieses Messgerät reicht.")
        }
        Isolation::Isolated => ("good", "Isolated.", "Isoliert."),
        Isolation::TooLow => ("bad", "Lower than the procedure asks for.", "Niedriger, als der Ablauf verlangt."),
        Isolation::Touches => ("bad", "They touch.", "Sie berühren sich."),
        Isolation::Bar => (
            "open",
            "This reads like a closed shorting bar. Open the bar, then measure again.",
            "Das misst wie eine geschlossene Kurzschlussbrücke. Brücke öffnen, dann neu messen.",
        ),
        Isolation::BarUnknown => (
            "open",
            "Low, but nobody said whether a bar bridges them. Say so, then measure again.",
            "Niedrig, aber niemand sagte, ob eine Brücke sie verbindet. Angeben, dann neu messen.",
        ),
        Isolation::RangeTooLow => (
            "open",
            "Above this range, which ends too early to mean isolated. Change the range.",
            "Über diesem Bereich, der zu früh endet, um isoliert zu heißen. Bereich wechseln.",
        ),
        Isolation::RangeLocked => (
            "open",
            "Above a range that was locked by hand: where it ends nobody can tell. Set it to automatic, measure again.",
            "Über einem von Hand festgelegten Bereich: Wo er endet, weiß niemand. Auf Automatik stellen, neu messen.",
        ),
    };
    (state, tongue(language, en, de))
}

/// A bar as stated: (state of the proof, sentence).
pub(in crate::view) fn bar_words(bar: &BarState, language: Language) -> (&'static str, String) {
    let opened = !bar.opened.is_empty();
    match bar.present {
        None => (
            "none",
            tongue(language, "Nobody said whether there is a bar.", "Niemand sagte, ob da eine Brücke ist.").to_owned(),
        ),
        Some(false) => ("good", tongue(language, "No bar.", "Keine Brücke.").to_owned()),
        Some(true) if bar.restored => {
            ("good", tongue(language, "Bar restored, springs back.", "Brücke wieder zu, federt zurück.").to_owned())
        }
        Some(true) if opened => (
            "open",
            match language {
                Language::En => format!("Held open: {}. To be restored.", bar.opened),
                Language::De => format!("Offen gehalten: {}. Noch wiederherzustellen.", bar.opened),
            },
        ),
        Some(true) => {
            ("open", tongue(language, "There is a bar, closed.", "Brücke vorhanden, geschlossen.").to_owned())
        }
    }
}

/// "0.03 Ω across this pair: a shorting bar?"
pub(in crate::view) fn bar_hint(value: &str, language: Language) -> String {
    match language {
        Language::En => format!("{value} across this pair with the plug apart: a shorting bar?"),
        Language::De => format!("{value} über dieses Paar bei abgezogenem Stecker: eine Kurzschlussbrücke?"),
    }
}

/// A known resistor read: (state of the proof, sentence). `figures`: resistor, read, what the leads had of it,
/// difference, allowed; the leads empty where the meter takes them off itself.
pub(in crate::view) fn resistor_words(
    result: ResistorResult,
    ([resistor, read, leads, difference, allowed], guessed): ([&str; 5], bool),
    language: Language,
) -> (&'static str, String) {
    let (state, en, de) = match result {
        ResistorResult::Within => ("good", "The meter keeps its sheet", "Das Messgerät hält, was sein Datenblatt sagt"),
        ResistorResult::Outside => ("bad", "The meter is off", "Das Messgerät liegt daneben"),
        ResistorResult::Undecided => ("open", "Too close to say", "Zu nah, um es zu sagen"),
    };
    let fact = tongue(language, en, de);
    let less = match (leads, guessed, language) {
        ("", _, _) => String::new(),
        (leads, false, Language::En) => format!(", less {leads} Ω of the leads"),
        (leads, false, Language::De) => format!(", davon {leads} Ω für die Leitungen ab"),
        (leads, true, Language::En) => format!(", less about {leads} Ω of leads that were not zeroed"),
        (leads, true, Language::De) => format!(", davon etwa {leads} Ω für nicht genullte Leitungen ab"),
    };
    let rest = match language {
        Language::En => format!("{resistor} Ω read as {read} Ω{less}: {difference} Ω off, {allowed} Ω allowed."),
        Language::De => {
            format!("{resistor} Ω als {read} Ω gemessen{less}: {difference} Ω daneben, {allowed} Ω erlaubt.")
        }
    };
    (state, format!("{fact}. {rest}"))
}

/// Calibration past its day.
pub(in crate::view) fn calibration_words(due: Day, language: Language) -> String {
    match language {
        Language::En => format!(
            "Calibration was due on {due}. Conductors still compare with each other; before holding them against a \
             limit, check the meter on a known resistor."
        ),
        Language::De => format!(
            "Die Kalibrierung war am {due} fällig. Leiter lassen sich weiter miteinander vergleichen; vor dem Vergleich \
             mit einem Grenzwert das Messgerät an einem bekannten Widerstand prüfen."
        ),
    }
}

/// Why earlier readings do not count any more, and what to do.
pub(in crate::view) fn retired_words(why: Retired, language: Language) -> String {
    match (why, language) {
        (Retired::ZeroMoved(from, to), Language::En) => {
            format!("The leads read {from} Ω, then {to} Ω: too far apart. What was read between is to be taken again.")
        }
        (Retired::ZeroMoved(from, to), Language::De) => {
            format!("Die Leitungen maßen {from} Ω, dann {to} Ω: zu weit auseinander. Alles dazwischen neu messen.")
        }
        (Retired::OtherZero, Language::En) => {
            "The meter's own zero was switched. What was read before does not count beside it: take it again.".into()
        }
        (Retired::OtherZero, Language::De) => {
            "Der Nullabgleich des Messgeräts wurde umgeschaltet. Was vorher gemessen wurde, zählt nicht daneben: neu messen."
                .into()
        }
        (Retired::OtherInstrument, Language::En) => {
            "Another meter is in use. What the first one read does not count beside it: take it again.".into()
        }
        (Retired::OtherInstrument, Language::De) => {
            "Ein anderes Messgerät ist in Gebrauch. Was das erste maß, zählt nicht daneben: neu messen.".into()
        }
    }
}
