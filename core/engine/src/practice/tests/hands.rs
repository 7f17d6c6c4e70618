use super::super::hands::PAUSE_MS;
use super::super::{MeterModel, PartModel, Place, PracticeWish, Way};
use super::{Watched, ends, first_practice, middle};
use evenwire_core::meter::Shown;
use evenwire_core::part::EndRefused;
use evenwire_core::unit::{Quantity, Unit};

#[test]
fn hands_touch_every_conductor_as_often_as_it_is_wanted() {
    let mut watched = Watched::new(first_practice(), MeterModel::default(), 77);
    let wanted = usize::from(watched.bench.part().to_part().touches_wanted);
    let mut tables: Vec<Vec<f64>> = Vec::new();
    for index in 0..8 {
        let mut column = Vec::new();
        while column.len() < wanted {
            // The engine repeats what is announced; that must not disturb the hands.
            watched.announce(index);
            column.extend(watched.wait(50).iter().map(middle));
            // Said as long as the clips are still on what was taken; that must not put lifting off.
            if watched.settler.still_on_taken() {
                watched.bench.wish(PracticeWish::Taken).unwrap();
            }
            assert!(watched.bench.now().0 < 60_000, "conductor {index} is never taken");
        }
        tables.push(column);
    }
    watched.bench.wish(PracticeWish::Rest).unwrap();
    assert_eq!(watched.wait(5_000), []);
    assert!(tables.iter().all(|column| column.len() == 2), "one touch for each contact: {tables:?}");
    for (index, column) in tables.iter().enumerate() {
        let near = if index == 3 { 12.2 } else { 0.55 };
        assert!(column.iter().all(|ohm| (ohm - near).abs() < 0.06), "{index}: {column:?}");
    }
    let per_touch = (watched.bench.now().0 - 5_000) / 16;
    assert!((2_200..3_200).contains(&per_touch), "a human tempo, not {per_touch} ms");
}

#[test]
fn clips_are_off_between_two_contacts_long_enough_to_arm() {
    let mut watched = Watched::new(first_practice(), MeterModel::default(), 4);
    watched.clip(0);
    assert_eq!(watched.wait(4_000).len(), 1);
    watched.readings.clear();
    // From one conductor to the next without lifting by key.
    watched.clip(1);
    let touches = watched.wait(4_000);
    assert_eq!(touches.len(), 1);
    let off = watched.readings.iter().filter(|r| r.shown == Shown::OverRange).count();
    assert!(off * 100 >= usize::try_from(PAUSE_MS).unwrap() - 200, "{off}");
    // The same again is already done.
    watched.clip(1);
    assert_eq!(watched.wait(4_000), []);
}

#[test]
fn clips_stay_off_for_as_long_as_lifting_is_said() {
    let mut watched = Watched::new(first_practice(), MeterModel::default(), 4);
    watched.announce(0);
    assert_eq!(watched.wait(4_000).len(), 1);
    // Three times the pause: whoever says it has not seen the clips off yet.
    for _ in 0..3 * PAUSE_MS / 50 {
        watched.bench.wish(PracticeWish::Taken).unwrap();
        watched.wait(50);
    }
    assert!(!watched.bench.clips_are_on());
    watched.wait(200);
    assert!(watched.bench.clips_are_on(), "once it is not said any more they go on again");
}

#[test]
fn leads_held_together_stay_apart_for_as_long_as_lifting_is_said() {
    let mut watched = Watched::new(first_practice(), MeterModel::default(), 4);
    watched.bench.wish(PracticeWish::LeadsTogether).unwrap();
    watched.wait(2_000);
    watched.bench.wish(PracticeWish::Taken).unwrap();
    watched.wait(400);
    watched.readings.clear();
    for _ in 0..3 * PAUSE_MS / 50 {
        watched.bench.wish(PracticeWish::Taken).unwrap();
        watched.wait(50);
    }
    assert!(watched.readings.iter().all(|r| r.shown == Shown::OverRange), "{:?}", watched.readings);
}

#[test]
fn a_conductor_announced_while_clips_are_on_is_clipped_anew() {
    let mut watched = Watched::new(first_practice(), MeterModel::default(), 4);
    watched.clip(2);
    assert_eq!(watched.wait(4_000).len(), 1);
    watched.announce(2);
    assert_eq!(watched.wait(4_000).len(), 1);
    watched.bench.wish(PracticeWish::LeadsTogether).unwrap();
    assert_eq!(watched.wait(4_000).len(), 1);
    watched.announce(2);
    let touches = watched.wait(4_000);
    assert_eq!(touches.len(), 1);
    assert!(middle(&touches[0]) > 0.5);
}

/// The angle each 100 ms while `ms` pass.
fn angles(watched: &mut Watched, ms: u64) -> Vec<f64> {
    let look = |watched: &mut Watched| {
        watched.wait(100);
        watched.bench.turn_milli()
    };
    (0..ms / 100).map(|_| look(watched)).collect()
}

#[test]
fn a_sweep_is_gone_at_an_even_speed_from_mark_to_tone() {
    let mut watched = Watched::new(first_practice(), MeterModel::default(), 31);
    let (from, to) = ends(1);
    let sweep = |way| PracticeWish::Sweep { from, to, way };
    watched.bench.wish(sweep(None)).unwrap();
    assert_eq!(watched.wait(3_000).len(), 1, "the clips are on");
    assert!(watched.bench.turn_milli().abs() < 1e-9, "without a way the part stands");
    let paced = Way { milli: 1_000, within_ms: Some(4_000) };
    watched.bench.wish(sweep(Some(paced))).unwrap();
    let there = angles(&mut watched, 2_000);
    assert!(there.windows(2).all(|pair| (pair[1] - pair[0] - 25.0).abs() < 1e-6), "{there:?}");
    // The engine repeats it; that must not begin the way anew.
    watched.bench.wish(sweep(Some(paced))).unwrap();
    let there = angles(&mut watched, 2_000);
    assert!((there[9] - 750.0).abs() < 1e-6 && (there[19] - 1_000.0).abs() < 1e-6, "{there:?}");
    // By key: there within about three seconds, and no further.
    watched.bench.wish(sweep(Some(Way { milli: -200, within_ms: None }))).unwrap();
    let across = angles(&mut watched, 5_000);
    assert!(across[28] > -200.0 && across[29..].iter().all(|angle| (angle + 200.0).abs() < 1e-6), "{across:?}");
    assert!(watched.readings.iter().all(|r| r.at.0 < 1_000 || r.shown != Shown::OverRange), "never lifted");
}

#[test]
fn after_a_sweep_the_part_is_back_at_its_centre_before_clips_go_on() {
    for after in [PracticeWish::Rest, PracticeWish::Taken] {
        let mut watched = Watched::new(first_practice(), MeterModel::default(), 5);
        let (from, to) = ends(1);
        let way = Some(Way { milli: 2_000, within_ms: Some(1_000) });
        watched.bench.wish(PracticeWish::Sweep { from, to, way: None }).unwrap();
        watched.wait(2_000);
        watched.bench.wish(PracticeWish::Sweep { from, to, way }).unwrap();
        watched.wait(1_000);
        assert!((watched.bench.turn_milli() - 2_000.0).abs() < 1e-6);
        watched.bench.wish(after).unwrap();
        watched.wait(300);
        assert!(!watched.bench.clips_are_on());
        watched.announce(2);
        // 2000 thousandths of a turn take five seconds.
        while !watched.bench.clips_are_on() {
            watched.wait(10);
            assert!(watched.bench.now().0 < 20_000, "they never go on");
        }
        assert!(watched.bench.turn_milli().abs() < 1e-6, "{}", watched.bench.turn_milli());
        assert!(watched.bench.now().0 >= 7_900, "{:?}", watched.bench.now());
    }
}

#[test]
fn a_bench_that_runs_faster_than_life_turns_faster() {
    let (from, to) = ends(0);
    let sweep = |within_ms| PracticeWish::Sweep { from, to, way: Some(Way { milli: 1_000, within_ms }) };
    assert_eq!(sweep(Some(4_000)).at_speed(250), sweep(Some(10_000)));
    assert_eq!(sweep(None).at_speed(250), sweep(None));
    assert_eq!(PracticeWish::Rest.at_speed(250), PracticeWish::Rest);
}

#[test]
fn a_resistor_reads_what_it_has_and_not_what_is_printed() {
    let read = |seed: u64, print: (i64, u8), tolerance| {
        let meter = MeterModel { places: 3, noise_ohm: 0.0, leads_zeroed: true, ..MeterModel::default() };
        let mut watched = Watched::new(first_practice(), meter, seed);
        let printed = Quantity::new(print.0, print.1, Unit::Ohm).unwrap();
        let wish = PracticeWish::Resistor { printed, tolerance_milli_percent: tolerance };
        // From a conductor the clips come off first.
        watched.clip(0);
        assert_eq!(watched.wait(4_000).len(), 1);
        watched.bench.wish(wish.clone()).unwrap();
        let first = watched.wait(4_000);
        assert!(!watched.bench.clips_are_on(), "not on the part");
        watched.bench.lift();
        watched.wait(1_000);
        watched.bench.wish(wish).unwrap();
        let again = watched.wait(4_000);
        assert_eq!((first.len(), again.len()), (1, 1));
        assert!((middle(&first[0]) - middle(&again[0])).abs() < 0.04, "the same resistor");
        middle(&first[0])
    };
    assert!((read(1, (47, 1), 0) - 4.7).abs() < 0.04, "exact");
    let deviations: Vec<f64> = (0..40).map(|seed| read(seed, (47, 1), 5_000) - 4.7).collect();
    // Five per cent of 4.7 ohm, and the contact's 0 to 0.03 with its wander.
    assert!(deviations.iter().all(|d| (-0.245..0.275).contains(d)), "{deviations:?}");
    let (most, least) =
        (deviations.iter().copied().fold(f64::MIN, f64::max), deviations.iter().copied().fold(f64::MAX, f64::min));
    assert!(most > 0.15 && least < -0.12, "{deviations:?}");
    assert!(
        (read(3, (47, 1), 5_000) - 4.7 - (read(3, (470, 2), 5_000) - 4.7)).abs() > 1e-3,
        "another print, another one"
    );
}

#[test]
fn turning_takes_time() {
    let mut watched = Watched::new(first_practice(), MeterModel::default(), 1);
    watched.bench.turn(1_000);
    watched.wait(1_000);
    assert!((watched.bench.turn_milli() - 400.0).abs() < 1.0);
    watched.bench.turn(300);
    watched.wait(1_000);
    assert!((watched.bench.turn_milli() - 300.0).abs() < 0.5);
}

#[test]
fn hands_never_clip_to_an_inflator() {
    // A plug of its own: on one that leads to an inflator no conductor at all could be measured.
    let text = include_str!("../parts/all-good.toml")
        .replacen("[[conductors]]", "[[connectors]]\nname = \"squib\"\ncavities = 2\nrows = 1\n\n[[conductors]]", 1)
        .replacen(
            "from = { connector = \"A\", cavity = 2, at = \"open-plug\" }",
            "drawn_only = true\nfrom = { connector = \"squib\", cavity = 2, at = \"inflator\" }",
            1,
        );
    let mut watched = Watched::new(PartModel::parse(&text).unwrap(), MeterModel::default(), 1);
    let (near, far) = (Place { connector: 2, cavity: 2 }, ends(1).1);
    let other = ends(0).0;
    for wish in [
        PracticeWish::Clip { from: near, to: far },
        PracticeWish::Announced { from: far, to: near },
        PracticeWish::Sweep { from: near, to: far, way: None },
        PracticeWish::Isolation { from: near, to: None },
        PracticeWish::Isolation { from: other, to: Some(near) },
        PracticeWish::Clip { from: other, to: near },
        // The far end of that conductor leads to it.
        PracticeWish::Clip { from: far, to: other },
    ] {
        assert_eq!(watched.bench.wish(wish.clone()), Err(EndRefused::Inflator), "{wish:?}");
    }
    assert_eq!(watched.wait(5_000), []);
    assert_eq!(watched.values(), Vec::<f64>::new());
    watched.clip(0);
    assert_eq!(watched.wait(5_000).len(), 1);
}
