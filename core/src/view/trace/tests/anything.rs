//! Whatever a meter sends and a hand does: the picture stays a picture and shows what was read.

use super::*;
use crate::sweep::is_gap;
use proptest::prelude::*;
use proptest::sample::Index;

/// A stretch of a stream.
#[derive(Clone, Copy, Debug)]
enum Stretch {
    /// So many readings near the level, so many milliseconds apart; nought: of one notification.
    Near(usize, u64),
    /// So many readings of over-range.
    Open(usize, u64),
    /// Anything a display can show, thousandths of an ohm.
    Wild(i64),
    /// Nothing for so many milliseconds.
    Hole(u64),
    /// Value and over-range in turn, so many times: a clip that barely holds.
    Flicker(usize, u64),
}

fn stretch() -> impl Strategy<Value = Stretch> {
    let apart = || prop_oneof![5 => 20_u64..400, 1 => Just(0)];
    prop_oneof![
        4 => (1_usize..120, apart()).prop_map(|(n, ms)| Stretch::Near(n, ms)),
        2 => (1_usize..20, apart()).prop_map(|(n, ms)| Stretch::Open(n, ms)),
        2 => (-999_000_i64..1_200_000).prop_map(Stretch::Wild),
        2 => (900_u64..20_000).prop_map(Stretch::Hole),
        1 => (1_usize..400, 1_u64..60).prop_map(|(n, ms)| Stretch::Flicker(n, ms)),
    ]
}

/// A stream about a level that may be below nothing: a zero too large was taken off.
fn stream() -> impl Strategy<Value = Vec<(Millis, Shown)>> {
    let level = prop_oneof![3 => 0_i64..2_000, 1 => -6_000_i64..0];
    (level, prop::collection::vec(stretch(), 0..10)).prop_map(|(level, stretches)| {
        let (mut at, mut all) = (0, Vec::new());
        for stretch in stretches {
            let mut push = |ms: u64, digits: Option<i64>| {
                at += ms;
                all.push(reading(at, digits, 3));
            };
            match stretch {
                Stretch::Near(n, ms) => (0..n).for_each(|i| push(ms, Some(level + (i * 7 % 5) as i64))),
                Stretch::Open(n, ms) => (0..n).for_each(|_| push(ms, None)),
                Stretch::Wild(digits) => push(50, Some(digits)),
                Stretch::Hole(ms) => at += ms,
                Stretch::Flicker(n, ms) => (0..2 * n).for_each(|i| push(ms, (i % 2 == 0).then_some(level))),
            }
        }
        all
    })
}

fn movement() -> impl Strategy<Value = Movement> {
    prop_oneof![
        (0_u8..=20).prop_map(|each_side| Movement::Turns { each_side }),
        (1_u8..=20).prop_map(|passes| Movement::Flexes { passes }),
    ]
}

/// A sweep, over or not, with as many marks as the person came to.
type Anything = (Vec<(Millis, Shown)>, Movement, (u64, Index), bool);

fn anything() -> impl Strategy<Value = Anything> {
    (stream(), movement(), (300_u64..6_000, any::<Index>()), any::<bool>())
}

/// Draws it, and hands over what it was drawn from.
fn drawn((readings, movement, (pace, came_to), ended): &Anything) -> (TraceView, Option<Finding>) {
    let places = SweepPlan { movement: *movement, pace_s: 0 }.marks();
    let marks = (0..).zip(&places).map(|(n, milli)| mark(n * pace, *milli));
    let marks: Vec<PlacedMark> = marks.take(came_to.index(places.len() + 1)).collect();
    let finding = (!readings.is_empty()).then(|| Finding::write(&outcome(readings, &marks, 0.001)));
    let mut one = swept(readings, &marks, *movement, finding.as_ref());
    one.ended = *ended;
    (draw(&one, Language::En), finding)
}

fn rising(ticks: &[Tick]) -> bool {
    let labels: std::collections::BTreeSet<&str> = ticks.iter().map(|t| t.label.as_str()).collect();
    ticks.windows(2).all(|pair| pair[0].at < pair[1].at) && labels.len() == ticks.len()
}

/// Every place of a picture.
fn all_places(shown: &TraceView) -> Vec<u32> {
    let ticks = [&shown.ohm_ticks, &shown.time_ticks, &shown.marks, &shown.way_ticks];
    let ticks = ticks.into_iter().flatten().map(|tick| tick.at);
    let pairs = shown.lines.iter().flatten().chain(&shown.outs).chain(&shown.band).flat_map(|(a, b)| [*a, *b]);
    let events = shown.events.iter().flat_map(|e| [Some(e.from), Some(e.to), e.top]).flatten();
    let way = shown.places.iter().flat_map(|p| [p.at, p.from, p.to]);
    ticks.chain(pairs).chain(events).chain(way).collect()
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 300, rng_seed: prop::test_runner::RngSeed::Fixed(41), failure_persistence: None, ..Default::default()
    })]

    #[test]
    fn every_place_is_in_the_picture_and_every_stretch_runs_forward(any in anything()) {
        let (shown, finding) = drawn(&any);
        prop_assert!(all_places(&shown).iter().all(|at| *at <= 1_000), "{shown:?}");
        prop_assert!(shown.events.iter().all(|e| e.from <= e.to), "{:?}", shown.events);
        prop_assert!(shown.places.iter().all(|p| p.from <= p.at && p.at <= p.to && p.from < p.to), "{:?}", shown.places);
        prop_assert!(shown.band.iter().all(|(from, to)| from <= to));
        prop_assert!(rising(&shown.ohm_ticks) && shown.ohm_ticks.len() >= 2, "{:?}", shown.ohm_ticks);
        prop_assert!(rising(&shown.time_ticks) && (2..=7).contains(&shown.time_ticks.len()), "{:?}", shown.time_ticks);
        prop_assert!(rising(&shown.way_ticks), "{:?}", shown.way_ticks);
        prop_assert!(shown.lines.iter().all(|line| line.windows(2).all(|p| p[0].0 <= p[1].0)));
        prop_assert!(shown.outs.iter().all(|(from, to)| from <= to));
        prop_assert!(shown.outs.windows(2).all(|p| p[0].1 < p[1].0), "{:?}", shown.outs);
        let numbers: Vec<u32> = shown.rows.iter().map(|row| row.number).collect();
        prop_assert_eq!(&numbers, &shown.events.iter().map(|e| e.number).collect::<Vec<_>>());
        prop_assert_eq!(numbers.len(), finding.as_ref().map_or(0, |f| f.events.len()));
        prop_assert!(shown.places.iter().all(|p| numbers.contains(&p.number)));
        prop_assert_eq!(shown.verdict, finding.filter(|_| any.3).map(|f| f.verdict));
    }

    #[test]
    fn no_line_crosses_over_range_or_a_hole_and_no_hole_is_drawn_as_open(any in anything()) {
        let (shown, _) = drawn(&any);
        let dots = scales::dots(&any.0);
        let usual = scales::usual(&dots);
        let times = scales::Times::over(&dots, any.3);
        let strokes: Vec<(u32, u32)> =
            shown.lines.iter().flat_map(|line| line.windows(2).map(|p| (p[0].0, p[1].0))).collect();
        for (t, _) in dots.iter().filter(|(_, ohm)| ohm.is_none()) {
            let at = times.place(*t);
            prop_assert!(strokes.iter().all(|(from, to)| at <= *from || *to <= at), "over-range at {t} s is crossed");
            prop_assert!(shown.outs.iter().any(|(from, to)| (*from..=*to).contains(&at)), "{t} s is not drawn open");
        }
        for pair in dots.windows(2).filter(|pair| is_gap(pair[1].0 - pair[0].0, usual)) {
            let (from, to) = (times.place(pair[0].0), times.place(pair[1].0));
            let over = |(a, b): &(u32, u32)| *a <= from && to <= *b;
            prop_assert!(!strokes.iter().any(over), "the hole after {} s is crossed", pair[0].0);
            prop_assert!(!shown.outs.iter().any(over), "the hole after {} s is drawn as open", pair[0].0);
        }
    }

    /// The bound: two points for each of the 301 buckets that time is cut into, and, as neighbouring lines can share a
    /// bucket, two more for every further line; at most eight for a bucket, as at most four lines have points in it.
    #[test]
    fn the_lines_hold_the_lowest_and_highest_reading_and_few_points(any in anything()) {
        let (shown, finding) = drawn(&any);
        let dots = scales::dots(&any.0);
        let times = scales::Times::over(&dots, any.3);
        let band = finding.as_ref().and_then(scales::Steady::of).map(|s| s.band(dots.last().map_or(0.0, |(t, _)| *t)));
        let axis = scales::ohms(&dots, band);
        let values: Vec<(f64, f64)> = dots.iter().filter_map(|(t, ohm)| Some((*t, (*ohm)?))).collect();
        let points: Vec<(u32, u32)> = shown.lines.iter().flatten().copied().collect();
        let least = values.iter().map(|(_, ohm)| *ohm).fold(f64::INFINITY, f64::min);
        let most = values.iter().map(|(_, ohm)| *ohm).fold(f64::NEG_INFINITY, f64::max);
        for outermost in [least, most].into_iter().filter(|v| v.is_finite()) {
            let mut at = values.iter().filter(|(_, ohm)| *ohm == outermost);
            let drawn = at.any(|(t, ohm)| points.contains(&(times.place(*t), axis.place(*ohm))));
            prop_assert!(drawn, "{outermost} ohm is not drawn");
        }
        prop_assert!(points.len() <= scales::MOST_POINTS + 2 * shown.lines.len(), "{} points", points.len());
        prop_assert!(points.len() <= 8 * 301, "{} points", points.len());
        prop_assert_eq!(points.is_empty(), values.is_empty());
        if values.len() <= scales::MOST_POINTS {
            prop_assert_eq!(points.len(), values.len(), "few readings are all drawn");
        }
    }
}

#[test]
fn nothing_and_a_single_reading_are_a_picture_too() {
    for readings in [vec![], vec![reading(0, Some(350), 3)], vec![reading(0, None, 3)]] {
        for (ended, movement) in [(true, Movement::Flexes { passes: 3 }), (false, Movement::Turns { each_side: 2 })] {
            let finding = (!readings.is_empty()).then(|| Finding::write(&outcome(&readings, &[], 0.001)));
            let mut one = swept(&readings, &[], movement, finding.as_ref());
            one.ended = ended;
            let shown = draw(&one, Language::De);
            assert_eq!(shown.lines.len(), usize::from(matches!(readings[..], [(_, Shown::Value(_))])));
            assert_eq!(shown.outs.len(), usize::from(matches!(readings[..], [(_, Shown::OverRange)])));
            assert!(shown.ohm_ticks.len() >= 2 && shown.time_ticks.len() >= 2 && shown.way_ticks.is_empty());
        }
    }
}

#[test]
fn a_clip_that_barely_holds_for_ten_minutes_is_a_picture_of_few_points() {
    let readings: Vec<_> =
        (0..60_000).map(|n| reading(n * 10, (n % 2 == 0).then_some(350 + n as i64 % 7), 3)).collect();
    let shown = draw(&swept(&readings, &[], Movement::Turns { each_side: 2 }, None), Language::En);
    assert!(shown.lines.len() <= 2 * 301, "{} lines", shown.lines.len());
    assert!(shown.outs.len() <= 501, "{} stretches of over-range", shown.outs.len());
}
