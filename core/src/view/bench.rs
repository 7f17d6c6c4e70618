//! The job on the bench as a strip: done, now, to come.

use super::model::{BenchView, CautionView, StepLine};
use super::words::{now_verdict, proof_words, stage_title, verdict_proof};
use super::{faces, measure, verdict};
use crate::caution::Caution;
use crate::job::{Job, Stage, vehicle_words};
use crate::session::Session;
use crate::unit::Now;
use crate::verdict::words::Language;

const STRIP: [Stage; 7] =
    [Stage::Start, Stage::Part, Stage::Meter, Stage::Caution, Stage::Measure, Stage::Verdict, Stage::Done];

/// The strip of a job.
pub(super) fn of(session: &Session, job: &Job, now: &Now) -> BenchView {
    let language = session.language();
    let stage = job.stage();
    let caution = match stage {
        Stage::Start => Some(Caution::C0),
        Stage::Caution => Some(Caution::C1),
        _ => None,
    };
    BenchView {
        job: job.id.to_string(),
        order: job.order.clone(),
        vehicle: vehicle_words(&job.vehicle, &session.details().vin),
        opened: job.opened.clone(),
        stage,
        steps: steps(job, stage, language),
        caution: caution.map(|caution| CautionView { caution, text: caution.text(language).to_owned() }),
        part: faces::part_of(job, session.announced().map(|(_, points)| points)),
        conditions: job.conditions.clone(),
        measure: measure::of(session, job, now),
        verdict: verdict::of(job, language),
        newer_entries: job.newer_entries,
    }
}

fn steps(job: &Job, now: Stage, language: Language) -> Vec<StepLine> {
    let place = STRIP.iter().position(|s| *s == now).unwrap_or(0);
    STRIP
        .iter()
        .enumerate()
        .map(|(index, stage)| {
            let done = index < place || *stage == Stage::Done && now == Stage::Done;
            let state = if done {
                "done"
            } else if index == place {
                "now"
            } else {
                "to-come"
            };
            let proof = if done { proof(job, *stage, language) } else { String::new() };
            StepLine { stage: *stage, title: stage_title(*stage, language).to_owned(), state: state.to_owned(), proof }
        })
        .collect()
}

fn proof(job: &Job, stage: Stage, language: Language) -> String {
    match stage {
        Stage::Start | Stage::Caution => proof_words(stage, language).to_owned(),
        Stage::Part => job.part.as_ref().map_or(String::new(), |p| p.name.clone()),
        Stage::Meter => job.instrument.as_ref().map_or(String::new(), |i| format!("{} ({})", i.name, i.identity)),
        Stage::Measure => {
            let (taken, _) = job.progress();
            match language {
                Language::En => format!("{taken} touches on {} conductors", job.measured_conductors().len()),
                Language::De => format!("{taken} Berührungen an {} Leitern", job.measured_conductors().len()),
            }
        }
        Stage::Verdict => {
            job.verdict.as_ref().map_or(String::new(), |v| verdict_proof(now_verdict(v), language).to_owned())
        }
        Stage::Done => job.finished.as_ref().map_or(String::new(), |at| at.to_minute()),
    }
}
