//! Which value of a meter is read.

use super::{built_in, channel, seen};
use crate::meter::choose;
use crate::meter::choose::{ReadBy, WhyNot};
use crate::meter::link::{Channel, Offer};
use crate::unit::Millis;
use uuid::Uuid;

const HUNDREDTHS_OHM: [u8; 7] = [0x0E, 0xFE, 0x2A, 0x27, 1, 0, 0];

fn numbered(number: u128, presentation: Option<&[u8]>) -> Channel {
    let plain = channel(presentation.unwrap_or_default());
    Channel { characteristic: Uuid::from_u128(number), presentation: presentation.map(<[u8]>::to_vec), ..plain }
}

fn offer(name: &str, channels: Vec<Channel>) -> Offer {
    Offer { name: name.to_owned(), serial: None, channels }
}

fn of_profile(name: &str) -> Channel {
    let (service, characteristic) = built_in(name).matching.channel.expect("has its channel");
    Channel { service, characteristic, notifies: true, presentation: None, valid_range: None }
}

#[test]
fn a_value_in_ohm_that_describes_itself_comes_first() {
    let volts = numbered(7, Some(&[0x0E, 0xFE, 0x28, 0x27, 1, 0, 0]));
    let ohms = numbered(8, Some(&HUNDREDTHS_OHM));
    let meter = offer("any", vec![of_profile("text-line.toml"), volts, ohms]);
    let choice = choose(&meter, &crate::meter::built_in()).expect("readable");
    assert_eq!(choice.characteristic, Uuid::from_u128(8));
    let reading =
        choice.decoder(3, None).expect("tells its step").push(&[185, 0], Millis(5)).remove(0).expect("a reading");
    assert_eq!((seen(reading.shown).as_str(), reading.generation), ("1.85", 3));
}

#[test]
fn of_several_the_main_one_is_taken_then_the_first() {
    let unmarked = numbered(1, Some(&HUNDREDTHS_OHM));
    let first = numbered(2, Some(&[0x0E, 0xFE, 0x2A, 0x27, 1, 1, 0]));
    let main = numbered(3, Some(&[0x0E, 0xFE, 0x2A, 0x27, 1, 0x06, 0x01]));
    let picked = |channels: &[&Channel]| {
        let meter = offer("any", channels.iter().map(|c| (*c).clone()).collect());
        choose(&meter, &[]).expect("readable").characteristic.as_u128()
    };
    assert_eq!(picked(&[&unmarked, &first, &main]), 3);
    assert_eq!(picked(&[&unmarked, &first]), 2);
    assert_eq!(picked(&[&unmarked, &numbered(9, Some(&HUNDREDTHS_OHM))]), 1);
}

#[test]
fn a_profile_is_taken_by_channel_or_by_name() {
    let meter = offer("any", vec![numbered(1, None), of_profile("status-integer.toml")]);
    let choice = choose(&meter, &crate::meter::built_in()).expect("readable");
    let ReadBy::Profile(profile) = &choice.read_by else { panic!("by profile") };
    assert_eq!(profile.name, "Status and integer meter");
    assert_eq!(choice.characteristic, of_profile("status-integer.toml").characteristic);
    assert_eq!(
        choice
            .decoder(9, None)
            .expect("a profile")
            .push(&super::status_integer(2, 3, 0x10, 352), Millis(0))
            .remove(0)
            .map(|r| r.generation),
        Ok(9)
    );
    let named = choose(&offer("My BenchFloat 2", vec![numbered(4, None)]), &crate::meter::built_in()).expect("by name");
    assert_eq!(named.characteristic, Uuid::from_u128(4));
}

#[test]
fn a_value_that_does_not_tell_its_step_waits_for_it_and_gives_way_to_one_that_does() {
    let float = numbered(3, Some(&[0x14, 0x00, 0x2A, 0x27, 1, 0, 0]));
    let choice = choose(&offer("any", vec![float.clone()]), &[]).expect("readable once its step is known");
    assert!(choice.needs_places() && choice.decoder(1, None).is_none());
    let mut decoder = choice.decoder(1, Some(3)).expect("its step is known");
    // 1B 2F ED 3F is 1.853 as float32.
    let reading = decoder.push(&[0x1B, 0x2F, 0xED, 0x3F], Millis(5)).remove(0).expect("a reading");
    assert_eq!(seen(reading.shown), "1.853");
    let both = offer("any", vec![float, numbered(8, Some(&HUNDREDTHS_OHM))]);
    assert_eq!(choose(&both, &[]).expect("readable").characteristic, Uuid::from_u128(8));
}

#[test]
fn every_reason_is_told() {
    let reasons = |meter: Offer| choose(&meter, &crate::meter::built_in()).expect_err("not readable").reasons;
    assert_eq!(reasons(offer("any", vec![])), [WhyNot::NoChannels, WhyNot::NoProfile]);
    let mut silent = numbered(1, Some(&HUNDREDTHS_OHM));
    silent.notifies = false;
    let volts = numbered(2, Some(&[0x0E, 0xFE, 0x28, 0x27, 1, 0, 0]));
    assert_eq!(
        reasons(offer("any", vec![silent, volts, numbered(4, None)])),
        [
            WhyNot::DoesNotNotify { characteristic: Uuid::from_u128(1) },
            WhyNot::OtherUnit { characteristic: Uuid::from_u128(2), unit_code: 0x2728 },
            WhyNot::NoProfile,
        ]
    );
    assert_eq!(
        reasons(offer("benchfloat", vec![numbered(4, None), numbered(5, None)])),
        [WhyNot::WhichChannel { profile: "Named medfloat meter".to_owned(), channels: 2 }, WhyNot::NoProfile,]
    );
    let mut silent = of_profile("text-line.toml");
    silent.notifies = false;
    assert_eq!(reasons(offer("any", vec![silent])), [WhyNot::NoProfile]);
}

#[test]
fn two_profiles_that_fit_alike_are_not_guessed_between() {
    let mut other = built_in("text-line.toml");
    other.name = "My text meter".to_owned();
    let meter = offer("Bench 7", vec![of_profile("text-line.toml")]);
    let no = choose(&meter, &[built_in("text-line.toml"), other.clone()]).expect_err("two fit");
    assert_eq!(no.to_string(), "several profiles fit: Text line meter, My text meter");
    other.matching.name_contains = Some("bench".to_owned());
    let choice = choose(&meter, &[built_in("text-line.toml"), other.clone()]).expect("the closer one");
    assert_eq!(choice.read_by, ReadBy::Profile(Box::new(other)));
}
