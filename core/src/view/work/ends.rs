//! How a job can end with a signature, and what stands in the way of each end.

use super::title_of;
use crate::job::Job;
use crate::procedure::{Fact, Sign, Step};
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
    let worse = job.compared_otherwise();
    let outcome = |outcome| {
        let open = work.open_at_the_end(outcome, now);
        let repaired = worse.iter().filter(|_| outcome == Outcome::Repaired);
        let again = repaired.map(|compare| compare_first(work, compare, language));
        OutcomeView {
            outcome,
            words: outcome_words(outcome, language).to_owned(),
            open: open.iter().map(|open| open_view(work, open, language)).chain(again).collect(),
        }
    };
    StepFields::Sign {
        role: sign.role.get(language).to_owned(),
        verdict: judged.unwrap_or_default(),
        outcomes: if sign.closes { all.into_iter().map(outcome).collect() } else { Vec::new() },
    }
}

/// That a comparison comes out worse by what was read since, and is made again first.
pub(super) fn compare_first(work: &Work, step: &str, language: Language) -> NeedView {
    let words = tongue(
        language,
        "By what was read since, this comparison comes out worse: it is made again first.",
        "Nach dem, was seither gemessen wurde, fällt dieser Vergleich schlechter aus: Er kommt vorher noch einmal.",
    );
    NeedView { words: words.to_owned(), title: title_of(work, language)(step), step: Some(step.to_owned()) }
}

/// That what was read before a zero was set aside, and is read again before the zero is looked at again.
pub(super) fn read_again_first(first: &Step, language: Language) -> NeedView {
    let words = tongue(
        language,
        "What was read before was set aside: the zero moved too far, or another meter is in use. It is read again first.",
        "Was davor gemessen wurde, ist verworfen: Die Nullung ist zu weit gewandert, oder ein anderes Messgerät ist im Gebrauch. Es wird zuerst noch einmal gemessen.",
    );
    NeedView { words: words.to_owned(), title: first.title.get(language).to_owned(), step: Some(first.id.clone()) }
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
