//! Words of sweeps: marks, places, events, findings.

use super::tongue;
use crate::sweep::plan::{Movement, SweepPlan};
use crate::sweep::written::{Finding, FoundEvent};
use crate::sweep::{EventKind, SweepCode, SweepVerdict};
use crate::unit::{Figure, Quantity, Unit};
use crate::verdict::words::Language;
use crate::view::ladder::rounded;
use crate::view::model::TraceRow;

/// A mark in words: "centre", "+1 turn"; "one end", "other end".
pub(in crate::view) fn mark_words(milli: i32, movement: Movement, language: Language) -> String {
    match movement {
        Movement::Turns { .. } if milli == 0 => tongue(language, "centre", "Mitte").to_owned(),
        Movement::Turns { .. } => {
            let turns = milli / 1_000;
            let sign = if turns > 0 { "+" } else { "−" };
            let many = turns.unsigned_abs();
            let (en, de) = if many == 1 { ("turn", "Umdrehung") } else { ("turns", "Umdrehungen") };
            format!("{sign}{many} {}", tongue(language, en, de))
        }
        Movement::Flexes { .. } if milli == 0 => tongue(language, "one end", "ein Ende").to_owned(),
        Movement::Flexes { .. } => tongue(language, "other end", "anderes Ende").to_owned(),
    }
}

/// A place with how far off it may be: "+1.3 ± 0.3 turns", "40 ± 30 % of the way".
pub(in crate::view) fn place_words((milli, off): (i32, i32), movement: Movement, language: Language) -> String {
    match movement {
        Movement::Turns { .. } => {
            let tenths = (milli + 50 * milli.signum()) / 100;
            let sign = match tenths.signum() {
                1 => "+",
                -1 => "−",
                _ => "",
            };
            let off = (off + 99) / 100;
            let (whole, rest) = (tenths.abs() / 10, tenths.abs() % 10);
            let turns = tongue(language, "turns", "Umdrehungen");
            format!("{sign}{whole}.{rest} ± {}.{} {turns}", off / 10, off % 10)
        }
        Movement::Flexes { .. } => {
            let (at, off) = ((milli + 5) / 10, (off + 9) / 10);
            format!("{at} ± {off} {}", tongue(language, "% of the way", "% des Weges"))
        }
    }
}

/// What a sweep showed, of one conductor, in a sentence without its name.
pub(in crate::view) fn sweep_words(verdict: SweepVerdict, language: Language) -> &'static str {
    let (en, de) = match verdict {
        SweepVerdict::Steady => ("steady while moved", "beim Bewegen ruhig"),
        SweepVerdict::Jump => ("jumps while moved", "springt beim Bewegen"),
        SweepVerdict::Dropout => ("drops out while moved", "setzt beim Bewegen aus"),
        SweepVerdict::GapInStream => {
            ("proves nothing: readings were lost on the way", "beweist nichts: unterwegs gingen Messwerte verloren")
        }
        SweepVerdict::TooShort => ("proves nothing: too short", "beweist nichts: zu kurz"),
        SweepVerdict::TooFewSamples => ("proves nothing: too few readings", "beweist nichts: zu wenige Messwerte"),
        SweepVerdict::Noisy => (
            "proves nothing: it wanders too much for a small jump to show",
            "beweist nichts: es schwankt zu sehr, um einen kleinen Sprung zu zeigen",
        ),
    };
    tongue(language, en, de)
}

/// "Conductor 3 breaks while turning", without its point.
pub(in crate::view) fn fault_words(
    name: &str,
    verdict: SweepVerdict,
    movement: Movement,
    language: Language,
) -> String {
    let (en, de) = if verdict == SweepVerdict::Dropout { ("breaks", "setzt") } else { ("jumps", "springt") };
    let away = if verdict == SweepVerdict::Dropout { " aus" } else { "" };
    match (movement, language) {
        (Movement::Turns { .. }, Language::En) => format!("Conductor {name} {en} while turning"),
        (Movement::Flexes { .. }, Language::En) => format!("Conductor {name} {en} while moving"),
        (Movement::Turns { .. }, Language::De) => format!("Leiter {name} {de} beim Drehen{away}"),
        (Movement::Flexes { .. }, Language::De) => format!("Leiter {name} {de} beim Bewegen{away}"),
    }
}

/// What the signs of a place mean. Common practice, no source; core counts clockwise as positive.
pub(in crate::view) fn way_words(movement: Movement, language: Language) -> &'static str {
    match movement {
        Movement::Turns { .. } => tongue(
            language,
            "+ is clockwise from the centre, seen from the driver.",
            "+ ist rechtsherum aus der Mitte, vom Fahrer aus gesehen.",
        ),
        Movement::Flexes { .. } => "",
    }
}

/// A plan in words: where it begins and goes, what the sign means, and where to stop.
pub(in crate::view) fn plan_words(plan: &SweepPlan, language: Language) -> Vec<String> {
    let way = match (plan.movement, language) {
        (Movement::Turns { each_side: 1 }, Language::En) => {
            "From the centre 1 turn clockwise, back, 1 turn anticlockwise, and back to the centre.".into()
        }
        (Movement::Turns { each_side: n }, Language::En) => {
            format!("From the centre {n} turns clockwise, back, {n} turns anticlockwise, and back to the centre.")
        }
        (Movement::Turns { each_side: 1 }, Language::De) => {
            "Aus der Mitte 1 Umdrehung rechtsherum, zurück, 1 linksherum und wieder in die Mitte.".into()
        }
        (Movement::Turns { each_side: n }, Language::De) => {
            format!("Aus der Mitte {n} Umdrehungen rechtsherum, zurück, {n} linksherum und wieder in die Mitte.")
        }
        (Movement::Flexes { passes: 1 }, Language::En) => "Once from one end to the other and back.".into(),
        (Movement::Flexes { passes: n }, Language::En) => format!("{n} times from one end to the other and back."),
        (Movement::Flexes { passes: 1 }, Language::De) => "Einmal von einem Ende zum anderen und zurück.".into(),
        (Movement::Flexes { passes: n }, Language::De) => format!("{n}-mal von einem Ende zum anderen und zurück."),
    };
    let turns = matches!(plan.movement, Movement::Turns { .. });
    let stop = tongue(
        language,
        "Stop a quarter turn short of its end; if it ends sooner, plan fewer turns. Common practice: the maker's word \
         comes first.",
        "Eine Viertelumdrehung vor dem Ende anhalten; endet es früher, weniger planen. Übliche Praxis: was der \
         Hersteller sagt, geht vor.",
    );
    let rest = turns.then(|| [way_words(plan.movement, language), stop].map(str::to_owned));
    std::iter::once(way).chain(rest.into_iter().flatten()).collect()
}

/// What else is to be said about a sweep.
pub(in crate::view) fn sweep_code_words(code: SweepCode, language: Language) -> &'static str {
    let (en, de) = match code {
        SweepCode::BadSamples => {
            ("Some samples were no readings and were left out.", "Einige Proben waren keine Messwerte und blieben weg.")
        }
        SweepCode::EndsTrimmed => (
            "Over-range while the clips went on or off was cut away.",
            "Überlauf beim An- oder Abklemmen wurde abgeschnitten.",
        ),
        SweepCode::OpenThroughout => {
            ("It was open from the first reading to the last.", "Vom ersten bis zum letzten Messwert unterbrochen.")
        }
        SweepCode::Drift => (
            "The level drifted faster than warming leads explain: let it warm, then sweep again.",
            "Das Niveau wanderte schneller, als warme Leitungen erklären: warm werden lassen, dann wiederholen.",
        ),
        SweepCode::SameAngle => ("The same place was seen twice.", "Dieselbe Stelle wurde zweimal gesehen."),
        SweepCode::DisplayNeverMoved => {
            ("The display never changed a digit: does it live?", "Die Anzeige änderte nie eine Ziffer: lebt sie?")
        }
        SweepCode::SpikeSeen => (
            "A single small excursion was seen, too little to condemn.",
            "Ein einzelner kleiner Ausschlag war da, zu wenig zum Verwerfen.",
        ),
    };
    tongue(language, en, de)
}

/// An event in words: what it is, how high, and whether its place was seen before.
pub(in crate::view) fn event_words(
    event: &FoundEvent,
    again: bool,
    language: Language,
) -> (&'static str, String, &'static str) {
    let (en, de) = match event.kind {
        EventKind::Dropout => ("Drop-out", "Aussetzer"),
        EventKind::Jump => ("Jump", "Sprung"),
        EventKind::Spike => ("Single reading", "Einzelner Messwert"),
    };
    let height = match &event.peak {
        None => tongue(language, "open", "unterbrochen").to_owned(),
        Some(peak) => {
            let height = rounded(peak, 2);
            let sign = if height.digits() < 0 { "−" } else { "+" };
            format!("{sign}{} Ω", height.to_string().trim_start_matches('-'))
        }
    };
    let again = if again { tongue(language, ", seen again", ", wieder gesehen") } else { "" };
    (tongue(language, en, de), height, again)
}

/// The smallest jump a trace can show, never told smaller than it is.
pub(in crate::view) fn smallest_words(threshold: &Figure, language: Language) -> String {
    let hundredths = threshold.millionths().max(0).saturating_add(9_999) / 10_000;
    let smallest = Quantity::new(hundredths, 2, Unit::Ohm).expect("two places");
    match language {
        Language::En => format!(
            "What this trace can show: a jump over {smallest} Ω that lasts longer than about two display readings."
        ),
        Language::De => format!(
            "Was diese Aufzeichnung zeigen kann: einen Sprung über {smallest} Ω, länger als etwa zwei Anzeigewerte."
        ),
    }
}

/// What a trace shows, in a sentence; without `finding` there is nothing to say yet. `rows` are its events.
pub(in crate::view) fn trace_words(
    name: &str,
    finding: Option<(&Finding, bool)>,
    rows: &[TraceRow],
    language: Language,
) -> String {
    let Some((finding, ended)) = finding else {
        return tongue(language, "Nothing was read yet.", "Noch ist nichts gemessen.").to_owned();
    };
    let worst = worst(finding, rows);
    let events = worst.map(|row| worst_words(row, finding, language));
    if !ended {
        let so_far = tongue(language, "So far", "Bisher");
        let nothing = tongue(language, "nothing stands out", "fällt nichts auf");
        return format!("{so_far}: {}.", events.as_deref().unwrap_or(nothing));
    }
    let conductor = tongue(language, "Conductor", "Leiter");
    let found = sweep_words(finding.verdict, language);
    let events = events.map_or(String::new(), |e| format!(" {}.", capital(&e)));
    let remedy = remedy_words(finding.verdict, language);
    format!("{conductor} {name}: {found}.{events}{remedy}")
}

/// The row of the worst event: the longest drop-out, else the largest jump, else the largest single reading.
fn worst<'a>(finding: &Finding, rows: &'a [TraceRow]) -> Option<&'a TraceRow> {
    let weight = |event: &FoundEvent| match event.kind {
        EventKind::Dropout => (2, event.duration.millionths()),
        EventKind::Jump => (1, event.peak.as_ref().map_or(0, Figure::millionths).abs()),
        EventKind::Spike => (0, event.peak.as_ref().map_or(0, Figure::millionths).abs()),
    };
    // The first one of several that are as bad.
    let all = finding.events.iter().zip(rows).rev();
    all.max_by_key(|(event, _)| weight(event)).map(|(_, row)| row)
}

/// The worst event with its figures, and how many more there are: not all of them need be in the rows.
fn worst_words(row: &TraceRow, finding: &Finding, language: Language) -> String {
    let dropout = finding.events.iter().any(|e| e.kind == EventKind::Dropout);
    let jump = finding.events.iter().any(|e| e.kind == EventKind::Jump);
    // Events that were not kept could be worse.
    let all_kept = usize::try_from(finding.events_in_all).is_ok_and(|all| all == finding.events.len());
    let what = match (all_kept && finding.events_in_all > 1, dropout, jump) {
        (true, true, _) => tongue(language, "longest drop-out", "längster Aussetzer").to_owned(),
        (true, false, true) => tongue(language, "largest jump", "größter Sprung").to_owned(),
        _ if language == Language::En => row.what.to_lowercase(),
        _ => row.what.clone(),
    };
    let at = if row.place.is_empty() { String::new() } else { format!(" {} {},", at_words(language), row.place) };
    let (height, start, length) = (&row.height, &row.start, &row.length);
    let told = match language {
        Language::En => format!("{what}, {height},{at} {start} in, for {length}"),
        Language::De => format!("{what}, {height},{at} nach {start}, {length} lang"),
    };
    let more = match (finding.events_in_all.saturating_sub(1), language) {
        (0, _) => String::new(),
        (1, Language::En) => "; one more event".into(),
        (n, Language::En) => format!("; {n} more events"),
        (1, Language::De) => "; noch ein Ereignis".into(),
        (n, Language::De) => format!("; noch {n} Ereignisse"),
    };
    format!("{told}{more}")
}

fn at_words(language: Language) -> &'static str {
    tongue(language, "at", "bei")
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// What to do about a trace that proves nothing.
fn remedy_words(verdict: SweepVerdict, language: Language) -> &'static str {
    let (en, de) = match verdict {
        SweepVerdict::Steady | SweepVerdict::Jump | SweepVerdict::Dropout => return "",
        SweepVerdict::GapInStream => {
            (" Bring the meter nearer, then sweep again.", " Das Messgerät näher holen, dann wiederholen.")
        }
        SweepVerdict::TooShort => (" Move for ten seconds at least.", " Mindestens zehn Sekunden bewegen."),
        SweepVerdict::TooFewSamples => (
            " It takes a meter with two readings a second, and thirty readings.",
            " Es braucht ein Messgerät mit zwei Werten in der Sekunde, und dreißig Werte.",
        ),
        SweepVerdict::Noisy => (
            " Clean the terminals and clip anew, then sweep again.",
            " Anschlüsse reinigen, neu klemmen, dann wiederholen.",
        ),
    };
    tongue(language, en, de)
}
