//! Sweeps as they are drawn, read like the work they came from.

mod anything;
mod words;

use super::*;
use crate::sweep::plan::{SweepPlan, degrees, place_at};
use crate::sweep::{EventKind, JUMP_OHM, MIN_S, SweepInput, SweepOutcome, SweepSample, SweepVerdict, examine};
use crate::unit::{Quantity, Unit};
use crate::verdict::axis::trace as scales;
use serde_json::Value;

const PUBLIC: &str = include_str!("../../../../tests/data/cases-public.jsonl");
/// When the sweeps of these tests begin, boot clock.
const BEGIN: u64 = 70_000;

/// A reading: milliseconds from the begin, digits (none: over-range), places behind the point.
fn reading(ms: u64, digits: Option<i64>, places: u8) -> (Millis, Shown) {
    let value = |digits| Shown::Value(Quantity::new(digits, places, Unit::Ohm).expect("a display has few places"));
    (Millis(BEGIN + ms), digits.map_or(Shown::OverRange, value))
}

fn mark(ms: u64, milli: i32) -> PlacedMark {
    PlacedMark { at_ms: Millis(BEGIN + ms), milli }
}

/// What the rules find in readings with marks, as a running sweep asks them.
fn outcome(readings: &[(Millis, Shown)], marks: &[PlacedMark], resolution: f64) -> SweepOutcome {
    let first = readings.first().map_or(Millis(0), |(at, _)| *at);
    let mut samples: Vec<SweepSample> = Vec::new();
    for (at, shown) in readings {
        let ohms = match shown {
            Shown::Value(value) => Some(value.to_f64()),
            Shown::OverRange => None,
            Shown::Blank => continue,
        };
        let t = at.since(first).0 as f64 / 1_000.0;
        // Readings of one notification follow each other by a microsecond.
        let t = samples.last().map_or(t, |last| if t <= last.t { last.t + 1e-6 } else { t });
        samples.push(SweepSample { t, ohms, angle: place_at(marks, *at).map(|(milli, _)| degrees(milli)) });
    }
    examine(&SweepInput { resolution, samples, jump: JUMP_OHM, min_s: MIN_S })
}

/// The sweep of conductor 2.
fn swept<'a>(
    readings: &'a [(Millis, Shown)],
    marks: &'a [PlacedMark],
    movement: Movement,
    finding: Option<&'a Finding>,
) -> Swept<'a> {
    Swept { name: "2", readings, marks, movement, finding, others: Vec::new(), ended: true }
}

/// The marks of a plan kept by an even hand.
fn kept(plan: SweepPlan) -> Vec<PlacedMark> {
    let pace = u64::from(plan.pace_s) * 1_000;
    (0..).zip(plan.marks()).map(|(n, milli)| mark(n * pace, milli)).collect()
}

/// Five readings a second of 0.35 ohm on a display of 0.01 ohm until a second after the last mark; `spot` says what
/// is shown at a place instead.
fn turned(marks: &[PlacedMark], spot: impl Fn(f64) -> Option<Option<i64>>) -> Vec<(Millis, Shown)> {
    let end = marks.last().map_or(0, |last| last.at_ms.0 - BEGIN) + 1_000;
    let at = |n: u64| {
        let ms = n * 200;
        let sound = Some(if n.is_multiple_of(3) { 36 } else { 35 });
        let place = place_at(marks, Millis(BEGIN + ms)).map(|(milli, _)| milli);
        reading(ms, place.and_then(&spot).unwrap_or(sound), 2)
    };
    (0..=end / 200).map(at).collect()
}

#[test]
fn a_spot_seen_from_both_sides_repeats_and_one_that_is_another_place_does_not() {
    let plan = SweepPlan::default();
    let marks = kept(plan);
    let readings = turned(&marks, |milli| ((milli - 1_300.0).abs() < 30.0).then_some(None));
    let finding = Finding::write(&outcome(&readings, &marks, 0.01));
    let shown = draw(&swept(&readings, &marks, plan.movement, Some(&finding)), Language::En);
    assert_eq!(shown.places.iter().map(|p| p.repeats).collect::<Vec<_>>(), [true, true]);

    // A break at one side that is met once, for the hand turned back there.
    let marks = &marks[..3];
    let readings = turned(marks, |milli| ((milli - 1_300.0).abs() < 30.0).then_some(None));
    let finding = Finding::write(&outcome(&readings, marks, 0.01));
    // Degrees: the spot lies at 468.
    let [elsewhere, near] = [vec![-468.0, 452.9, 483.1], vec![453.0, 483.0]]
        .map(|angles| angles.into_iter().map(|a| found(EventKind::Dropout, 0.0, a)).collect::<Vec<_>>());
    let mut once = swept(&readings, marks, plan.movement, Some(&finding));
    let repeats = |swept: &Swept| draw(swept, Language::En).places.iter().map(|p| p.repeats).collect::<Vec<_>>();
    assert_eq!(repeats(&once), [false]);
    once.others = elsewhere.iter().collect();
    assert_eq!(repeats(&once), [false]);
    for other in &near {
        once.others = vec![other];
        assert_eq!(repeats(&once), [true], "{other:?}");
    }
}

#[test]
fn fifteen_degrees_are_one_place_here_as_in_the_rules() {
    let readings = turned(&kept(SweepPlan::default()), |_| None);
    let mut finding = Finding::write(&outcome(&readings, &[], 0.01));
    // In binary, these two are a little more than fifteen apart.
    let (a, b) = (1.1_f64, 16.1_f64);
    assert!(b - a > 15.0);
    finding.events = [a, b].map(|angle| found(EventKind::Jump, 3.0, angle)).to_vec();
    finding.events_in_all = 2;
    let shown = draw(&swept(&readings, &[], Movement::Turns { each_side: 2 }, Some(&finding)), Language::En);
    assert!(shown.places.iter().all(|p| p.repeats), "{:?}", shown.places);
}

fn found(kind: EventKind, start: f64, angle: f64) -> FoundEvent {
    let figure = Figure::write;
    let peak = (kind != EventKind::Dropout).then(|| figure(0.3));
    FoundEvent { kind, start: figure(start), duration: figure(0.4), samples: 2, peak, angle: Some(figure(angle)) }
}

#[test]
fn a_fault_that_begins_at_a_mark_is_placed_as_loosely_as_its_peak() {
    // Raised from the first reading, at its highest a second later, a quarter of a turn on.
    let marks = kept(SweepPlan::default());
    let readings = turned(&marks, |milli| match milli {
        m if (m - 250.0).abs() < 1.0 => Some(Some(95)),
        m if (0.0..250.0).contains(&m) => Some(Some(80)),
        _ => None,
    });
    let finding = Finding::write(&outcome(&readings, &marks, 0.01));
    assert_eq!((finding.events[0].start.read(), finding.events[0].angle.as_ref().unwrap().read()), (0.0, 90.0));
    let shown = draw(&swept(&readings, &marks, Movement::Turns { each_side: 2 }, Some(&finding)), Language::En);
    assert_eq!(shown.places[0].words, "+0.3 ± 0.4 turns");
}

#[test]
fn at_a_mark_the_place_is_as_sure_as_a_hand_and_between_two_a_third_of_the_way() {
    let marks = kept(SweepPlan::default());
    for (milli, told) in [(1_000.0, 100.0), (-2_000.0, 100.0), (1_010.0, 1_000.0 / 3.0), (-999.0, 1_000.0 / 3.0)] {
        assert_eq!(scales::off(&marks, milli), told, "{milli}");
    }
    let wide = [mark(0, 0), mark(9_000, 2_000)];
    assert_eq!(
        (scales::off(&wide, 500.0), scales::off(&wide, 0.0), scales::off(&[], 500.0)),
        (2_000.0 / 3.0, 100.0, 100.0)
    );
}

#[test]
fn while_it_runs_the_time_axis_stands_still_for_ten_seconds() {
    let marks = kept(SweepPlan::default());
    let readings = turned(&marks, |_| None);
    let mut axes: Vec<(Vec<Tick>, u64)> = Vec::new();
    for n in 1..=readings.len() {
        let mut running = swept(&readings[..n], &marks, Movement::Turns { each_side: 2 }, None);
        running.ended = false;
        let shown = draw(&running, Language::En);
        let ms = readings[n - 1].0.0 - BEGIN;
        if axes.last().is_none_or(|(ticks, _)| *ticks != shown.time_ticks) {
            axes.push((shown.time_ticks, ms));
        }
    }
    // Thirty-three seconds: a new axis with the first reading, and with the first one past ten, twenty, thirty.
    assert_eq!(axes.iter().map(|(_, ms)| *ms).collect::<Vec<_>>(), [0, 10_200, 20_200, 30_200]);
    let ended = draw(&swept(&readings, &marks, Movement::Turns { each_side: 2 }, None), Language::En);
    assert_eq!(ended.lines[0].last().map(|(x, _)| *x), Some(1_000), "once it is over the trace fills the picture");
}

#[test]
fn open_ends_with_the_next_value_and_at_a_hole() {
    let times = scales::Times { end: 100.0 };
    let at = |t: f64, open: bool| (t, (!open).then_some(0.35));
    let dots = [at(0.0, false), at(1.0, true), at(2.0, true), at(3.0, false), at(4.0, true), at(50.0, true)];
    assert_eq!(scales::usual(&dots), 1.0);
    assert_eq!(scales::outs(&dots, 1.0, &times), [(10, 30), (40, 50), (500, 510)]);
    let dots = [at(0.0, false), at(1.0, true), at(50.0, false)];
    assert_eq!(scales::outs(&dots, 1.0, &times), [(10, 20)], "what was not read is not known to be open");
}

/// A public case: readings, the angle of each, and the step.
struct Case {
    id: String,
    readings: Vec<(Millis, Shown)>,
    angles: Vec<f64>,
    step: f64,
    expect: Value,
}

fn cases() -> Vec<Case> {
    let all = PUBLIC.lines().map(|line| serde_json::from_str::<Value>(line).expect("the cases are JSON"));
    let case = |case: Value| {
        let step = case["resolution"].as_f64().unwrap();
        let places = (-step.log10()).round() as u8;
        let samples = case["samples"].as_array().unwrap();
        let digits = |ohm: f64| (ohm * 10f64.powi(i32::from(places))).round() as i64;
        let one =
            |s: &Value| reading((s[0].as_f64().unwrap() * 1_000.0).round() as u64, s[1].as_f64().map(digits), places);
        Case {
            id: case["id"].as_str().unwrap().to_owned(),
            readings: samples.iter().map(one).collect(),
            angles: samples.iter().map(|s| s[2].as_f64().unwrap()).collect(),
            step,
            expect: case["expect"].clone(),
        }
    };
    all.filter(|case| case["test"] == "sweep").map(case).collect()
}

/// The marks a person sets who presses the key at the begin, at every whole turn, and where the turn is reversed.
fn pressed(case: &Case) -> Vec<PlacedMark> {
    let ms = |i: usize| (case.readings[i].0.0 - BEGIN) as f64;
    let mut marks = vec![mark(0, (case.angles[0] / degrees(1.0)).round() as i32)];
    let mut forth = case.angles[1] > case.angles[0];
    for i in 1..case.angles.len() {
        let (before, here) = (case.angles[i - 1], case.angles[i]);
        if here != before && (here > before) != forth {
            forth = !forth;
            marks.push(mark(ms(i - 1) as u64, (before / degrees(1.0)).round() as i32));
        }
        let whole = (before.max(here) / 360.0).floor() * 360.0;
        if whole > before.min(here) && whole < before.max(here) {
            let share = (whole - before) / (here - before);
            marks.push(mark((ms(i - 1) + share * (ms(i) - ms(i - 1))) as u64, (whole / degrees(1.0)).round() as i32));
        }
    }
    marks.dedup_by_key(|m| m.at_ms);
    marks
}

#[test]
fn the_public_sweeps_are_drawn_where_and_as_what_they_are() {
    let cases = cases();
    assert_eq!(cases.len(), 9);
    let way = scales::Way::of(Movement::Turns { each_side: 3 });
    let mut drawn = 0;
    for case in &cases {
        let id = &case.id;
        let marks = pressed(case);
        let finding = Finding::write(&outcome(&case.readings, &marks, case.step));
        let shown =
            draw(&swept(&case.readings, &marks, Movement::Turns { each_side: 3 }, Some(&finding)), Language::En);
        let end = ((case.readings.last().unwrap().0.0 - BEGIN) as f64 / 1_000.0).max(10.0);
        let place = |t: f64| (t / end * 1_000.0).min(1_000.0).round() as u32;
        assert_eq!(serde_json::to_value(shown.verdict).unwrap(), case.expect["verdict"], "{id}");
        let expected = case.expect["events"].as_array().unwrap();
        assert_eq!(
            (shown.events.len(), shown.rows.len(), shown.places.len()),
            (expected.len(), expected.len(), expected.len()),
            "{id}"
        );
        for ((event, on_way), wanted) in shown.events.iter().zip(&shown.places).zip(expected) {
            let (start, length) = (wanted["start"].as_f64().unwrap(), wanted["duration"].as_f64().unwrap());
            assert_eq!(serde_json::to_value(event.kind).unwrap(), wanted["kind"], "{id}");
            assert_eq!((event.from, event.to), (place(start), place(start + length)), "{id}");
            assert_eq!(event.top.is_none(), event.kind == EventKind::Dropout, "{id}");
            let truly = way.place(wanted["angle"].as_f64().unwrap() / degrees(1.0));
            assert!((on_way.from..=on_way.to).contains(&truly), "{id}: {truly} is not in {on_way:?}");
            assert!(on_way.to - on_way.from <= 112, "{id}: a third of a turn either way of six turns, {on_way:?}");
            drawn += 1;
        }
    }
    assert_eq!(drawn, 4);
}
