//! The way a part is moved, and what a hand that is not a clock does to a place.

use super::*;
use proptest::prelude::*;

fn turns(each_side: u8) -> SweepPlan {
    SweepPlan { movement: Movement::Turns { each_side }, pace_s: PACE_S }
}

fn flexes(passes: u8) -> SweepPlan {
    SweepPlan { movement: Movement::Flexes { passes }, pace_s: PACE_S }
}

fn mark(at_ms: u64, milli: i32) -> PlacedMark {
    PlacedMark { at_ms: Millis(at_ms), milli }
}

/// How often the places half-way between two neighbouring stops are passed, by their lower stop.
fn passes(marks: &[i32]) -> std::collections::BTreeMap<i32, usize> {
    let mut passed = std::collections::BTreeMap::new();
    for pair in marks.windows(2) {
        *passed.entry(pair[0].min(pair[1])).or_default() += 1;
    }
    passed
}

#[test]
fn two_turns_each_side_go_right_first_then_left_then_back() {
    assert_eq!(SweepPlan::default(), turns(2));
    assert_eq!(turns(2).marks(), [0, 1_000, 2_000, 1_000, 0, -1_000, -2_000, -1_000, 0]);
    assert_eq!(turns(1).marks(), [0, 1_000, 0, -1_000, 0]);
    assert_eq!(flexes(2).marks(), [0, 1_000, 0, 1_000, 0]);
}

#[test]
fn every_place_between_the_ends_is_passed_at_least_twice() {
    for count in 1..=MOST {
        let marks = turns(count).marks();
        let out = i32::from(count);
        assert_eq!((marks.first(), marks.last()), (Some(&0), Some(&0)), "it begins and ends in the centre");
        assert!(marks.windows(2).all(|pair| (pair[0] - pair[1]).abs() == 1_000), "a mark at every turn: {marks:?}");
        let passed = passes(&marks);
        assert_eq!(passed.keys().copied().collect::<Vec<_>>(), (-out..out).map(|t| t * 1_000).collect::<Vec<_>>());
        assert!(passed.values().all(|times| *times == 2), "{count}: {passed:?}");

        let marks = flexes(count).marks();
        assert!(marks.windows(2).all(|pair| (pair[0] - pair[1]).abs() == 1_000), "{marks:?}");
        assert_eq!(passes(&marks), std::collections::BTreeMap::from([(0, 2 * usize::from(count))]));
    }
}

#[test]
fn a_plan_fits_from_one_to_twenty_with_a_pace_of_two_to_twenty_or_a_key() {
    for count in 0..=u8::MAX {
        for pace_s in 0..=u8::MAX {
            let good = (1..=20).contains(&count) && (pace_s == 0 || (2..=20).contains(&pace_s));
            for movement in [Movement::Turns { each_side: count }, Movement::Flexes { passes: count }] {
                assert_eq!(SweepPlan { movement, pace_s }.fits(), good, "{movement:?} {pace_s}");
            }
        }
    }
}

#[test]
fn a_plan_that_does_not_fit_has_marks_all_the_same() {
    for count in [0, u8::MAX] {
        assert!(!turns(count).fits() && !turns(count).marks().is_empty());
        assert!(!flexes(count).fits() && !flexes(count).marks().is_empty());
    }
}

#[test]
fn between_two_marks_the_place_goes_evenly_and_beyond_the_last_there_is_none() {
    let marks = [mark(10_000, 0), mark(14_000, 1_000), mark(16_000, 2_000), mark(20_000, 1_000)];
    let at = |ms| place_at(&marks, Millis(ms));
    assert_eq!((at(9_999), at(20_001)), (None, None));
    assert_eq!(at(10_000), Some((0.0, 0.0)));
    assert_eq!(at(11_000), Some((250.0, 1_000.0 / 3.0)));
    assert_eq!(at(14_000), Some((1_000.0, 0.0)));
    assert_eq!(at(15_000), Some((1_500.0, 1_000.0 / 3.0)));
    assert_eq!(at(19_000), Some((1_250.0, 1_000.0 / 3.0)));
    assert_eq!(place_at(&[], Millis(0)), None);
    assert_eq!(place_at(&[mark(5, 0)], Millis(4)), None, "a single mark tells one moment only");
    assert_eq!(place_at(&[mark(5, 0)], Millis(5)), Some((0.0, 0.0)));
    assert_eq!(place_at(&[mark(5, 0)], Millis(6)), None);
}

#[test]
fn a_whole_turn_is_a_full_circle() {
    assert_eq!((degrees(1_000.0), degrees(-500.0), degrees(0.0)), (360.0, -180.0, 0.0));
}

/// Shares of the time between two marks, and how fast the hand goes in each, as a multiple of its mean.
fn hand() -> impl Strategy<Value = Vec<(f64, f64)>> {
    let stretch = (0.01_f64..1.0, prop_oneof![1 => Just(0.5), 1 => Just(2.0), 2 => 0.5_f64..2.0]);
    prop::collection::vec(stretch, 2..7).prop_filter_map("a mean of its own speeds", |stretches| {
        let time: f64 = stretches.iter().map(|(share, _)| share).sum();
        let way: f64 = stretches.iter().map(|(share, speed)| share * speed).sum();
        let mean = way / time;
        let hand: Vec<(f64, f64)> = stretches.iter().map(|(share, v)| (share / time, v / mean)).collect();
        hand.iter().all(|(_, speed)| (0.5..=2.0).contains(speed)).then_some(hand)
    })
}

/// Share of the way such a hand has gone after a share of the time.
fn gone(hand: &[(f64, f64)], share: f64) -> f64 {
    let mut left = share;
    let mut way = 0.0;
    for (time, speed) in hand {
        way += left.min(*time) * speed;
        left = (left - time).max(0.0);
    }
    way
}

#[test]
fn the_worst_hand_twice_as_fast_then_half_as_fast_is_off_by_just_a_third() {
    let marks = [mark(0, 0), mark(9_000, 1_000)];
    let worst = [(1.0 / 3.0, 2.0), (2.0 / 3.0, 0.5)];
    assert!((gone(&worst, 1.0) - 1.0).abs() < 1e-12);
    let (place, off) = place_at(&marks, Millis(3_000)).unwrap();
    let error = 1_000.0 * gone(&worst, 1.0 / 3.0) - place;
    assert!((error - off).abs() < 1e-9, "off by {error}, told {off}");
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 400, rng_seed: prop::test_runner::RngSeed::Fixed(31), failure_persistence: None, ..Default::default()
    })]

    #[test]
    fn a_hand_never_over_twice_nor_under_half_its_mean_is_within_what_is_told(
        hand in hand(), (from, to) in (-20..20_i32, prop::bool::ANY), took in 100_u64..20_000,
    ) {
        let (from, to) = (from * 1_000, (from + if to { 1 } else { -1 }) * 1_000);
        let marks = [mark(70_000, from), mark(70_000 + took, to)];
        for step in 0..=100 {
            let at = took * step / 100;
            let (place, off) = place_at(&marks, Millis(70_000 + at)).unwrap();
            let true_place = f64::from(from) + f64::from(to - from) * gone(&hand, at as f64 / took as f64);
            prop_assert!((place - true_place).abs() <= off + 1e-6, "{place} ± {off}, truly {true_place}");
        }
    }

    #[test]
    fn a_place_is_exact_at_marks_and_goes_one_way_between_them(
        steps in prop::collection::vec((1_u64..30_000, -20..20_i32), 1..12), first in 0_u64..1_000_000,
    ) {
        let mut at = first;
        let marks: Vec<PlacedMark> = steps
            .iter()
            .map(|(later, turns)| {
                at += later;
                mark(at, turns * 1_000)
            })
            .collect();
        for m in &marks {
            prop_assert_eq!(place_at(&marks, m.at_ms), Some((f64::from(m.milli), 0.0)));
        }
        for pair in marks.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let took = to.at_ms.0 - from.at_ms.0;
            let way = f64::from(to.milli - from.milli);
            let times: Vec<u64> = (0..=20).map(|n| from.at_ms.0 + took * n / 20).collect();
            let places: Vec<f64> = times.iter().map(|t| place_at(&marks, Millis(*t)).unwrap().0).collect();
            prop_assert!(places.windows(2).all(|p| (p[1] - p[0]) * way >= 0.0), "{places:?}");
            for (t, place) in times.iter().zip(&places) {
                let even = f64::from(from.milli) + way * (t - from.at_ms.0) as f64 / took as f64;
                prop_assert!((place - even).abs() < 1e-6);
            }
        }
        prop_assert_eq!(place_at(&marks, Millis(marks[0].at_ms.0 - 1)), None);
        prop_assert_eq!(place_at(&marks, Millis(at + 1)), None);
    }
}
