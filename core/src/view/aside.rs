//! What is done beside the conductors, as a screen.

use super::asks::Reply;
use super::bench::caution_views;
use super::faces::end_name;
use super::measure::name;
use super::model::{AsideKind, AsideView, Notice, SweepRunView};
use super::words::{mark_words, pair_words, plan_words, refusal_notice, tongue};
use super::{contact, trace};
use crate::job::{Job, Refusal};
use crate::part::Part;
use crate::session::{Aside, Run, Session};
use crate::sweep::plan::Movement;
use crate::unit::{Millis, Now};
use crate::verdict::words::Language;

/// The aside, if one is going on.
pub(super) fn of(session: &Session, job: &Job, now: &Now) -> Option<AsideView> {
    let language = session.language();
    let aside = session.aside()?;
    let part = job.part.as_ref()?;
    let (kind, title, instruction, hint) = told(aside, part, language);
    Some(AsideView {
        kind,
        title,
        instruction,
        hint,
        back: match &job.work {
            Some(_) => tongue(language, "Back to the step", "Zurück zum Schritt"),
            None => tongue(language, "Back to the conductors", "Zurück zu den Leitern"),
        }
        .to_owned(),
        cautions: caution_views(&session.aside_cautions(), language),
        contact: contact::of(session, now),
        typed: job.is_typed(),
        sweep: session.run().and_then(|run| sweep(run, job, now.boot, language)),
    })
}

/// What it is, its title, what to do, and what to know about it.
fn told(aside: &Aside, part: &Part, language: Language) -> (AsideKind, String, String, String) {
    match aside {
        Aside::Zero => (
            AsideKind::Zero,
            tongue(language, "Zero the leads", "Messleitungen nullen").to_owned(),
            tongue(
                language,
                "Put the clips on each other, as you will use them, and hold still.",
                "Die Klemmen so, wie du sie benutzt, aneinander klemmen und ruhig halten.",
            )
            .to_owned(),
            tongue(
                language,
                "What the leads read is taken off every reading. Do it once more at the end.",
                "Was die Leitungen messen, wird von jedem Messwert abgezogen. Am Ende noch einmal machen.",
            )
            .to_owned(),
        ),
        Aside::Resistor { resistor, .. } => (
            AsideKind::Resistor,
            tongue(language, "Check the meter", "Messgerät prüfen").to_owned(),
            match language {
                Language::En => format!("Clip on the {resistor} Ω resistor and hold still."),
                Language::De => format!("Den Widerstand mit {resistor} Ω klemmen und ruhig halten."),
            },
            String::new(),
        ),
        Aside::Isolation { a, other } => {
            let pair = pair_words(part, *a, *other, language);
            (
                AsideKind::Isolation,
                format!("Isolation {pair}"),
                isolation_instruction(part, *a, *other, language),
                tongue(
                    language,
                    "Over-range is the good answer here: press its key while the clips are on.",
                    "Überlauf ist hier die gute Antwort: Taste drücken, solange die Klemmen dran sind.",
                )
                .to_owned(),
            )
        }
        Aside::Sweep(run) => {
            let name = name(part, run.conductor);
            (
                AsideKind::Sweep,
                match language {
                    Language::En => format!("Sweep conductor {name}"),
                    Language::De => format!("Leiter {name} beim Bewegen"),
                },
                sweep_instruction(run, &name, language),
                String::new(),
            )
        }
    }
}

/// Where the clips go by their cavities: who types on a phone has no room for the plugs' faces.
fn isolation_instruction(part: &Part, a: u32, other: Option<u32>, language: Language) -> String {
    let end = |c: u32| part.conductors.get(c as usize).map_or(String::new(), |c| end_name(part, &c.from));
    let second = other.map_or(tongue(language, "metal", "Metall").to_owned(), end);
    match language {
        Language::En => format!("Clip {} and {second}, in the highest ordinary ohms range.", end(a)),
        Language::De => format!("{} und {second} klemmen, im höchsten gewöhnlichen Ohmbereich.", end(a)),
    }
}

fn sweep_instruction(run: &Run, name: &str, language: Language) -> String {
    let turns = matches!(run.plan.movement, Movement::Turns { .. });
    if run.is_planning() {
        return match language {
            Language::En => format!("How is the part moved while conductor {name} is read?"),
            Language::De => format!("Wie wird das Teil bewegt, während Leiter {name} gemessen wird?"),
        };
    }
    match (run.readings().is_empty(), turns, language) {
        (true, true, Language::En) => format!("Part at its centre. Clip conductor {name} and leave the clips on."),
        (true, true, Language::De) => format!("Teil in die Mitte. Leiter {name} klemmen, Klemmen dran lassen."),
        (true, false, Language::En) => format!("Part at one end. Clip conductor {name} and leave the clips on."),
        (true, false, Language::De) => format!("Teil an ein Ende. Leiter {name} klemmen, Klemmen dran lassen."),
        (false, true, _) => match direction(run) {
            "clockwise" => {
                tongue(language, "Turn clockwise, slowly and evenly.", "Rechtsherum, langsam und gleichmäßig.").into()
            }
            "anticlockwise" => {
                tongue(language, "Turn anticlockwise, slowly and evenly.", "Linksherum, langsam und gleichmäßig.")
                    .into()
            }
            _ => tongue(language, "Hold the part still.", "Das Teil ruhig halten.").into(),
        },
        (false, false, _) if run.next_place().is_none() => {
            tongue(language, "Hold the part still.", "Das Teil ruhig halten.").into()
        }
        (false, false, Language::En) => "Move slowly and evenly.".into(),
        (false, false, Language::De) => "Langsam und gleichmäßig bewegen.".into(),
    }
}

/// Which way to turn to the next mark; empty where nothing is turned.
fn direction(run: &Run) -> &'static str {
    let turns = matches!(run.plan.movement, Movement::Turns { .. });
    match (run.marks().last(), run.next_place()) {
        (Some(last), Some(next)) if turns && next > last.milli => "clockwise",
        (Some(last), Some(next)) if turns && next < last.milli => "anticlockwise",
        _ => "",
    }
}

fn sweep(run: &Run, job: &Job, now: Millis, language: Language) -> Option<SweepRunView> {
    let next = run.next_place().map(|place| mark_words(place, run.plan.movement, language));
    let started = !run.readings().is_empty();
    let paced = run.plan.pace_s > 0;
    let state = match (run.is_planning(), started, &next) {
        (true, _, _) => "plan",
        (_, false, _) => "waits",
        (_, true, Some(_)) => "runs",
        (_, true, None) => "moved",
    };
    let to_tone = run.next_tone().filter(|_| next.is_some()).map_or(0, |tone| {
        let pace = u64::from(run.plan.pace_s) * 1_000;
        let over = pace.saturating_sub(tone.since(now).0) * 1_000 / pace.max(1);
        u32::try_from(over).unwrap_or(1_000)
    });
    let mark_key = match (&next, language) {
        (Some(next), Language::En) if started && !paced => format!("At {next} now"),
        (Some(next), Language::De) if started && !paced => format!("Jetzt bei {next}"),
        _ => String::new(),
    };
    let end_key = match (started, &next) {
        (false, _) => "",
        (true, Some(_)) => tongue(language, "End the sweep early", "Vorzeitig beenden"),
        (true, None) => tongue(language, "End the sweep", "Beenden"),
    };
    let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let only = |when: &str, words: &str| if state == when { words.to_owned() } else { String::new() };
    Some(SweepRunView {
        conductor: run.conductor,
        plan: run.plan,
        plan_words: plan_words(&run.plan, language),
        plan_key: only("plan", tongue(language, "Sweep like this", "So bewegen")),
        change_key: only("waits", tongue(language, "Change the plan", "Plan ändern")),
        words: sweep_step(state, next.as_deref(), paced, language),
        direction: direction(run).to_owned(),
        ends_by_key: state == "moved" && !paced,
        state: state.to_owned(),
        next_mark: next.unwrap_or_default(),
        mark_key,
        to_tone,
        marks_passed: count(run.marks().len()),
        marks: count(run.mark_count()),
        end_key: end_key.to_owned(),
        trace: trace::live(run, job, language)?,
    })
}

/// What comes next in a sweep: its state, the next mark in words, and whether tones set the marks.
fn sweep_step(state: &str, next: Option<&str>, paced: bool, language: Language) -> String {
    let fixed = match (state, next, paced) {
        ("plan", _, _) => "",
        ("waits", _, _) => tongue(
            language,
            "The trace begins by itself with the first value.",
            "Die Aufzeichnung beginnt von selbst mit dem ersten Wert.",
        ),
        (_, Some(next), true) => {
            return match language {
                Language::En => format!("At the next tone: {next}."),
                Language::De => format!("Beim nächsten Ton: {next}."),
            };
        }
        (_, Some(next), false) => {
            return match language {
                Language::En => format!("Now to: {next}."),
                Language::De => format!("Jetzt nach: {next}."),
            };
        }
        (_, None, true) => tongue(language, "Hold still. It ends by itself.", "Ruhig halten. Es endet von selbst."),
        (_, None, false) => tongue(language, "Every mark is passed.", "Alle Marken sind durch."),
    };
    fixed.to_owned()
}

/// How a text would be taken as a typed reading: the words of the key, or why not.
pub(super) fn read_back(session: &Session, text: &str, confirmed: bool) -> Reply {
    let language = session.language();
    let said = |refusal: &Refusal| -> Notice { refusal_notice(refusal, language) };
    let key = |shown: crate::unit::Quantity| match language {
        Language::En => format!("Take {shown} Ω"),
        Language::De => format!("{shown} Ω übernehmen"),
    };
    match session.read_back(text, confirmed) {
        Ok(shown) => Reply::ReadBack { key: key(shown), why: None, ambiguous: false },
        Err(refusal @ Refusal::Number { ambiguous: true, .. }) => match session.read_back(text, true) {
            Ok(shown) => Reply::ReadBack { key: key(shown), why: Some(said(&refusal)), ambiguous: true },
            Err(other) => Reply::ReadBack { key: String::new(), why: Some(said(&other)), ambiguous: false },
        },
        Err(refusal) => Reply::ReadBack { key: String::new(), why: Some(said(&refusal)), ambiguous: false },
    }
}
