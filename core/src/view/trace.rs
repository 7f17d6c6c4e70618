//! The trace of a sweep as a picture: readings over time, events on it, and where on the way they lie.

mod scales;
#[cfg(test)]
mod tests;

use super::ladder::rounded;
use super::model::{Tick, TraceEvent, TracePlace, TraceRow, TraceView};
use super::words::{event_words, mark_words, place_words, smallest_words, sweep_code_words, trace_words};
use crate::job::Job;
use crate::meter::Shown;
use crate::record::{Sample, SweepFact};
use crate::session::{Run, Session};
use crate::sweep::plan::{Movement, PlacedMark, degrees, place_at};
use crate::sweep::written::{Finding, FoundEvent};
use crate::sweep::{SAME_ANGLE_DEG, SweepCode};
use crate::unit::{Figure, Millis};
use crate::verdict::words::Language;
use scales::{Steady, Times, Way};
use uuid::Uuid;

/// A hand is at a mark within a tenth of a turn or of the way, however well it keeps time. Common practice, no source.
const HAND_MILLI: f64 = 100.0;

/// A sweep to be drawn.
struct Swept<'a> {
    name: &'a str,
    readings: &'a [(Millis, Shown)],
    marks: &'a [PlacedMark],
    movement: Movement,
    finding: Option<&'a Finding>,
    /// Where events of the conductor's other sweeps lie, degrees.
    others: Vec<f64>,
    /// It is over.
    ended: bool,
}

/// The trace of a sweep that is going on.
pub(super) fn live(run: &Run, job: &Job, language: Language) -> Option<TraceView> {
    let name = super::measure::name(job.part.as_ref()?, run.conductor);
    let finding = run.looked().map(Finding::write);
    let others = job.proofs.sweeps_of(run.conductor).flat_map(angles).collect();
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

fn angles(fact: &SweepFact) -> impl Iterator<Item = f64> + '_ {
    fact.finding.events.iter().filter_map(|e| e.angle.as_ref()).map(Figure::read)
}

/// The trace of a stored sweep of the job on the bench, from its samples.
pub(super) fn stored(session: &Session, sweep: Uuid, samples: &[Sample]) -> Option<TraceView> {
    let job = session.job()?;
    let fact = job.proofs.sweeps.iter().map(|k| &k.fact).find(|f| f.sweep == sweep)?;
    let readings = crate::session::readings_of(samples, (fact.from_ms, fact.to_ms));
    let name = super::measure::name(job.part.as_ref()?, fact.conductor);
    let others = job.proofs.sweeps_of(fact.conductor).filter(|f| f.sweep != sweep).flat_map(angles).collect();
    let swept = Swept {
        name: &name,
        readings: &readings,
        marks: &fact.marks,
        movement: fact.plan.movement,
        finding: Some(&fact.finding),
        others,
        ended: true,
    };
    Some(draw(&swept, session.language()))
}

fn draw(swept: &Swept, language: Language) -> TraceView {
    let dots = scales::dots(swept.readings);
    let times = Times::over(&dots, swept.ended);
    let steady = swept.finding.and_then(Steady::of);
    let band = steady.map(|s| s.band(dots.last().map_or(0.0, |(t, _)| *t)));
    let axis = scales::ohms(&dots, band);
    let tick = |(at, label): (u32, String)| Tick { at, label };
    let first = swept.readings.first().map_or(Millis(0), |(at, _)| *at);
    let mark = |m: &PlacedMark| Tick {
        at: times.place(m.at_ms.since(first).0 as f64 / 1_000.0),
        label: mark_words(m.milli, swept.movement, language),
    };
    let numbered: Vec<(u32, &FoundEvent)> = (1..).zip(swept.finding.map_or(&[][..], |f| &f.events)).collect();
    let event = |(number, e): &(u32, &FoundEvent)| {
        let start = e.start.read();
        TraceEvent {
            number: *number,
            kind: e.kind,
            from: times.place(start),
            to: times.place(start + e.duration.read()),
            top: steady.zip(e.peak.as_ref()).map(|(s, peak)| axis.place(s.at(start) + peak.read())),
        }
    };
    let places = places(swept, &numbered, first, language);
    let way = Way::of(swept.movement);
    let stop =
        |milli: i32| Tick { at: way.place(f64::from(milli)), label: mark_words(milli, swept.movement, language) };
    let rows: Vec<TraceRow> = numbered.iter().map(|(number, e)| row(*number, e, &places, language)).collect();
    TraceView {
        name: swept.name.to_owned(),
        logarithmic: axis.is_logarithmic(),
        ohm_ticks: axis.ticks().into_iter().map(tick).collect(),
        time_ticks: times.ticks().into_iter().map(tick).collect(),
        marks: swept.marks.iter().map(mark).collect(),
        band: band.map(|b| (axis.place(b.from), axis.place(b.to))),
        lines: scales::lines(&dots, &times, &axis),
        outs: scales::outs(&dots, &times),
        events: numbered.iter().map(event).collect(),
        way_ticks: if swept.marks.len() < 2 { Vec::new() } else { way.stops().into_iter().map(stop).collect() },
        verdict: swept.finding.filter(|_| swept.ended).map(|f| f.verdict),
        sentence: trace_words(swept.name, swept.finding.map(|f| (f, swept.ended)), &rows, language),
        notes: swept.finding.map(|finding| notes(finding, language)).unwrap_or_default(),
        places,
        rows,
    }
}

/// Where on the way the events lie, as far as marks tell.
fn places(swept: &Swept, events: &[(u32, &FoundEvent)], first: Millis, language: Language) -> Vec<TracePlace> {
    let way = Way::of(swept.movement);
    let angle = |e: &FoundEvent| e.angle.as_ref().map(Figure::read);
    let near = |a: f64, b: f64| (a - b).abs() <= SAME_ANGLE_DEG;
    let place = |(number, e): &(u32, &FoundEvent)| {
        let here = angle(e)?;
        let milli = here / degrees(1.0);
        let at = Millis(first.0 + (e.start.read() * 1_000.0).round() as u64);
        let off = place_at(swept.marks, at).map_or(HAND_MILLI, |(_, off)| off.max(HAND_MILLI));
        let here_too = events.iter().filter(|(other, _)| other != number).filter_map(|(_, other)| angle(other));
        Some(TracePlace {
            number: *number,
            kind: e.kind,
            at: way.place(milli),
            from: way.place(milli - off),
            to: way.place(milli + off),
            words: place_words((milli, off), swept.movement, language),
            repeats: here_too.chain(swept.others.iter().copied()).any(|other| near(here, other)),
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
fn notes(finding: &Finding, language: Language) -> Vec<String> {
    let smallest = finding.threshold.as_ref().map(|t| smallest_words(t, language));
    // That a place repeats is said at the place.
    let codes = finding.codes.iter().filter(|code| **code != SweepCode::SameAngle);
    smallest.into_iter().chain(codes.map(|code| sweep_code_words(*code, language).to_owned())).collect()
}
