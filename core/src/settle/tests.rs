//! The rules of settling, each as a contact at the bench.

use super::*;
use crate::meter::Flags;
use proptest::prelude::*;

/// A meter with 0.01 ohm steps and ten readings a second.
struct Clips {
    settler: Settler,
    at: u64,
    period: u64,
    flags: Flags,
    generation: u32,
    told: Vec<(u64, Contact)>,
}

impl Clips {
    fn every(period: u64) -> Clips {
        let settler = Settler::new(Some(Millis(period)));
        Clips { settler, at: 10_000, period, flags: Flags::default(), generation: 1, told: Vec::new() }
    }

    fn show(&mut self, shown: Shown) -> &mut Clips {
        self.at += self.period;
        let step = Quantity::new(1, 2, Unit::Ohm);
        let reading = Reading { shown, step, at: Millis(self.at), flags: self.flags, generation: self.generation };
        if let Some(contact) = self.settler.push(reading) {
            self.told.push((self.at, contact));
        }
        self
    }

    fn off(&mut self, ms: u64) -> &mut Clips {
        for _ in 0..ms.div_ceil(self.period) {
            self.show(Shown::OverRange);
        }
        self
    }

    /// Hundredths of an ohm, over and over for `ms`.
    fn on(&mut self, digits: &[i64], ms: u64) -> &mut Clips {
        let count = ms.div_ceil(self.period) as usize;
        for d in digits.iter().cycle().take(count) {
            self.ohm(*d);
        }
        self
    }

    fn ohm(&mut self, digits: i64) -> &mut Clips {
        self.show(Shown::Value(Quantity::new(digits, 2, Unit::Ohm).unwrap()))
    }

    fn touches(&self) -> Vec<&Touch> {
        self.told.iter().filter_map(|(_, c)| if let Contact::Taken(t) = c { Some(t) } else { None }).collect()
    }
}

#[test]
fn a_still_contact_is_taken_once_after_half_a_second_and_one_more() {
    let mut clips = Clips::every(100);
    clips.off(600);
    let onset = clips.at + 100;
    clips.on(&[35], 4_000);
    assert_eq!(clips.told.len(), 1);
    let (at, Contact::Taken(touch)) = &clips.told[0] else { panic!("not taken") };
    assert_eq!(*at, onset + SKIP_MS + STILL_MS);
    assert_eq!(touch.kind, TouchKind::Settled);
    assert_eq!(touch.digits, vec![35; 11]);
    assert_eq!((touch.from_ms, touch.to_ms), (Millis(onset + SKIP_MS), Millis(*at)));
    assert_eq!(touch.middle(), Quantity::new(35, 2, Unit::Ohm));
}

#[test]
fn one_contact_never_counts_twice_and_the_next_one_does() {
    let mut clips = Clips::every(100);
    clips.off(600).on(&[35], 10_000);
    assert_eq!(clips.touches().len(), 1);
    assert_eq!(clips.settler.phase(), Phase::Lift);
    assert!(clips.settler.still_on_taken());
    // A flicker of over-range while the clips stay on is no new contact.
    clips.off(300).on(&[35], 3_000);
    assert_eq!(clips.touches().len(), 1);
    clips.off(600).on(&[36], 3_000);
    assert_eq!(clips.touches().len(), 2);
}

#[test]
fn a_fresh_connection_asks_for_the_clips_to_come_off_first() {
    let mut clips = Clips::every(100);
    clips.on(&[35], 5_000);
    assert_eq!((clips.told.len(), clips.settler.phase()), (0, Phase::Lift));
}

#[test]
fn over_range_is_never_taken_by_itself_and_only_by_key_after_a_second() {
    let (top, step) = (Quantity::new(2_000, 0, Unit::Ohm).unwrap(), Quantity::new(1, 2, Unit::Ohm).unwrap());
    let mut clips = Clips::every(100);
    clips.off(900);
    assert!(!clips.settler.over_range_stands());
    assert_eq!(clips.settler.take_over_range(top, step), Err(NotOpen::NotOverRange));
    clips.off(60_000);
    assert!(clips.told.is_empty());
    let touch = clips.settler.take_over_range(top, step).unwrap();
    assert_eq!((touch.kind, touch.digits.len()), (TouchKind::OverRange, 0));
    assert_eq!(touch.to_ms.0 - touch.from_ms.0, STILL_MS);
    // The same display cannot be taken at once for a second touch.
    assert_eq!(clips.settler.take_over_range(top, step), Err(NotOpen::NotOverRange));
}

#[test]
fn a_touch_keeps_what_the_meter_told_of_its_range() {
    let (top, step) = (Quantity::new(2_000, 0, Unit::Ohm).unwrap(), Quantity::new(1, 2, Unit::Ohm).unwrap());
    for auto_range in [None, Some(true), Some(false)] {
        let mut clips = Clips { flags: Flags { auto_range, ..Flags::default() }, ..Clips::every(100) };
        clips.off(2_000).on(&[35], 3_000).off(2_000);
        assert_eq!(clips.touches().first().map(|touch| touch.auto_range), Some(auto_range));
        assert_eq!(clips.settler.take_over_range(top, step).map(|touch| touch.auto_range), Ok(auto_range));
    }
}

#[test]
fn a_blank_display_is_never_taken_for_an_open_conductor() {
    let top = Quantity::new(2_000, 0, Unit::Ohm).unwrap();
    let mut clips = Clips::every(100);
    for _ in 0..30 {
        clips.show(Shown::Blank);
    }
    clips.show(Shown::OverRange);
    assert_eq!(clips.settler.open_contact(top), Err(NotOpen::NotOverRange));
    assert_eq!(clips.settler.phase(), Phase::Clip, "but the clips were off");
    clips.off(1_100);
    assert!(clips.settler.open_contact(top).is_ok());
}

#[test]
fn a_contact_heard_of_late_has_to_come_off_first() {
    let mut clips = Clips::every(100);
    clips.off(600);
    clips.settler.announce();
    clips.settler.heard_late();
    clips.on(&[35], 5_000);
    assert!(clips.told.is_empty());
    clips.off(600).on(&[35], 2_000);
    assert_eq!(clips.touches().len(), 1);
}

#[test]
fn above_a_locked_range_is_not_open() {
    let step = Quantity::new(1, 1, Unit::Ohm).unwrap();
    let mut clips = Clips::every(100);
    clips.off(3_000);
    for (top, places) in [(400, 0), (9_999, 1), (600, 3)] {
        let top = Quantity::new(top, places, Unit::Ohm).unwrap();
        assert_eq!(clips.settler.take_over_range(top, step), Err(NotOpen::AboveRange), "{top}");
    }
    assert!(clips.settler.take_over_range(Quantity::new(1_000, 0, Unit::Ohm).unwrap(), step).is_ok());
}

#[test]
fn two_steps_of_flicker_settle_and_three_do_not() {
    let mut clips = Clips::every(100);
    clips.off(600).on(&[35, 36, 37], 4_000);
    assert_eq!(clips.touches().len(), 1);
    let mut clips = Clips::every(100);
    clips.off(600).on(&[35, 36, 37, 38], 4_000);
    assert_eq!(clips.touches().len(), 0);
}

#[test]
fn an_unsteady_contact_is_told_once_and_taken_by_key_as_it_is() {
    let mut clips = Clips::every(100);
    clips.off(600).on(&[35, 41], 4_900);
    assert!(clips.told.is_empty());
    assert_eq!(clips.settler.take_as_it_is(), None);
    clips.on(&[35, 41], 5_000);
    assert_eq!(clips.told.len(), 1);
    assert_eq!(clips.told[0].1, Contact::Unsteady);
    assert_eq!(clips.settler.phase(), Phase::Unsteady);
    let touch = clips.settler.take_as_it_is().unwrap();
    assert_eq!((touch.kind, touch.digits.len()), (TouchKind::AsItWas, 11));
    assert_eq!(clips.settler.phase(), Phase::Lift);
}

#[test]
fn a_wild_contact_is_told_to_be_clipped_again_and_no_key_takes_it() {
    let mut clips = Clips::every(100);
    clips.off(600).on(&[35, 95], 8_000);
    assert_eq!(clips.told.iter().map(|(_, c)| c.clone()).collect::<Vec<_>>(), [Contact::WillNotStand]);
    assert_eq!(clips.settler.take_as_it_is(), None);
}

#[test]
fn the_edge_between_unsteady_and_wild_is_two_steps_a_tenth_and_two_percent() {
    // 0.35 ohm, step 0.01: 0.02 + 0.10 + 0.007 = 0.127 ohm.
    for (spread, told) in [(12, Contact::Unsteady), (13, Contact::WillNotStand)] {
        let mut clips = Clips::every(100);
        clips.off(600).on(&[35, 35, 35, 35 + spread], 6_000);
        assert_eq!(clips.told[0].1, told, "{spread}");
    }
}

#[test]
fn hold_battery_range_mode_gap_and_reconnect_break_a_contact_off() {
    type Break = fn(&mut Clips);
    let breaks: [(&str, Break); 6] = [
        ("hold", |c| {
            c.flags.hold = true;
            c.ohm(35);
            c.flags.hold = false;
        }),
        ("low battery", |c| {
            c.flags.low_battery = true;
            c.ohm(35);
            c.flags.low_battery = false;
        }),
        ("relative", |c| c.flags.relative = true),
        ("gap", |c| c.at += 400),
        ("reconnect", |c| c.generation += 1),
        ("step", |c| {
            c.show(Shown::Value(Quantity::new(350, 3, Unit::Ohm).unwrap()));
        }),
    ];
    for (what, happens) in breaks {
        let mut clips = Clips::every(100);
        clips.off(600).on(&[35], 1_400);
        happens(&mut clips);
        let after = clips.at;
        clips.on(&[35], 3_000);
        assert_eq!(clips.touches().len(), 1, "{what}");
        assert!(clips.touches()[0].from_ms.0 >= after + SKIP_MS, "{what}: the touch reaches over the break");
    }
}

#[test]
fn a_low_battery_never_settles() {
    let mut clips = Clips::every(100);
    clips.flags.low_battery = true;
    clips.off(2_000).on(&[35], 20_000);
    assert!(clips.told.is_empty());
}

#[test]
fn a_slow_meter_arms_on_one_over_range_reading_and_settles_on_its_last_four() {
    let mut clips = Clips::every(500);
    clips.show(Shown::OverRange).on(&[35], 3_000);
    assert_eq!(clips.touches().len(), 1);
    assert_eq!(clips.touches()[0].digits, vec![35; 4]);
}

#[test]
fn negative_values_are_readings_and_other_units_are_not() {
    let mut clips = Clips::every(100);
    clips.off(600).on(&[-2], 2_000);
    assert_eq!(clips.touches()[0].middle(), Quantity::new(-2, 2, Unit::Ohm));
    let mut clips = Clips::every(100);
    clips.off(600);
    for _ in 0..40 {
        clips.show(Shown::Value(Quantity::new(35, 2, Unit::Volt).unwrap()));
    }
    assert!(clips.told.is_empty());
}

#[test]
fn what_came_before_an_announcement_is_not_looked_at() {
    let mut clips = Clips::every(100);
    clips.off(600).on(&[35], 1_400);
    clips.settler.announce();
    let announced = clips.at;
    clips.off(600).on(&[35], 3_000);
    assert_eq!(clips.touches().len(), 1);
    assert!(clips.touches()[0].from_ms.0 > announced);
}

#[test]
fn clips_that_are_on_at_an_announcement_have_to_come_off_first() {
    for on_before in [300, 1_400, 3_000] {
        let mut clips = Clips::every(100);
        clips.off(600).on(&[35], on_before);
        let before = clips.touches().len();
        clips.settler.announce();
        assert_eq!(clips.settler.phase(), Phase::Lift);
        assert!(!clips.settler.still_on_taken(), "nothing was taken for what is announced now");
        clips.on(&[35], 6_000);
        assert_eq!(clips.touches().len(), before, "still on the conductor announced before");
        clips.off(600).on(&[35], 3_000);
        assert_eq!(clips.touches().len(), before + 1);
    }
}

#[test]
fn clips_that_may_be_on_behind_a_sign_or_a_flicker_have_to_come_off_first() {
    let mut clips = Clips::every(100);
    clips.off(600).on(&[35], 800);
    clips.flags.low_battery = true;
    clips.ohm(35);
    clips.flags.low_battery = false;
    clips.off(200);
    clips.settler.announce();
    assert_eq!(clips.settler.phase(), Phase::Lift);
    clips.on(&[35], 6_000);
    assert_eq!(clips.touches().len(), 0);
    clips.off(600);
    clips.settler.break_off();
    clips.settler.announce();
    assert_eq!(clips.settler.phase(), Phase::Lift, "nobody knows what came between");
}

#[test]
fn an_open_conductor_that_comes_back_under_the_clips_is_no_new_contact() {
    let (top, step) = (Quantity::new(2_000, 0, Unit::Ohm).unwrap(), Quantity::new(1, 2, Unit::Ohm).unwrap());
    let mut clips = Clips::every(100);
    clips.off(2_000);
    clips.settler.take_over_range(top, step).unwrap();
    clips.on(&[35], 6_000);
    assert_eq!(clips.touches().len(), 0, "the clips never came off");
    clips.off(600).on(&[35], 3_000);
    assert_eq!(clips.touches().len(), 1);
}

#[test]
fn clips_in_the_air_at_an_announcement_may_go_on_at_once() {
    let mut clips = Clips::every(100);
    clips.off(600);
    clips.settler.announce();
    clips.on(&[35], 2_000);
    assert_eq!(clips.touches().len(), 1);
}

#[test]
fn something_unreadable_costs_the_contact_its_time_but_no_lifting() {
    let mut clips = Clips::every(100);
    clips.off(600).on(&[35], 1_400);
    clips.settler.break_off();
    let broken = clips.at;
    clips.on(&[35], 3_000);
    assert!(clips.touches()[0].from_ms.0 > broken);
}

#[test]
fn readings_that_arrive_in_pairs_do_not_halve_the_period() {
    let mut settler = Settler::new(None);
    let flags = Flags::default();
    for pair in 0..20u64 {
        for _ in 0..2 {
            let shown = Shown::OverRange;
            settler.push(Reading { shown, step: None, at: Millis(pair * 200), flags, generation: 1 });
        }
    }
    assert_eq!(settler.period(), Millis(100));
}

fn any_shown() -> impl Strategy<Value = Shown> {
    let digits = prop_oneof![6 => 30i64..40, 1 => -5i64..2_000, 1 => any::<i64>()];
    let number = (digits, prop_oneof![6 => Just(2u8), 1 => 0u8..=12])
        .prop_map(|(d, p)| Shown::Value(Quantity::new(d, p, Unit::Ohm).unwrap()));
    prop_oneof![8 => number, 3 => Just(Shown::OverRange), 1 => Just(Shown::Blank)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Whatever a meter sends: between two touches the clips were off, and a touch stood still.
    #[test]
    fn touches_are_still_and_separate(
        stream in prop::collection::vec((any_shown(), 1usize..30, 0u64..700), 1..60)
    ) {
        let mut clips = Clips::every(100);
        let mut off_since_touch = false;
        for (shown, times, pause) in stream {
            clips.at += pause;
            for _ in 0..times {
                let before = clips.touches().len();
                clips.show(shown);
                off_since_touch |= matches!(shown, Shown::OverRange | Shown::Blank);
                if clips.touches().len() > before {
                    prop_assert!(off_since_touch, "a contact counted twice");
                    off_since_touch = false;
                    let touch = clips.touches()[before].clone();
                    let (most, least) = (touch.digits.iter().max().unwrap(), touch.digits.iter().min().unwrap());
                    let spread = (i128::from(*most) - i128::from(*least)) as f64 / 10f64.powi(touch.places.into());
                    prop_assert!(touch.digits.len() >= FEWEST && spread <= 0.020_000_1);
                    prop_assert!(touch.to_ms.since(touch.from_ms) >= Millis(3 * SLOW_PERIOD_MS));
                }
            }
        }
    }
}
