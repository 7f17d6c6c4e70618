//! The verdict on the screen: as it was recorded, in words.

use super::ladder;
use super::model::VerdictView;
use super::proving::sweep_fault;
use super::words::{end_words, figures_words, measured_with_words, since_words, stored_words, tongue};
use crate::job::{GivenVerdict, Job};
use crate::verdict::words::{Language, action_sentence, code_sentence, conductor_sentence, headline};
use crate::verdict::written::Judgement;
use crate::verdict::{Code, ConductorState};
use std::collections::BTreeSet;

/// Codes that only repeat what the sentences on the conductors say.
const SAID_ELSEWHERE: [Code; 4] = [Code::High, Code::Low, Code::Open, Code::NotMeasured];

/// The newest verdict of a job.
pub(super) fn of(job: &Job, language: Language) -> Option<VerdictView> {
    let given = job.verdict.as_ref()?;
    let judgement = &given.judgement;
    let verdict = judgement.read();
    let names: Vec<String> = judgement.conductors.iter().map(|c| display_name(job, c.conductor, language)).collect();
    let headline = headline_of(job, judgement, language);
    let (since, before) = since(job, given, &headline, language);
    let now = if given.outdated { job.judged() } else { None };
    Some(VerdictView {
        kind: judgement.set,
        // What no longer holds is not explained, and calls for nothing any more.
        sentences: if given.outdated { Vec::new() } else { sentences(job, given, (&names, &headline), language) },
        headline,
        since,
        before,
        action_code: judgement.action,
        action: if given.outdated {
            tongue(language, "Judge again.", "Neu urteilen.").to_owned()
        } else {
            let name = judgement.action_conductor.map(|c| display_name(job, c, language));
            action_sentence(&verdict.action, name.as_deref(), language)
        },
        action_conductor: judgement.action_conductor,
        // The picture shows what stands now: an old one could still look like a pass.
        ladders: ladder::of(job, now.as_ref().unwrap_or(judgement), language),
        measured_with: measured_with_words(given, language),
        stored: stored_words(given.sequence, language),
        outdated: given.outdated,
    })
}

/// What a verdict comes to, in one sentence or two.
pub(super) fn headline_of(job: &Job, judgement: &Judgement, language: Language) -> String {
    let name_of = |index: usize| {
        judgement.conductors.get(index).map_or(String::new(), |c| display_name(job, c.conductor, language))
    };
    headline(&judgement.read(), &name_of, language)
}

/// What a verdict says of those conductors of a group that are not alike.
pub(super) fn of_group(job: &Job, judgement: &Judgement, wires: &BTreeSet<usize>, language: Language) -> Vec<String> {
    let verdict = judgement.read();
    let all = judgement.conductors.iter().zip(&verdict.conductors);
    let far = all.filter(|(judged, _)| {
        wires.contains(&(judged.conductor as usize)) && judged.state != ConductorState::Consistent
    });
    far.map(|(judged, told)| conductor_sentence(told, &display_name(job, judged.conductor, language), language))
        .collect()
}

/// Why a verdict does not hold any more, and what it said; a fault that was found since is said instead of both.
fn since(job: &Job, given: &GivenVerdict, headline: &str, language: Language) -> (String, String) {
    if !given.outdated {
        return (String::new(), String::new());
    }
    let known = |c: u32| {
        let judged = given.judgement.conductors.iter().find(|judged| judged.conductor == c);
        judged.is_some_and(|judged| judged.codes.contains(&Code::SweepFault))
    };
    let new = job.measured_conductors().into_iter().filter(|c| !known(*c));
    let faults: Vec<String> = new.filter_map(|c| sweep_fault(job, c, language)).collect();
    if !faults.is_empty() {
        let again = tongue(language, "judge again", "neu urteilen");
        return (format!("{}; {again}.", faults.join("; ")), String::new());
    }
    let said = match language {
        Language::En => format!("Judged before: {headline}"),
        Language::De => format!("Urteil davor: {headline}"),
    };
    (since_words(&given.since, language).to_owned(), said)
}

/// "Conductor 4", as it stands in a sentence.
fn display_name(job: &Job, index: u32, language: Language) -> String {
    let name = job.part.as_ref().and_then(|p| p.conductors.get(index as usize)).map_or("?", |c| c.name.as_str());
    match language {
        Language::En => format!("Conductor {name}"),
        Language::De => format!("Leiter {name}"),
    }
}

/// What stands out first, then what is not excluded, then which conductors were left out.
fn sentences(job: &Job, given: &GivenVerdict, (names, headline): (&[String], &str), language: Language) -> Vec<String> {
    let verdict = given.judgement.read();
    let mut sentences = Vec::new();
    for ((conductor, name), judged) in verdict.conductors.iter().zip(names).zip(&given.judgement.conductors) {
        let plain = conductor.state == ConductorState::Consistent && conductor.watch_percent.is_none();
        if plain {
            continue;
        }
        let sentence = conductor_sentence(conductor, name, language);
        // The headline has said it of one conductor already; what it has not said are the figures.
        if !headline.starts_with(&sentence) {
            sentences.push(sentence);
        }
        sentences.extend(figures_words(name, &ladder::rung_words(job, judged, language), language));
        let why = conductor.codes.iter().filter(|code| !SAID_ELSEWHERE.contains(code));
        sentences.extend(why.map(|code| format!("{name}: {}", code_sentence(*code, language))));
    }
    let of_conductors: BTreeSet<Code> = verdict.conductors.iter().flat_map(|c| c.codes.iter().copied()).collect();
    let of_the_part = |code: &&Code| !SAID_ELSEWHERE.contains(code) && !of_conductors.contains(code);
    let codes = given.judgement.reasons.iter().filter(of_the_part);
    sentences.extend(codes.map(|code| code_sentence(*code, language).to_owned()));
    let part = job.part.as_ref();
    for index in 0..part.map_or(0, |p| p.conductors.len()) {
        let Some(why) = part.and_then(|p| p.clip_points(index).err()) else { continue };
        let index = u32::try_from(index).unwrap_or(u32::MAX);
        sentences.push(format!("{}: {}", display_name(job, index, language), end_words(why, language)));
    }
    let mut seen = BTreeSet::new();
    sentences.retain(|sentence| seen.insert(sentence.clone()));
    sentences
}
