//! The trace of a slow turn, read off the meter of an invented bench.

use super::cases::judge_line;
use super::numbers::{at_most, below, lower_median, median, six_places, sum};
use super::*;
use proptest::prelude::*;
use serde_json::Value;

/// 24 seconds at five readings a second, on a 0.01 ohm display, level 0.35 with its last digit flickering.
fn slow_turn() -> SweepInput {
    let samples = (0..121)
        .map(|i| {
            let t = f64::from(i) * 0.2;
            let ohms = if i % 3 == 0 { 0.36 } else { 0.35 };
            SweepSample { t, ohms: Some(ohms), angle: Some(f64::from(i) * 7.0 - 420.0) }
        })
        .collect();
    SweepInput { resolution: 0.01, samples, jump: JUMP_OHM, min_s: MIN_S }
}

/// The same turn with some readings replaced.
fn with(readings: &[(usize, Option<f64>)]) -> SweepInput {
    let mut input = slow_turn();
    for (i, ohms) in readings {
        input.samples[*i].ohms = *ohms;
    }
    input
}

#[test]
fn a_sound_conductor_is_steady_and_nothing_is_said_against_it() {
    let outcome = examine(&slow_turn());
    assert_eq!(outcome.verdict, SweepVerdict::Steady);
    assert!(outcome.codes.is_empty() && outcome.events.is_empty() && outcome.gaps.is_empty());
    assert_eq!(outcome.rate.map(six_places), Some(5.0));
}

#[test]
fn two_raised_readings_are_a_jump_and_one_is_a_spike() {
    let outcome = examine(&with(&[(40, Some(0.45)), (41, Some(0.46))]));
    assert_eq!(outcome.verdict, SweepVerdict::Jump);
    let [event] = outcome.events.as_slice() else { panic!("{:?}", outcome.events) };
    assert_eq!((event.kind, event.samples, event.angle), (EventKind::Jump, 2, Some(-133.0)));
    assert_eq!((six_places(event.start), six_places(event.duration)), (8.0, 0.4));

    let outcome = examine(&with(&[(40, Some(0.44))]));
    assert_eq!(outcome.verdict, SweepVerdict::Steady);
    assert_eq!(outcome.codes, BTreeSet::from([SweepCode::SpikeSeen]));
    assert_eq!(outcome.events[0].kind, EventKind::Spike);
}

#[test]
fn one_reading_over_twice_the_threshold_is_a_jump_and_so_are_three_spikes() {
    assert_eq!(examine(&with(&[(40, Some(0.50))])).verdict, SweepVerdict::Jump);
    let two = with(&[(20, Some(0.44)), (40, Some(0.44))]);
    assert_eq!(examine(&two).verdict, SweepVerdict::Steady);
    let three = with(&[(20, Some(0.44)), (40, Some(0.44)), (60, Some(0.44))]);
    assert_eq!(examine(&three).verdict, SweepVerdict::Jump);
}

#[test]
fn a_fall_below_the_level_is_a_jump_too_and_keeps_its_sign() {
    let outcome = examine(&with(&[(40, Some(0.05)), (41, Some(0.02))]));
    assert_eq!(outcome.verdict, SweepVerdict::Jump);
    assert!(outcome.events[0].peak.unwrap() < -0.3, "{:?}", outcome.events);
}

#[test]
fn one_over_range_reading_is_a_dropout_and_a_kilo_ohm_is_over_range() {
    for lost in [None, Some(1000.0), Some(f64::INFINITY)] {
        let outcome = examine(&with(&[(40, lost)]));
        assert_eq!(outcome.verdict, SweepVerdict::Dropout, "{lost:?}");
        assert_eq!(outcome.events[0].peak, None);
        assert_eq!(outcome.events[0].angle, Some(-140.0));
    }
    assert_eq!(examine(&with(&[(40, Some(999.0))])).verdict, SweepVerdict::Jump);
}

#[test]
fn a_fault_split_by_one_good_reading_is_one_fault() {
    let outcome = examine(&with(&[(40, Some(0.44)), (42, Some(0.44))]));
    assert_eq!(outcome.events.len(), 1);
    assert_eq!((outcome.events[0].kind, outcome.events[0].samples), (EventKind::Jump, 2));
    let outcome = examine(&with(&[(40, Some(0.44)), (43, Some(0.44))]));
    assert_eq!(outcome.events.len(), 2);
}

#[test]
fn faults_do_not_join_across_a_hole() {
    let mut input = with(&[(40, Some(0.44)), (42, Some(0.44))]);
    for sample in &mut input.samples[41..] {
        sample.t += 5.0;
    }
    let outcome = examine(&input);
    assert_eq!(outcome.events.len(), 2);
    assert_eq!(outcome.verdict, SweepVerdict::GapInStream);
    assert_eq!(
        outcome.gaps.iter().map(|g| (six_places(g.start), six_places(g.length))).collect::<Vec<_>>(),
        [(8.0, 5.2)]
    );
}

#[test]
fn two_faults_within_fifteen_degrees_are_at_one_place() {
    let mut input = with(&[(20, Some(0.9)), (80, Some(0.9))]);
    input.samples[80].angle = input.samples[20].angle.map(|a| a + 15.0);
    assert!(examine(&input).codes.contains(&SweepCode::SameAngle));
    input.samples[80].angle = input.samples[20].angle.map(|a| a + 15.1);
    assert!(!examine(&input).codes.contains(&SweepCode::SameAngle));
    input.samples[80].angle = None;
    assert!(!examine(&input).codes.contains(&SweepCode::SameAngle));
}

#[test]
fn clips_going_on_and_off_are_cut_away_up_to_two_seconds() {
    let open = |range: std::ops::Range<usize>| with(&range.map(|i| (i, None)).collect::<Vec<_>>());
    // Readings 0 to 9 over-range, the first finite one at 2.0 s.
    let outcome = examine(&open(0..10));
    assert_eq!(outcome.verdict, SweepVerdict::Steady);
    assert_eq!(outcome.codes, BTreeSet::from([SweepCode::EndsTrimmed]));
    assert_eq!(examine(&open(0..11)).verdict, SweepVerdict::Dropout);
    assert_eq!(examine(&open(111..121)).verdict, SweepVerdict::Steady);
    assert_eq!(examine(&open(110..121)).verdict, SweepVerdict::Dropout);
}

#[test]
fn over_range_throughout_is_a_dropout_only_with_enough_readings() {
    let mut input = with(&(0..121).map(|i| (i, None)).collect::<Vec<_>>());
    let outcome = examine(&input);
    assert_eq!(outcome.verdict, SweepVerdict::Dropout);
    assert!(outcome.codes.contains(&SweepCode::OpenThroughout));
    input.samples.truncate(29);
    assert_eq!(examine(&input).verdict, SweepVerdict::TooFewSamples);
    input.samples.clear();
    assert_eq!(examine(&input).verdict, SweepVerdict::TooFewSamples);
}

#[test]
fn what_is_no_reading_is_left_out_and_named() {
    for bad in [Some(f64::NAN), Some(f64::NEG_INFINITY)] {
        let outcome = examine(&with(&[(40, bad)]));
        assert_eq!(outcome.verdict, SweepVerdict::Steady);
        assert_eq!(outcome.codes, BTreeSet::from([SweepCode::BadSamples]));
    }
    let mut input = slow_turn();
    input.samples[40].t = input.samples[39].t;
    assert!(examine(&input).codes.contains(&SweepCode::BadSamples));
}

#[test]
fn short_thin_and_noisy_streams_are_never_steady() {
    let mut short = slow_turn();
    short.samples.truncate(50);
    assert_eq!(examine(&short).verdict, SweepVerdict::TooShort);
    short.samples.push(SweepSample { t: 10.0, ohms: Some(0.35), angle: None });
    assert_eq!(examine(&short).verdict, SweepVerdict::Steady, "ten seconds are enough");

    let mut thin = slow_turn();
    thin.samples.truncate(40);
    for sample in &mut thin.samples {
        sample.t *= 4.0;
    }
    assert_eq!(examine(&thin).verdict, SweepVerdict::TooFewSamples, "40 readings, but 1.25 a second");

    let mut noisy = slow_turn();
    for (i, sample) in noisy.samples.iter_mut().enumerate() {
        sample.ohms = Some(0.35 + 0.02 * ((i * 7) % 5) as f64);
    }
    assert_eq!(examine(&noisy).verdict, SweepVerdict::Noisy);
}

#[test]
fn a_level_that_climbs_faster_than_leads_warm_is_drift_and_a_jump() {
    let mut input = slow_turn();
    for sample in &mut input.samples {
        sample.ohms = Some(0.35 + sample.t * 0.6 / 60.0);
    }
    let outcome = examine(&input);
    assert_eq!(outcome.verdict, SweepVerdict::Jump);
    assert!(outcome.codes.contains(&SweepCode::Drift));
    assert_eq!(outcome.slope.map(six_places), Some(six_places(0.05 / 60.0)), "no more is taken off than is plausible");
}

#[test]
fn a_fine_display_that_never_moves_is_named() {
    let mut input = with(&(0..121).map(|i| (i, Some(0.351))).collect::<Vec<_>>());
    assert!(!examine(&input).codes.contains(&SweepCode::DisplayNeverMoved), "a 0.01 display may stand still");
    input.resolution = 0.001;
    assert!(examine(&input).codes.contains(&SweepCode::DisplayNeverMoved));
    input.samples[60].ohms = Some(0.352);
    assert!(!examine(&input).codes.contains(&SweepCode::DisplayNeverMoved));
}

#[test]
fn limits_belong_to_the_allowed_side_whatever_binary_makes_of_them() {
    assert!(at_most(0.3 - 0.1, 0.2) && at_most(0.2, 0.3 - 0.1) && !below(0.2, 0.3 - 0.1));
    assert!(at_most(0.1 + 0.2, 0.3) && !at_most(0.300_001, 0.3) && below(0.3, 0.300_001));
    // Half a millionth goes to the even neighbour, which is "equal"; one and a half does not.
    assert!(at_most(5e-7, 0.0) && !below(-5e-7, 0.0) && !at_most(1.5e-6, 0.0));
    assert!(!at_most(f64::NAN, 1.0) && !below(f64::NAN, 1.0), "what cannot be computed proves nothing");
    assert_eq!(six_places(-1e-9).to_string(), "0");
    assert_eq!((median(&[3.0, 1.0, 2.0, 10.0]), lower_median(&[3.0, 1.0, 2.0, 10.0])), (Some(2.5), Some(2.0)));
    assert_eq!((median(&[]), lower_median(&[])), (None, None));
    assert_eq!(sum([1e16, 1.0, -1e16]), 1.0, "a plain sum loses the one");
}

#[test]
fn a_case_line_may_hold_what_json_does_not_know() {
    let line = r#"{"test":"sweep","id":"a NaN in a text","resolution":0.01,"samples":[[0,NaN],[1,0.35],[2,Infinity,3],[3,-Infinity],[4,1e999],[5,"x"],6,[7,0.35]]}"#;
    let answer: Value = serde_json::from_str(&judge_line(line).unwrap().unwrap()).unwrap();
    assert_eq!(answer["id"], "a NaN in a text");
    assert_eq!(answer["verdict"], "dropout");
    assert_eq!(answer["codes"], serde_json::json!(["BAD_SAMPLES"]));
    assert_eq!(answer["events"][0]["samples"], 2);
    assert_eq!(judge_line(r#"{"test":"verdict"}"#).unwrap(), None);
    for bad in ["", "[]", "{", r#"{"test":"sweep","resolution":0}"#, r#"{"test":"sweep","resolution":1,"samples":3}"#] {
        assert!(judge_line(bad).is_err(), "{bad}");
    }
}

fn any_samples() -> impl Strategy<Value = Vec<(f64, Option<f64>, Option<f64>)>> {
    let ohms = prop_oneof![6 => (0.0..2.0).prop_map(Some), 1 => Just(None), 1 => any::<f64>().prop_map(Some)];
    let step = prop_oneof![8 => 0.01..0.6_f64, 1 => any::<f64>()];
    prop::collection::vec((step, ohms, prop::option::of(any::<f64>())), 0..150)
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 300, rng_seed: prop::test_runner::RngSeed::Fixed(24), failure_persistence: None, ..Default::default()
    })]

    /// Whatever a stream holds, it is examined; and steady means long, dense, unbroken and free of over-range inside.
    #[test]
    fn steady_is_said_only_of_a_stream_that_shows_it(
        steps in any_samples(), resolution in prop_oneof![Just(0.001), Just(0.1), any::<f64>()],
    ) {
        let mut t = 0.0;
        let samples = steps
            .iter()
            .map(|(step, ohms, angle)| {
                t += step;
                SweepSample { t, ohms: *ohms, angle: *angle }
            })
            .collect();
        let outcome = examine(&SweepInput { resolution, samples, jump: JUMP_OHM, min_s: MIN_S });
        if outcome.verdict == SweepVerdict::Steady {
            prop_assert!(outcome.gaps.is_empty() && outcome.rate.unwrap() >= MIN_RATE - 1e-6);
            prop_assert!(outcome.events.iter().all(|e| e.kind == EventKind::Spike));
        }
    }

    /// A raised stretch of half a second and more is found wherever it lies, and a lost contact however short.
    #[test]
    fn a_fault_is_found_wherever_it_lies(at in 15_usize..100, length in 3_usize..6, size in 0.1_f64..5.0) {
        let raised: Vec<_> = (at..at + length).map(|i| (i, Some(0.36 + size))).collect();
        prop_assert_eq!(examine(&with(&raised)).verdict, SweepVerdict::Jump);
        prop_assert_eq!(examine(&with(&[(at, None)])).verdict, SweepVerdict::Dropout);
    }
}
