use super::super::chance::Chance;
use super::super::encoding::Encoding;
use super::super::meter_model::LEAD_OHM;
use super::super::{MeterModel, Misbehaviour, PartModel, PracticeBench, PracticeWish};
use super::{Watched, ends, first_practice, middle};
use evenwire_core::meter::{FrameError, Shown, built_in, choose};
use evenwire_core::unit::{Millis, Quantity, Unit};
use std::cmp::Ordering;

/// Clips a touch or two with a step of the given length.
fn stream(seed: u64, step_ms: u64) -> Vec<(u64, Vec<u8>)> {
    let mut bench = PracticeBench::new(first_practice(), MeterModel::default(), seed);
    let mut frames = Vec::new();
    for (second, index) in (0..12).map(|i| (i * 3_000, usize::try_from(i).unwrap() % 8)) {
        let (from, to) = ends(index);
        bench.clip(from, to).unwrap();
        let mut at = second;
        while at < second + 3_000 {
            at = (at + step_ms).min(second + 3_000);
            frames.extend(bench.step(Millis(at)).into_iter().map(|f| (f.at.0, f.bytes)));
        }
    }
    frames
}

#[test]
fn the_same_seed_gives_the_same_bytes_however_finely_time_is_cut() {
    let whole = stream(41, 3_000);
    assert!((335..=360).contains(&whole.len()), "{}", whole.len());
    assert_eq!(whole, stream(41, 3_000));
    assert_eq!(whole, stream(41, 7));
    assert_ne!(whole, stream(42, 3_000));
}

#[test]
fn a_sound_contact_settles_to_its_model_and_gives_exactly_one_touch() {
    for places in 1..=3u8 {
        let step = 10f64.powi(-i32::from(places));
        let meter = MeterModel { places, auto_range: false, top_ohm: 2_000, ..MeterModel::default() };
        let mut watched = Watched::new(first_practice(), meter, 100 + u64::from(places));
        for index in 0..8 {
            watched.clip(index);
            let touches = watched.wait(9_000);
            assert_eq!(touches.len(), 1, "conductor {index}, {places} places");
            let model = watched.bench.part().ohm(index, 0.0, (0, 0)).unwrap() + LEAD_OHM;
            let above = middle(&touches[0]) - model;
            // Contact 0 to 0.03, wander 0.004, fresh contact 0.001, noise 0.006, half a step of rounding.
            assert!(above > -0.011 - step / 2.0 && above < 0.041 + step / 2.0, "{index}: {above}");
            assert_eq!(touches[0].places, places);
            watched.bench.lift();
            assert_eq!(watched.wait(1_000), []);
        }
        assert_eq!(watched.errors, []);
    }
}

#[test]
fn a_fresh_contact_reads_too_high_and_is_steady_after_half_a_second() {
    let meter = MeterModel { places: 3, noise_ohm: 0.0, ..MeterModel::default() };
    let mut watched = Watched::new(first_practice(), meter, 21);
    let mut highest = 0.0f64;
    for _ in 0..10 {
        watched.clip(0);
        watched.readings.clear();
        watched.wait(2_500);
        // The reading during which the clips went on is partly open.
        let ohms: Vec<f64> = watched.values().into_iter().filter(|ohm| *ohm < 5.0).collect();
        let settled = *ohms.last().unwrap();
        assert!(ohms[0] - settled < 0.16, "{ohms:?}");
        assert!(ohms[5..].iter().all(|ohm| (ohm - settled).abs() < 0.009), "{ohms:?}");
        highest = highest.max(ohms[0] - settled);
        watched.bench.lift();
        watched.wait(1_000);
    }
    assert!(highest > 0.02, "{highest}");
}

#[test]
fn contacts_differ_from_touch_to_touch() {
    let mut watched = Watched::new(first_practice(), MeterModel { places: 3, ..MeterModel::default() }, 5);
    let mut seen = Vec::new();
    for _ in 0..30 {
        watched.clip(0);
        seen.extend(watched.wait(4_000).iter().map(middle));
        watched.bench.lift();
        watched.wait(900);
    }
    assert_eq!(seen.len(), 30);
    let spread = seen.iter().copied().fold(f64::MIN, f64::max) - seen.iter().copied().fold(f64::MAX, f64::min);
    assert!((0.015..0.05).contains(&spread), "{spread}");
}

#[test]
fn noise_and_rounding_have_the_size_they_are_set_to() {
    for (places, noise) in [(3u8, 0.01), (2, 0.03), (1, 0.08)] {
        let meter = MeterModel { places, noise_ohm: noise, ..MeterModel::default() };
        let mut watched = Watched::new(first_practice(), meter, 9);
        watched.clip(2);
        watched.wait(3_000);
        watched.readings.clear();
        for _ in 0..40 {
            watched.wait(10_000);
        }
        let values = watched.values();
        assert!(values.len() > 3_500);
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let variance = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / values.len() as f64;
        let step = 10f64.powi(-i32::from(places));
        let wanted = (noise * noise + step * step / 12.0).sqrt();
        let ratio = variance.sqrt() / wanted;
        assert!((0.9..1.15).contains(&ratio), "{places} places: {ratio}");
        assert!((mean - 0.543).abs() < 0.04, "{mean}");
    }
}

#[test]
fn over_range_never_gives_a_touch() {
    let text = include_str!("../parts/first-practice.toml")
        .replace("fault = { kind = \"added\", ohm = 11.650 }", "fault = { kind = \"open\" }");
    let part = PartModel::parse(&text).unwrap();
    let mut watched = Watched::new(part, MeterModel::default(), 3);
    watched.clip(3);
    assert_eq!(watched.wait(20_000), []);
    watched.bench.lift();
    watched.wait(2_000);
    // Two cavities that no conductor joins.
    let (from, to) = (ends(0).0, ends(1).1);
    watched.bench.clip(from, to).unwrap();
    assert_eq!(watched.wait(20_000), []);
    assert_eq!(watched.over_ranges(), watched.readings.len());
    assert!(watched.readings.len() > 380);
}

#[test]
fn above_the_top_of_a_locked_range_is_over_range() {
    let meter = MeterModel { top_ohm: 6, ..MeterModel::default() };
    let mut watched = Watched::new(first_practice(), meter, 3);
    watched.clip(3);
    assert_eq!(watched.wait(5_000), []);
    watched.clip(0);
    assert_eq!(watched.wait(5_000).len(), 1);
    assert_eq!(watched.decoder.facts().top.unwrap().to_string(), "6");
}

#[test]
fn every_encoding_says_the_same() {
    let encodings = [Encoding::Medfloat32, Encoding::TextLine, Encoding::StatusInteger];
    let shown = encodings.map(|encoding| {
        let meter = MeterModel { encoding, ..MeterModel::default() };
        let mut watched = Watched::new(first_practice(), meter, 12);
        watched.clip(3);
        assert_eq!(watched.wait(6_000).len(), 1, "{encoding:?}");
        watched.bench.lift();
        watched.wait(1_000);
        assert_eq!(watched.errors, [], "{encoding:?}");
        assert_eq!(watched.decoder.skipped(), 0);
        watched.readings.iter().map(|r| (r.at, r.shown)).collect::<Vec<_>>()
    });
    assert!(shown[0].iter().any(|(_, s)| *s == Shown::OverRange));
    assert_eq!(shown[0], shown[1]);
    assert_eq!(shown[0], shown[2]);
}

#[test]
fn leads_together_show_what_zeroing_takes_off() {
    let mut watched = Watched::new(first_practice(), MeterModel::default(), 2);
    watched.bench.wish(PracticeWish::LeadsTogether).unwrap();
    let touches = watched.wait(4_000);
    assert_eq!(touches.len(), 1);
    assert!((0.19..=0.24).contains(&middle(&touches[0])), "{}", middle(&touches[0]));
    let zeroed = MeterModel { leads_zeroed: true, ..MeterModel::default() };
    let mut watched = Watched::new(first_practice(), zeroed, 2);
    watched.clip(0);
    let touches = watched.wait(4_000);
    assert!((0.33..=0.39).contains(&middle(&touches[0])), "{}", middle(&touches[0]));
}

#[test]
fn an_auto_ranging_meter_loses_places_above_its_counts() {
    let meter = MeterModel { places: 3, auto_range: true, ..MeterModel::default() };
    let mut watched = Watched::new(first_practice(), meter, 2);
    watched.clip(3);
    let touches = watched.wait(5_000);
    assert_eq!(touches[0].places, 2);
    watched.clip(0);
    assert_eq!(watched.wait(5_000)[0].places, 3);
    for auto_range in [false, true] {
        let meter = MeterModel { encoding: Encoding::StatusInteger, auto_range, ..MeterModel::default() };
        let mut watched = Watched::new(first_practice(), meter, 2);
        watched.wait(1_000);
        assert!(watched.readings.iter().all(|r| r.flags.auto_range == Some(auto_range)));
        assert_eq!(watched.readings.len(), 9);
    }
}

#[test]
fn a_meter_that_misbehaves_gives_no_touch() {
    for how in [Misbehaviour::LowBattery, Misbehaviour::Hold] {
        let meter = MeterModel { encoding: Encoding::StatusInteger, ..MeterModel::default() };
        let mut watched = Watched::new(first_practice(), meter, 8);
        watched.wait(2_000);
        watched.bench.misbehave(Some(how));
        watched.clip(0);
        assert_eq!(watched.wait(8_000), [], "{how:?}");
        let signs = |r: &evenwire_core::meter::Reading| (r.flags.low_battery, r.flags.hold);
        let last = signs(watched.readings.last().unwrap());
        assert_eq!(last, (how == Misbehaviour::LowBattery, how == Misbehaviour::Hold));
        watched.bench.lift();
        watched.wait(1_000);
        watched.bench.misbehave(None);
        watched.wait(1_000);
        watched.clip(0);
        assert_eq!(watched.wait(5_000).len(), 1, "{how:?} is over");
    }
}

#[test]
fn a_starving_display_without_signs_blanks_and_gives_no_touch() {
    let meter = MeterModel { misbehaviour: Some(Misbehaviour::LowBattery), ..MeterModel::default() };
    let mut watched = Watched::new(first_practice(), meter, 8);
    watched.clip(0);
    assert_eq!(watched.wait(8_000), []);
    assert!(watched.readings.iter().filter(|r| r.shown == Shown::Blank).count() > 30);
}

#[test]
fn a_wrong_unit_is_never_ohm() {
    let wrong =
        |encoding| MeterModel { encoding, misbehaviour: Some(Misbehaviour::WrongUnit), ..MeterModel::default() };
    let bench = PracticeBench::new(first_practice(), wrong(Encoding::Medfloat32), 1);
    assert!(choose(&bench.offer(), &built_in()).is_err());
    for encoding in [Encoding::TextLine, Encoding::StatusInteger] {
        let mut watched = Watched::new(first_practice(), wrong(encoding), 1);
        watched.clip(0);
        assert_eq!(watched.wait(5_000), []);
        assert!(watched.readings.iter().all(|r| !matches!(r.shown, Shown::Value(q) if q.unit() == Unit::Ohm)));
        assert!(watched.errors.iter().any(|e| matches!(e, FrameError::WrongUnit { .. })), "{encoding:?}");
    }
}

#[test]
fn garbage_is_told_and_never_read_as_a_value() {
    for encoding in [Encoding::Medfloat32, Encoding::TextLine, Encoding::StatusInteger] {
        let meter = MeterModel { encoding, misbehaviour: Some(Misbehaviour::Garbage), ..MeterModel::default() };
        let mut watched = Watched::new(first_practice(), meter, 6);
        watched.clip(0);
        watched.wait(60_000);
        let contact = watched.readings.iter().filter(|r| r.at > Millis(1_500));
        let value = |shown| if let Shown::Value(q) = shown { q.to_f64() } else { 0.55 };
        assert!(contact.clone().all(|r| (0.5..0.62).contains(&value(r.shown))), "{encoding:?}");
        assert!(watched.decoder.skipped() > 500, "{encoding:?}: {}", watched.decoder.skipped());
        assert!(watched.values().len() > 200, "{encoding:?}");
    }
}

#[test]
fn after_a_long_sleep_only_the_last_readings_come() {
    let mut bench = PracticeBench::new(first_practice(), MeterModel::default(), 1);
    let night = Millis(9 * 3_600_000);
    let frames = bench.step(night);
    assert!((1..=super::super::bench::MOST_FRAMES).contains(&frames.len()), "{}", frames.len());
    assert!(frames.windows(2).all(|pair| pair[0].at < pair[1].at));
    assert!(night.since(frames.last().unwrap().at).0 <= 110);
    assert!(bench.step(Millis(5)).is_empty(), "time does not go back");
    assert_eq!(bench.now(), night);
}

#[test]
fn the_practice_meter_tells_its_whole_range_and_shows_it() {
    for encoding in [Encoding::Medfloat32, Encoding::StatusInteger] {
        let meter = MeterModel { encoding, noise_ohm: 0.0, ..MeterModel::default() };
        let bench = PracticeBench::new(first_practice(), meter, 1);
        let choice = choose(&bench.offer(), &built_in()).unwrap();
        let mut decoder = choice.decoder(1, None).unwrap();
        let mut shown = |ohm: Option<f64>| {
            let display = bench.meter().display(ohm, &mut Chance::new(1));
            let reading = decoder.push(&encoding.bytes(&display), Millis(0)).remove(0).unwrap();
            match reading.shown {
                Shown::Value(value) => format!("{value} by {}", reading.step.unwrap()),
                other => format!("{other:?}"),
            }
        };
        for (ohm, wanted) in [
            (-0.054, "-0.05 by 0.01"),
            (12.004, "12.00 by 0.01"),
            (59.994, "59.99 by 0.01"),
            (59.996, "60.0 by 0.1"),
            (60.04, "60.0 by 0.1"),
            (5_999.4, "5999 by 1"),
            (5_999.6, "6000 by 10"),
            (6_001.0, "6000 by 10"),
            (12_344.0, "12340 by 10"),
            (123_456.0, "123500 by 100"),
            (1_234_567.0, "1235000 by 1000"),
            (12_345_678.0, "12350000 by 10000"),
            (20_000_000.0, "20000000 by 10000"),
            (20_000_001.0, "OverRange"),
        ] {
            assert_eq!(shown(Some(ohm)), wanted, "{encoding:?}");
        }
        assert_eq!(shown(None), "OverRange");
        assert_eq!(
            decoder.facts().top.unwrap().compare(Quantity::new(20_000_000, 0, Unit::Ohm).unwrap()),
            Some(Ordering::Equal)
        );
    }
}

#[test]
fn a_range_ends_no_later_than_the_meter_says() {
    for (encoding, auto_range, wanted) in [
        (Encoding::TextLine, true, 600),
        (Encoding::TextLine, false, 600),
        (Encoding::Medfloat32, false, 6_000),
        (Encoding::Medfloat32, true, 20_000_000),
    ] {
        let meter = MeterModel { encoding, auto_range, top_ohm: u32::MAX, ..MeterModel::default() };
        let bench = PracticeBench::new(first_practice(), meter, 1);
        let told = choose(&bench.offer(), &built_in()).unwrap().decoder(1, None).unwrap().facts().top.unwrap();
        assert_eq!((bench.meter().top_ohm, told.to_f64() as u32), (wanted, wanted), "{encoding:?} {auto_range}");
    }
}
