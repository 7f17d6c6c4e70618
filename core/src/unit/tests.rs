//! Exact numbers, read and written.

use super::*;
use proptest::prelude::*;
use std::cmp::Ordering;

fn ohm(digits: i64, places: u8) -> Quantity {
    Quantity::new(digits, places, Unit::Ohm).expect("at most twelve places")
}

fn any_unit() -> impl Strategy<Value = Unit> {
    prop_oneof![Just(Unit::Ohm), Just(Unit::Volt), Just(Unit::Celsius)]
}

fn any_quantity() -> impl Strategy<Value = Quantity> {
    let digits = prop_oneof![4 => -100_000i64..100_000, 1 => any::<i64>(), 1 => Just(i64::MIN), 1 => Just(i64::MAX)];
    (digits, 0u8..=MAX_PLACES, any_unit()).prop_map(|(d, p, u)| Quantity::new(d, p, u).unwrap())
}

proptest! {
    #[test]
    fn what_is_written_reads_back_as_it_was(quantity in any_quantity()) {
        prop_assert_eq!(Quantity::parse(&quantity.to_string(), quantity.unit()), Ok(quantity));
        let json = serde_json::to_string(&quantity).unwrap();
        prop_assert_eq!(serde_json::from_str::<Quantity>(&json).unwrap(), quantity);
    }

    #[test]
    fn amounts_compare_as_what_they_are_whatever_their_places(
        a in any::<i64>(), b in any::<i64>(), p in 0u8..=12, q in 0u8..=12,
    ) {
        let wide = |digits: i64, places: u8| i128::from(digits) * 10i128.pow(u32::from(12 - places));
        prop_assert_eq!(ohm(a, p).compare(ohm(b, q)), Some(wide(a, p).cmp(&wide(b, q))));
    }

    #[test]
    fn other_places_keep_the_amount_or_are_refused(quantity in any_quantity(), places in any::<u8>()) {
        match quantity.with_places(places) {
            Some(other) => {
                prop_assert_eq!(other.places(), places);
                prop_assert_eq!(other.compare(quantity), Some(Ordering::Equal));
            }
            None => {
                let shorter = places < quantity.places();
                let factor = 10i128.pow(u32::from(quantity.places().abs_diff(places)).min(30));
                let lost = shorter && i128::from(quantity.digits()) % factor != 0;
                let wide = i128::from(quantity.digits()).saturating_mul(factor);
                let over = !shorter && (places > MAX_PLACES || i64::try_from(wide).is_err());
                prop_assert!(lost || over, "{quantity} could have {places} places");
            }
        }
    }

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,24}", nearly in "[-+]?[0-9.,' e\u{0660}-\u{0669}é]{0,24}") {
        for text in [&text, &nearly] {
            let read = Quantity::parse(text, Unit::Ohm);
            let typed = Quantity::typed(text, Unit::Ohm, true);
            // Whatever is read as a file's number, a person may type too.
            prop_assert!(read.is_err() || typed == read, "{text:?}");
            if let Err(NumberError::NotADigit(place)) = read {
                let wrong = text.trim().chars().nth(place - 1).expect("a place in the text");
                prop_assert!(!wrong.is_ascii_digit(), "{text:?}: {place} is {wrong:?}");
            }
            let _ = Quantity::typed(text, Unit::Ohm, false);
            let _ = Stamp::parse(text);
        }
    }

    #[test]
    fn confirming_the_decimal_sign_never_asks_again(text in "[-+]?[0-9]{0,5}[.,]?[0-9]{0,5}") {
        prop_assert_ne!(Quantity::typed(&text, Unit::Ohm, true), Err(NumberError::Ambiguous));
    }
}

#[test]
fn both_decimal_signs_are_taken_from_a_person() {
    for (text, want) in [
        ("0,35", ohm(35, 2)),
        ("0.35", ohm(35, 2)),
        (" 12 ", ohm(12, 0)),
        ("+1,50", ohm(150, 2)),
        ("-0,02", ohm(-2, 2)),
        (",5", ohm(5, 1)),
        ("2000", ohm(2000, 0)),
        ("1234,567", ohm(1_234_567, 3)),
        ("1,2340", ohm(12_340, 4)),
    ] {
        assert_eq!(Quantity::typed(text, Unit::Ohm, false), Ok(want), "{text:?}");
    }
}

#[test]
fn one_sign_before_three_digits_is_asked_back_unless_a_zero_stands_before_it() {
    for text in ["1,234", "1.234", "1.000", "12,345", "999.999", "-1,234", "+1.000"] {
        assert_eq!(Quantity::typed(text, Unit::Ohm, false), Err(NumberError::Ambiguous), "{text:?}");
        assert!(Quantity::typed(text, Unit::Ohm, true).is_ok(), "{text:?}");
    }
    assert_eq!(Quantity::typed("1.000", Unit::Ohm, true), Ok(ohm(1_000, 3)));
    for (text, want) in [("0,001", ohm(1, 3)), ("0.350", ohm(350, 3)), ("00,100", ohm(100, 3)), (".125", ohm(125, 3))] {
        assert_eq!(Quantity::typed(text, Unit::Ohm, false), Ok(want), "{text:?}");
    }
}

#[test]
fn what_is_no_number_says_where() {
    for (text, want) in [
        ("", NumberError::Empty),
        ("  ", NumberError::Empty),
        ("-", NumberError::Empty),
        (".", NumberError::Empty),
        ("1x", NumberError::NotADigit(2)),
        ("-1x", NumberError::NotADigit(3)),
        ("--1", NumberError::NotADigit(2)),
        ("1.2.3", NumberError::NotADigit(4)),
        ("0,35", NumberError::NotADigit(2)),
        ("1 000", NumberError::NotADigit(2)),
        ("OL", NumberError::NotADigit(1)),
        ("1e3", NumberError::NotADigit(2)),
        ("9223372036854775808", NumberError::TooLong),
        ("0.0000000000001", NumberError::TooLong),
    ] {
        assert_eq!(Quantity::parse(text, Unit::Ohm), Err(want), "{text:?}");
    }
    assert_eq!(Quantity::typed("1,2x4", Unit::Ohm, false), Err(NumberError::NotADigit(4)), "letters are no riddle");
    assert_eq!(Quantity::typed("1.234,5", Unit::Ohm, false), Err(NumberError::NotADigit(6)));
}

#[test]
fn last_zeros_are_kept_and_count_for_nothing_in_a_comparison() {
    let (fine, coarse) = (ohm(350, 3), ohm(35, 2));
    assert_eq!((fine.to_string(), coarse.to_string()), ("0.350".into(), "0.35".into()));
    assert_ne!(fine, coarse);
    assert_eq!(fine.compare(coarse), Some(Ordering::Equal));
    assert_eq!(fine.last_place(), ohm(1, 3));
    assert_eq!(fine.compare(Quantity::new(350, 3, Unit::Volt).unwrap()), None, "ohm and volt do not compare");
}

#[test]
fn a_coded_exponent_becomes_zeros_or_places_within_the_range() {
    assert_eq!(Quantity::scaled(12, 2, Unit::Ohm), Some(ohm(1_200, 0)));
    assert_eq!(Quantity::scaled(-352, -3, Unit::Ohm), Some(ohm(-352, 3)));
    assert_eq!(Quantity::scaled(1, 19, Unit::Ohm), None);
    for exponent in [-13, i32::MIN, i32::MAX] {
        assert_eq!(Quantity::scaled(1, exponent, Unit::Ohm), None);
    }
    assert_eq!(Quantity::new(1, 13, Unit::Ohm), None);
}

#[test]
fn a_stamp_needs_its_offset_and_keeps_its_text() {
    let stamp = Stamp::parse("2026-03-01T10:42:00.5+01:00").unwrap();
    assert_eq!(stamp.as_str(), "2026-03-01T10:42:00.5+01:00");
    assert_eq!(stamp.unix_millis(), 1_772_358_120_500);
    for text in ["2026-03-01T10:42:00", "2026-03-01", "", "yesterday", "2026-13-01T10:42:00Z"] {
        assert_eq!(Stamp::parse(text), Err(NotAStamp), "{text:?}");
    }
}

#[test]
fn time_since_something_later_is_none_at_all() {
    assert_eq!(Millis(500).since(Millis(200)), Millis(300));
    assert_eq!(Millis(200).since(Millis(500)), Millis(0));
}

#[test]
fn a_screen_says_the_minute_as_the_clock_on_the_wall_did() {
    let minute = |text: &str| Stamp::parse(text).unwrap().to_minute();
    assert_eq!(minute("2026-03-01T10:42:59.250+01:00"), "2026-03-01 10:42");
    assert_eq!(minute("2026-03-01 23:05:00Z"), "2026-03-01 23:05");
}
