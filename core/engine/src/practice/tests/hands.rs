use super::super::hands::PAUSE_MS;
use super::super::{MeterModel, PartModel, Place, PracticeWish};
use super::{Watched, ends, first_practice, middle};
use evenwire_core::meter::Shown;
use evenwire_core::part::EndRefused;

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

#[test]
fn a_fault_that_shows_only_while_turning_is_seen_in_the_sweep() {
    let seen = [1, 2].map(|index| {
        let part = PartModel::built_in("only-turning").unwrap();
        let mut watched = Watched::new(part, MeterModel::default(), 31);
        watched.clip(index);
        assert_eq!(watched.wait(4_000).len(), 1, "sound at rest");
        let (from, to) = ends(index);
        watched.bench.wish(PracticeWish::Sweep { from, to }).unwrap();
        watched.readings.clear();
        let mut angles = Vec::new();
        for _ in 0..3_000 {
            watched.wait(10);
            angles.push(watched.bench.turn_milli());
        }
        let over = watched.over_ranges();
        let most = angles.iter().copied().fold(f64::MIN, f64::max);
        let least = angles.iter().copied().fold(f64::MAX, f64::min);
        assert_eq!(((most / 10.0).round(), (least / 10.0).round()), (250.0, -250.0), "both ends of its travel");
        watched.bench.wish(PracticeWish::Rest).unwrap();
        watched.wait(8_000);
        assert!(watched.bench.turn_milli().abs() < 0.5, "back at the centre");
        over
    });
    assert_eq!(seen[0], 0, "a sound neighbour never breaks");
    assert!(seen[1] >= 3, "{seen:?}");
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
            "from = { connector = \"column side\", cavity = 2, at = \"open-plug\" }",
            "drawn_only = true\nfrom = { connector = \"squib\", cavity = 2, at = \"inflator\" }",
            1,
        );
    let mut watched = Watched::new(PartModel::parse(&text).unwrap(), MeterModel::default(), 1);
    let (near, far) = (Place { connector: 2, cavity: 2 }, ends(1).1);
    let other = ends(0).0;
    for wish in [
        PracticeWish::Clip { from: near, to: far },
        PracticeWish::Announced { from: far, to: near },
        PracticeWish::Sweep { from: near, to: far },
        PracticeWish::Clip { from: other, to: near },
        // The far end of that conductor leads to it.
        PracticeWish::Clip { from: far, to: other },
    ] {
        assert_eq!(watched.bench.wish(wish), Err(EndRefused::Inflator), "{wish:?}");
    }
    assert_eq!(watched.wait(5_000), []);
    assert_eq!(watched.values(), Vec::<f64>::new());
    watched.clip(0);
    assert_eq!(watched.wait(5_000).len(), 1);
}
