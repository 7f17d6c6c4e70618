//! The trace of a sweep as a picture: readings over time, events on it, and where on the way they lie.

use super::model::TraceView;
use super::words::sweep_words;
use crate::meter::Shown;
use crate::record::Sample;
use crate::session::{Run, Session};
use crate::sweep::plan::{Movement, PlacedMark};
use crate::sweep::written::Finding;
use crate::unit::{Millis, Quantity};
use crate::verdict::words::Language;
use uuid::Uuid;

/// A sweep to be drawn.
struct Swept<'a> {
    name: &'a str,
    readings: &'a [(Millis, Shown)],
    marks: &'a [PlacedMark],
    movement: Movement,
    step: Quantity,
    finding: Option<&'a Finding>,
    /// It is over.
    ended: bool,
}

/// The trace of a sweep that is going on.
pub(super) fn live(run: &Run, name: &str, language: Language) -> TraceView {
    let finding = run.looked().map(Finding::write);
    let swept = Swept {
        name,
        readings: run.readings(),
        marks: run.marks(),
        movement: run.plan.movement,
        step: run.step(),
        finding: finding.as_ref(),
        ended: false,
    };
    draw(&swept, language)
}

/// The trace of a stored sweep of the job on the bench, from its samples.
pub(super) fn stored(session: &Session, sweep: Uuid, samples: &[Sample]) -> Option<TraceView> {
    let job = session.job()?;
    let fact = job.proofs.sweeps.iter().map(|k| &k.fact).find(|f| f.sweep == sweep)?;
    let readings = crate::session::readings_of(samples, (fact.from_ms, fact.to_ms));
    let name = super::measure::name(job.part.as_ref()?, fact.conductor);
    let swept = Swept {
        name: &name,
        readings: &readings,
        marks: &fact.marks,
        movement: fact.plan.movement,
        step: fact.step,
        finding: Some(&fact.finding),
        ended: true,
    };
    Some(draw(&swept, session.language()))
}

fn draw(swept: &Swept, language: Language) -> TraceView {
    let verdict = swept.finding.filter(|_| swept.ended).map(|f| f.verdict);
    TraceView {
        name: swept.name.to_owned(),
        logarithmic: false,
        ohm_ticks: Vec::new(),
        time_ticks: Vec::new(),
        marks: Vec::new(),
        band: None,
        lines: Vec::new(),
        outs: Vec::new(),
        events: Vec::new(),
        way_ticks: Vec::new(),
        places: Vec::new(),
        rows: Vec::new(),
        verdict,
        sentence: verdict.map_or(String::new(), |v| sweep_words(v, language).to_owned()),
        notes: Vec::new(),
    }
}
