//! The trace of a sweep as a picture: readings over time, events on it, and where on the way they lie.

#[cfg(test)]
mod tests;

use super::ladder::rounded;
use super::model::{Tick, TraceEvent, TracePlace, TraceRow, TraceView};
use super::words::{event_words, mark_words, place_words, smallest_words, sweep_code_words, trace_words, way_words};
use crate::job::Job;
use crate::meter::Shown;
use crate::record::{Sample, SweepFact};
use crate::session::{Run, Session};
use crate::sweep::SweepCode;
use crate::sweep::plan::{Movement, PlacedMark};
use crate::sweep::written::{Finding, FoundEvent};
use crate::unit::{Figure, Millis};
use crate::verdict::axis::trace::{Picture, Way, repeats};
use crate::verdict::words::Language;
use std::mem::discriminant;
use uuid::Uuid;

/// A sweep to be drawn.
struct Swept<'a> {
    name: &'a str,
    readings: &'a [(Millis, Shown)],
    marks: &'a [PlacedMark],
    movement: Movement,
    finding: Option<&'a Finding>,
    /// Events of the conductor's other sweeps.
    others: Vec<&'a FoundEvent>,
    /// It is over.
    ended: bool,
}

/// The trace of a sweep that is going on.
pub(super) fn live(run: &Run, job: &Job, language: Language) -> Option<TraceView> {
    let name = super::measure::name(job.part.as_ref()?, run.conductor);
    let finding = run.looked().map(Finding::write);
    let others = job.proofs.sweeps_of(run.conductor).flat_map(|f| events(f, run.plan.movement)).collect();
    let swept = Swept {
        name: &name,
        readings: run.readings(),
        marks: run.marks(),
        movement: run.plan.movement,
        finding: finding.as_ref(),
        others,
        ended: false,
    };
    Some(draw(&swept, language))
}

/// Events of a sweep, if it was moved in the same way: a third of a door's way is no third of a turn.
fn events(fact: &SweepFact, movement: Movement) -> impl Iterator<Item = &FoundEvent> {
    let alike = discriminant(&fact.plan.movement) == discriminant(&movement);
    fact.finding.events.iter().filter(move |_| alike)
}

/// The trace of a stored sweep of the job on the bench, from its samples.
pub(super) fn stored(session: &Session, sweep: Uuid, samples: &[Sample]) -> Option<TraceView> {
    of_job(session.job()?, sweep, samples, session.language())
}

/// The trace of a sweep of any job, from its samples; `None` if the job has no such sweep.
pub(crate) fn of_job(job: &Job, sweep: Uuid, samples: &[Sample], language: Language) -> Option<TraceView> {
    let fact = job.proofs.sweeps.iter().map(|k| &k.fact).find(|f| f.sweep == sweep)?;
    let readings = crate::session::readings_of(samples, (fact.from_ms, fact.to_ms));
    let name = super::measure::name(job.part.as_ref()?, fact.conductor);
    let others = job.proofs.sweeps_of(fact.conductor).filter(|f| f.sweep != sweep);
    let others = others.flat_map(|f| events(f, fact.plan.movement)).collect();
    let swept = Swept {
        name: &name,
        readings: &readings,
        marks: &fact.marks,
        movement: fact.plan.movement,
        finding: Some(&fact.finding),
        others,
        ended: true,
    };
    Some(draw(&swept, language))
}

/// What a stored sweep shows, in its sentence; it needs no samples.
pub(crate) fn sentence(fact: &SweepFact, name: &str, language: Language) -> String {
    let swept = Swept {
        name,
        readings: &[],
        marks: &fact.marks,
        movement: fact.plan.movement,
        finding: Some(&fact.finding),
        others: Vec::new(),
        ended: true,
    };
    let numbered: Vec<(u32, &FoundEvent)> = (1..).zip(&fact.finding.events).collect();
    let places = places(&swept, &numbered, language);
    let rows: Vec<TraceRow> = numbered.iter().map(|(number, e)| row(*number, e, &places, language)).collect();
    trace_words(name, Some((&fact.finding, true)), &rows, language)
}

fn draw(swept: &Swept, language: Language) -> TraceView {
    let picture = Picture::of(swept.readings, swept.finding, swept.ended);
    let tick = |(at, label): (u32, String)| Tick { at, label };
    let mark = |milli: i32| mark_words(milli, swept.movement, language);
    let numbered: Vec<(u32, &FoundEvent)> = (1..).zip(swept.finding.map_or(&[][..], |f| &f.events)).collect();
    let event = |(number, e): &(u32, &FoundEvent)| {
        let (from, to, top) = picture.event(e);
        TraceEvent { number: *number, kind: e.kind, from, to, top }
    };
    let places = places(swept, &numbered, language);
    let way = if swept.marks.len() < 2 { Vec::new() } else { Way::of(swept.movement).ticks() };
    let rows: Vec<TraceRow> = numbered.iter().map(|(number, e)| row(*number, e, &places, language)).collect();
    TraceView {
        name: swept.name.to_owned(),
        logarithmic: picture.is_logarithmic(),
        ohm_ticks: picture.ohm_ticks().into_iter().map(tick).collect(),
        time_ticks: picture.time_ticks().into_iter().map(tick).collect(),
        marks: swept.marks.iter().map(|m| Tick { at: picture.moment(m.at_ms), label: mark(m.milli) }).collect(),
        band: picture.band(),
        lines: picture.lines(),
        outs: picture.outs(),
        events: numbered.iter().map(event).collect(),
        way_words: way_words(swept.movement, language).to_owned(),
        way_ticks: way.into_iter().map(|(at, milli)| Tick { at, label: mark(milli) }).collect(),
        verdict: swept.finding.filter(|_| swept.ended).map(|f| f.verdict),
        sentence: trace_words(swept.name, swept.finding.map(|f| (f, swept.ended)), &rows, language),
        notes: swept.finding.map(|f| notes(f, swept.ended, language)).unwrap_or_default(),
        places,
        rows,
    }
}

/// Where on the way the events lie, as far as marks tell.
fn places(swept: &Swept, events: &[(u32, &FoundEvent)], language: Language) -> Vec<TracePlace> {
    let way = Way::of(swept.movement);
    let place = |(number, e): &(u32, &FoundEvent)| {
        let spot = way.spot(swept.marks, e)?;
        let here_too = events.iter().filter(|(other, _)| other != number).map(|(_, other)| *other);
        Some(TracePlace {
            number: *number,
            kind: e.kind,
            at: spot.at,
            from: spot.from,
            to: spot.to,
            words: place_words((spot.milli, spot.off), swept.movement, language),
            repeats: here_too.chain(swept.others.iter().copied()).any(|other| repeats(e, other)),
        })
    };
    events.iter().filter_map(place).collect()
}

fn row(number: u32, e: &FoundEvent, places: &[TracePlace], language: Language) -> TraceRow {
    let seconds = |figure: &Figure| format!("{} s", rounded(figure, 1));
    let place = places.iter().find(|p| p.number == number);
    let (what, height, again) = event_words(e, place.is_some_and(|p| p.repeats), language);
    TraceRow {
        number,
        what: what.to_owned(),
        start: seconds(&e.start),
        length: seconds(&e.duration),
        height,
        place: place.map_or(String::new(), |p| format!("{}{again}", p.words)),
    }
}

/// What the trace can show at all, then what else is to be said.
fn notes(finding: &Finding, ended: bool, language: Language) -> Vec<String> {
    let smallest = finding.threshold.as_ref().map(|t| smallest_words(t, language));
    // That a place repeats is said at the place; that an excursion is too little to condemn, at the end only.
    let told = |code: &SweepCode| match code {
        SweepCode::SameAngle => false,
        SweepCode::SpikeSeen => ended,
        _ => true,
    };
    let codes = finding.codes.iter().filter(|code| told(code));
    smallest.into_iter().chain(codes.map(|code| sweep_code_words(*code, language).to_owned())).collect()
}
