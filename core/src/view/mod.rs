//! What a screen sees: everything decided, worded and placed. The page draws it and decides nothing.
//!
//! Measured values are text in the meter's own digits. Places on an axis are thousandths of its length.

mod aside;
mod asks;
mod bench;
mod contact;
mod erasing;
pub(crate) mod faces;
mod handed;
mod hub;
pub(crate) mod ladder;
pub(crate) mod measure;
mod meter;
mod model;
pub(crate) mod people;
pub(crate) mod proving;
#[cfg(test)]
pub(crate) mod tests;
pub(crate) mod trace;
mod verdict;
mod vin;
pub(crate) mod words;
pub(crate) mod work;

pub use asks::{Ask, Pushed, Reply, WordedProblem};
pub use erasing::{erase_older_words, jobs_found, older_than};
pub use handed::{offer_notice, offer_of, waiting};
pub use hub::{hub_notice, hub_of, shop_mark};
pub use model::*;
pub use vin::look_at_vin;
pub use words::refusal_notice;
pub use work::{procedures, step_card};

use crate::job::{Job, Line, OpenItem, Stage};
use crate::part::Part;
use crate::record::Sample;
use crate::session::Session;
use crate::sync::AtShop;
use crate::unit::Now;
use crate::verdict::SetVerdict;
use crate::verdict::words::Language;
use uuid::Uuid;
use words::{stage_title, tongue};

/// The picture of `session` at `now`.
pub fn of(session: &Session, now: &Now) -> View {
    View {
        language: session.language(),
        meter: meter::of(session, now),
        bench: session.job().map(|job| bench::of(session, job, now)),
        templates: session
            .templates()
            .iter()
            .map(|(name, part)| TemplateView { name: name.clone(), part: part.clone(), built_in: false })
            .collect(),
        people: people::lines(session, now, |_| true),
        hub: hub_of(&AtShop::default(), session.language()),
        key: String::new(),
        fault: None,
    }
}

/// The newest verdict of a job, worded and placed.
pub fn verdict_of(job: &Job, language: Language) -> Option<VerdictView> {
    verdict::of(job, language)
}

/// What is wrong with a part that is being described, in words, and how its faces look.
pub fn check_part(part: &Part, language: Language) -> Reply {
    let problems = part.problems().into_iter().map(|problem| {
        let words = words::problem_words(&problem, language);
        WordedProblem { problem, words }
    });
    Reply::Checked { faces: faces::of(part, &[]), problems: problems.collect() }
}

/// How a text would be taken as a typed reading.
pub fn read_back(session: &Session, text: &str, confirmed: bool) -> Reply {
    aside::read_back(session, text, confirmed)
}

/// The trace of a stored sweep of the job on the bench from its samples; `None` if the job has no such sweep.
pub fn stored_trace(session: &Session, sweep: Uuid, samples: &[Sample]) -> Option<TraceView> {
    trace::stored(session, sweep, samples)
}

/// Where the secret of the device's key lies, in words.
pub fn key_place(in_store: bool, language: Language) -> String {
    let words = match (in_store, language) {
        (true, Language::En) => "The key by which this device signs lies in the system’s key store.",
        (true, Language::De) => {
            "Der Schlüssel, mit dem dieses Gerät unterschreibt, liegt im Schlüsselbund des Systems."
        }
        (false, Language::En) => {
            "The key by which this device signs lies in a file beside the record that only you can read."
        }
        (false, Language::De) => {
            "Der Schlüssel, mit dem dieses Gerät unterschreibt, liegt in einer Datei neben den Aufzeichnungen, die nur du \
             lesen kannst."
        }
    };
    words.to_owned()
}

/// A stored line of the job list, worded.
pub fn job_line(line: &Line, language: Language) -> JobLine {
    JobLine {
        job: line.job.to_string(),
        order: line.order.clone(),
        vehicle: line.vehicle.clone(),
        customer: line.customer.clone(),
        opened: line.opened.clone(),
        stage: line.stage,
        verdict: line.verdict,
        words: line_words(line, language),
        at_shop: None,
        can_compare: line.verdict.is_some(),
        candidate: crate::job::candidate_order(&line.order, language),
    }
}

fn line_words(line: &Line, language: Language) -> String {
    let closed = if line.stage == Stage::Done { tongue(language, "Closed.", "Abgeschlossen.") } else { "" };
    let waits = if line.open.contains(&OpenItem::Signature) { work::second::waits_words(language) } else { "" };
    let away = if line.stage == Stage::HandedOver { tongue(language, "Handed over.", "Übergeben.") } else { "" };
    let erased = if line.erased { tongue(language, "Details erased.", "Angaben gelöscht.") } else { "" };
    let words = match (line.verdict, line.stage) {
        (Some(SetVerdict::Fail), _) if !line.condemned_by.is_empty() => match language {
            Language::En => format!("Conductor {} condemns the part.", line.condemned_by),
            Language::De => format!("Das Teil ist verworfen: Leiter {}.", line.condemned_by),
        },
        (Some(SetVerdict::Fail), _) => tongue(language, "The part is condemned.", "Das Teil ist verworfen.").to_owned(),
        // Whether it was proved turning as well stands in the job.
        (Some(SetVerdict::Pass), _) => tongue(language, "Alike at rest.", "Gleich in Ruhe.").to_owned(),
        (Some(SetVerdict::Undecided), _) => tongue(language, "Not decided yet.", "Noch nicht entschieden.").to_owned(),
        (None, Stage::Measure) => match language {
            Language::En => format!("Measuring: {} of {} touches.", line.taken, line.wanted),
            Language::De => format!("Messung: {} von {} Berührungen.", line.taken, line.wanted),
        },
        (None, Stage::Done | Stage::HandedOver) => String::new(),
        (None, stage) => match language {
            Language::En => format!("Next: {}.", stage_title(stage, language)),
            Language::De => format!("Als Nächstes: {}.", stage_title(stage, language)),
        },
    };
    let said: Vec<&str> = [closed, away, &words, waits, erased].into_iter().filter(|said| !said.is_empty()).collect();
    said.join(" ")
}
