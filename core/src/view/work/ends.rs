//! How a job can end with a signature, and what stands in the way of each end.

use super::title_of;
use crate::job::Job;
use crate::procedure::{Fact, Sign};
use crate::record::Outcome;
use crate::unit::Now;
use crate::verdict::words::Language;
use crate::view::model::{NeedView, OutcomeView, StepFields};
use crate::view::verdict;
use crate::view::words::{fact_words, outcome_words, tongue};
use crate::work::{Open, Work};

pub(super) fn sign((job, work): (&Job, &Work), sign: &Sign, now: &Now, language: Language) -> StepFields {
    // As it is judged when it is signed, readings that came since the comparison among them.
    let judged = job.verdict.as_ref().map(|given| match given.outdated {
        true => job.judged().map(|judgement| verdict::headline_of(job, &judgement, language)).unwrap_or_default(),
        false => verdict::headline_of(job, &given.judgement, language),
    });
    let all = [Outcome::Repaired, Outcome::NotRepaired, Outcome::Refused];
    let outcome = |outcome| OutcomeView {
        outcome,
        words: outcome_words(outcome, language).to_owned(),
        open: work.open_at_the_end(outcome, now).iter().map(|open| open_view(work, open, language)).collect(),
    };
    StepFields::Sign {
        role: sign.role.get(language).to_owned(),
        verdict: judged.unwrap_or_default(),
        outcomes: if sign.closes { all.into_iter().map(outcome).collect() } else { Vec::new() },
    }
}

/// What is open at the end, and the step that settles it.
fn open_view(work: &Work, open: &Open, language: Language) -> NeedView {
    let title = title_of(work, language);
    let en = matches!(language, Language::En);
    let last = work.procedure.steps.last().map_or("", |step| step.id.as_str());
    let maker = |fact: &Fact| work.maker(fact, last).map(|step| step.id.clone());
    let (words, step) = match open {
        Open::Step(step) => (
            tongue(language, "Neither done nor left out.", "Weder erledigt noch ausgelassen.").to_owned(),
            Some(step.clone()),
        ),
        Open::Value(step) => {
            (tongue(language, "Outside what is asked for.", "Außerhalb des Verlangten.").to_owned(), Some(step.clone()))
        }
        Open::Loads(count) if en => (format!("Substitute loads still out: {count}."), maker(&Fact::LoadsHome)),
        Open::Loads(count) => (format!("Ersatzlasten noch draußen: {count}."), maker(&Fact::LoadsHome)),
        Open::Locks(count) if en => (format!("Lock pins still out: {count}."), maker(&Fact::LocksHome)),
        Open::Locks(count) => (format!("Sperrstifte noch draußen: {count}."), maker(&Fact::LocksHome)),
        Open::BarHeldOpen(bar) => {
            (fact_words(&Fact::BarOpen(bar.clone()), language), maker(&Fact::BarRestored(bar.clone())))
        }
        Open::InflatorAway(bag) => {
            let back =
                work.procedure.steps.iter().rfind(|step| step.cancels.contains(&Fact::InflatorAway(bag.clone())));
            let words = if en {
                format!("Airbag “{bag}” is not back in its place.")
            } else {
                format!("Airbag „{bag}“ ist nicht wieder an seinem Platz.")
            };
            (words, back.map(|step| step.id.clone()))
        }
        Open::Lamp => (
            tongue(language, "The lamp did not come on and go off.", "Die Lampe ging nicht an und wieder aus.")
                .to_owned(),
            maker(&Fact::CableOff),
        ),
        Open::Codes(codes) => {
            let list = codes.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
            let words = if en { format!("Codes are stored: {list}.") } else { format!("Gespeicherte Codes: {list}.") };
            (words, maker(&Fact::CableOff))
        }
        Open::NoAfterScan => (
            tongue(language, "The codes were not read at the end.", "Die Codes wurden am Ende nicht gelesen.")
                .to_owned(),
            maker(&Fact::AfterScanSaved),
        ),
    };
    NeedView { words, title: step.as_deref().map_or(String::new(), &title), step }
}
