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
use crate::sweep::numbers::{at_most, below};
use crate::sweep::plan::{Movement, PlacedMark, UNEVEN_SHARE, degrees};
use crate::sweep::written::{Finding, FoundEvent};
use crate::sweep::{SAME_ANGLE_DEG, SweepCode};
use crate::unit::{Figure, Millis};
use crate::verdict::words::Language;
use scales::{Steady, Times, Way};
use std::mem::discriminant;
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
    let others = job.proofs.sweeps_of(run.conductor).flat_map(|f| angles(f, run.plan.movement)).collect();
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

/// Where events of a sweep lie, if it was moved in the same way: a third of a door's way is no third of a turn.
fn angles(fact: &SweepFact, movement: Movement) -> impl Iterator<Item = f64> + '_ {
    let alike = discriminant(&fact.plan.movement) == discriminant(&movement);
    let events = fact.finding.events.iter().filter(move |_| alike);
    events.filter_map(|e| e.angle.as_ref()).map(Figure::read)
}

/// The trace of a stored sweep of the job on the bench, from its samples.
pub(super) fn stored(session: &Session, sweep: Uuid, samples: &[Sample]) -> Option<TraceView> {
    let job = session.job()?;
    let fact = job.proofs.sweeps.iter().map(|k| &k.fact).find(|f| f.sweep == sweep)?;
    let readings = crate::session::readings_of(samples, (fact.from_ms, fact.to_ms));
    let name = super::measure::name(job.part.as_ref()?, fact.conductor);
    let others = job.proofs.sweeps_of(fact.conductor).filter(|f| f.sweep != sweep);
    let others = others.flat_map(|f| angles(f, fact.plan.movement)).collect();
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
    let usual = scales::usual(&dots);
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
    let places = places(swept, &numbered, language);
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
        lines: scales::lines(&dots, usual, &times, &axis),
        outs: scales::outs(&dots, usual, &times),
        events: numbered.iter().map(event).collect(),
        way_ticks: if swept.marks.len() < 2 { Vec::new() } else { way.stops().into_iter().map(stop).collect() },
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
    let angle = |e: &FoundEvent| e.angle.as_ref().map(Figure::read);
    let near = |a: f64, b: f64| at_most((a - b).abs(), SAME_ANGLE_DEG);
    let place = |(number, e): &(u32, &FoundEvent)| {
        let here = angle(e)?;
        let milli = here / degrees(1.0);
        let off = off(swept.marks, milli);
        let here_too = events.iter().filter(|(other, _)| other != number).filter_map(|(_, other)| angle(other));
        Some(TracePlace {
            number: *number,
            kind: e.kind,
            at: way.place(milli),
            from: way.place(milli - off),
            to: way.place(milli + off),
            words: place_words((milli.round() as i32, off.ceil() as i32), swept.movement, language),
            repeats: here_too.chain(swept.others.iter().copied()).any(|other| near(here, other)),
        })
    };
    events.iter().filter_map(place).collect()
}

/// How far off a place may be, thousandths: a hand's at a mark, a share of the way between two. Asked of the place, not
/// of the event's start: an event that begins at a mark has its peak beyond it.
fn off(marks: &[PlacedMark], milli: f64) -> f64 {
    let way = |pair: &[PlacedMark]| {
        let (a, b) = (f64::from(pair[0].milli), f64::from(pair[1].milli));
        let between = below(a.min(b), milli) && below(milli, a.max(b));
        between.then_some((a - b).abs() * UNEVEN_SHARE)
    };
    marks.windows(2).filter_map(way).fold(HAND_MILLI, f64::max)
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
