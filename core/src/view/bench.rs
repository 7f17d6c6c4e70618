//! The job on the bench as a strip: done, now, to come.

use super::model::{AboutView, BeforeView, BenchView, CautionView, PhotoView, StepLine};
use super::words::{before_words, instrument_words, now_verdict, proof_words, stage_title, verdict_proof};
use super::{aside, faces, measure, proving, verdict};
use crate::caution::Caution;
use crate::job::{Job, Stage, vehicle_words};
use crate::part::Point;
use crate::session::Session;
use crate::unit::Now;
use crate::verdict::words::Language;

const STRIP: [Stage; 7] =
    [Stage::Start, Stage::Part, Stage::Meter, Stage::Caution, Stage::Measure, Stage::Verdict, Stage::Done];

/// The strip of a job.
pub(super) fn of(session: &Session, job: &Job, now: &Now) -> BenchView {
    let language = session.language();
    let stage = job.stage();
    let cautions: &[Caution] = match stage {
        // A loose part at a counter: everything is read at once, before the first clip goes on.
        Stage::Start if job.proofs.old.is_some() => &[Caution::C0, Caution::C1, Caution::C13],
        Stage::Start => &[Caution::C0],
        Stage::Caution => &[Caution::C1],
        _ => &[],
    };
    BenchView {
        job: job.id.to_string(),
        order: job.order.clone(),
        vehicle: vehicle_words(&job.vehicle, &session.details().vin),
        about: about(session, job, language),
        opened: job.opened.clone(),
        stage,
        // The steps of a procedure are its own.
        steps: if job.work.is_some() || stage == Stage::HandedOver { Vec::new() } else { steps(job, stage, language) },
        cautions: caution_views(cautions, language),
        part: faces::part_of(job, &clips(session)),
        conditions: job.conditions.clone(),
        measure: measure::of(session, job, now),
        aside: aside::of(session, job, now),
        proving: proving::of(session, job, now),
        verdict: verdict::of(job, language),
        work: super::work::of(session, job, now),
        photos: job
            .photos
            .iter()
            .map(|kept| PhotoView { photo: kept.photo.to_string(), step: kept.step.clone() })
            .collect(),
        erasing: super::erasing::of(job, language),
        // Whoever knows what the hub said adds it.
        at_shop: None,
        hand: super::handed::of(session, job),
        newer_entries: job.newer_entries,
    }
}

fn about(session: &Session, job: &Job, language: Language) -> AboutView {
    let details = session.details();
    let before = job.corrections(details, session.earlier_details()).into_iter().map(|correction| BeforeView {
        field: correction.field.to_owned(),
        text: before_words(&correction.before, language).to_owned(),
        until: match language {
            Language::En => format!("until {}", correction.until.to_minute()),
            Language::De => format!("bis {}", correction.until.to_minute()),
        },
    });
    AboutView { vehicle: job.vehicle.clone(), details: details.clone(), before: before.collect() }
}

/// Cautions with their texts.
pub(super) fn caution_views(cautions: &[Caution], language: Language) -> Vec<CautionView> {
    cautions.iter().map(|c| CautionView { caution: *c, text: c.text(language).to_owned() }).collect()
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

/// The cavities the clips go to now.
fn clips(session: &Session) -> Vec<Point> {
    let announced = session.announced().map(|(_, (from, to))| (from, Some(to)));
    let ends = announced.or_else(|| session.aside_points());
    ends.into_iter().flat_map(|(from, to)| std::iter::once(from).chain(to)).collect()
}

fn proof(job: &Job, stage: Stage, language: Language) -> String {
    match stage {
        Stage::Start | Stage::Caution | Stage::Steps | Stage::HandedOver => proof_words(stage, language).to_owned(),
        Stage::Part => job.part.as_ref().map_or(String::new(), |p| p.name.clone()),
        Stage::Meter => job.instrument.as_ref().map_or(String::new(), |i| instrument_words(i, language)),
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
