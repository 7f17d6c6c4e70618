//! Numbers as text.

use super::seen;
use crate::meter::ascii::{AsciiRule, UnitText};
use crate::meter::units::{Meaning, meaning};
use crate::meter::{FrameError, Setting};
use crate::unit::{Quantity, Unit};
use proptest::prelude::*;

fn rule(unit_text: UnitText) -> AsciiRule {
    let words = |list: &[&str]| list.iter().map(ToString::to_string).collect();
    AsciiRule {
        decimal: '.',
        over_range: words(&["over", "o.l", "ol", "0l"]),
        blank: words(&["----"]),
        words: vec![("MOHM!".to_owned(), Meaning { setting: Setting::Ohm, exponent: 6 })],
        unit_text,
    }
}

fn reads(text: &str) -> (String, String) {
    let number = rule(UnitText::Required).read(text.as_bytes(), Unit::Ohm).expect(text);
    (seen(number.shown), number.last_place.map_or("-".to_owned(), |step| step.to_string()))
}

fn refused(text: &str) -> FrameError {
    rule(UnitText::Required).read(text.as_bytes(), Unit::Ohm).expect_err(text)
}

#[test]
fn displays_in_ohms() {
    for (text, display, step) in [
        ("+0.352 ohm", "0.352", "0.001"),
        ("-0.02 OHM", "-0.02", "0.01"),
        ("- 0.02 Ohms", "-0.02", "0.01"),
        ("  0.350Ω\r\n", "0.350", "0.001"),
        ("0.350 \u{2126}", "0.350", "0.001"),
        ("1.250 kohm", "1250", "1"),
        ("1.2505 KOHM", "1250.5", "0.1"),
        ("0.47 Mohm", "470000", "10000"),
        ("0.47 MOHM", "470000", "10000"),
        ("352 mohm", "0.352", "0.001"),
        ("2 MOHM!", "2000000", "1000000"),
        ("12 ohm", "12", "1"),
        ("+1.8500E+00 ohm", "1.8500", "0.0001"),
        ("3.52e-1 ohm", "0.352", "0.001"),
        ("", "blank", "-"),
        ("---- ohm", "blank", "-"),
        ("OL", "over-range", "-"),
        ("ol ohm", "over-range", "-"),
        ("+OL Mohm", "over-range", "-"),
        ("-O.L ohm", "over-range", "-"),
        ("0L", "over-range", "-"),
        ("OVER", "over-range", "-"),
    ] {
        assert_eq!(reads(text), (display.to_owned(), step.to_owned()), "{text:?}");
    }
}

#[test]
fn another_setting_is_named() {
    for (text, seen, sentence) in [
        ("12.6 V", Setting::Volt, "the meter is set to volts"),
        ("12.6 V DC", Setting::Volt, "the meter is set to volts"),
        ("0.3 mVac", Setting::Volt, "the meter is set to volts"),
        ("1.2 A", Setting::Ampere, "the meter is set to amperes"),
        ("22.4 °C", Setting::Celsius, "the meter is set to degrees Celsius"),
        ("10 nF", Setting::Farad, "the meter is set to capacitance"),
        ("0.512 diode", Setting::Diode, "the meter is set to diode test"),
        ("OL V", Setting::Volt, "the meter is set to volts"),
        ("---- continuity", Setting::Continuity, "the meter is set to continuity"),
    ] {
        let error = refused(text);
        assert_eq!(error, FrameError::WrongUnit { seen }, "{text:?}");
        assert_eq!(error.to_string(), sentence);
    }
}

#[test]
fn what_is_not_a_number_with_its_unit_is_refused() {
    let unknown = |text: &str| FrameError::UnknownUnit { text: text.to_owned() };
    let no_number = |text: &str| FrameError::NotANumber { text: text.to_owned() };
    for (text, error) in [
        ("0.352", FrameError::NoUnit),
        ("0.352 ohn", unknown("ohn")),
        ("0.3 52 ohm", unknown("52 ohm")),
        ("1,234 ohm", unknown(",234 ohm")),
        ("0.352 ohm ohm", unknown("ohm ohm")),
        ("OLE ohm", no_number("OLE ohm")),
        (". ohm", no_number(". ohm")),
        ("1.2.3 ohm", no_number("1.2.3 ohm")),
        ("++1 ohm", no_number("++1 ohm")),
        ("hello", no_number("hello")),
        ("0.1234567890123 ohm", FrameError::TooManyDigits),
        ("99999999999999999999 ohm", FrameError::TooManyDigits),
        ("9.9E+37 ohm", FrameError::TooManyDigits),
    ] {
        assert_eq!(refused(text), error, "{text:?}");
    }
    assert_eq!(refused(&"x".repeat(400)), no_number(&"x".repeat(24)));
}

#[test]
fn a_meter_without_unit_words() {
    let rule = rule(UnitText::Absent);
    assert_eq!(seen(rule.read(b"+0.352", Unit::Ohm).expect("a number").shown), "0.352");
    assert_eq!(
        rule.read(b"+0.352 k", Unit::Ohm),
        Err(FrameError::UnknownUnit { text: "k".to_owned() }),
        "a word that should not be there may be a multiplier"
    );
    assert_eq!(rule.read(b"+0.352 kohm", Unit::Ohm), Err(FrameError::UnknownUnit { text: "kohm".to_owned() }));
}

#[test]
fn a_decimal_comma_is_one_when_the_profile_says_so() {
    let comma = AsciiRule { decimal: ',', ..rule(UnitText::Required) };
    assert_eq!(seen(comma.read(b"1,234 ohm", Unit::Ohm).expect("a number").shown), "1.234");
    assert!(comma.read(b"1.234 ohm", Unit::Ohm).is_err());
}

#[test]
fn milli_and_mega_differ_by_letter_case_alone() {
    let exponent = |word| meaning(word).map(|means| means.exponent);
    assert_eq!(
        (exponent("mohm"), exponent("Mohm"), exponent("kohm"), exponent("Kohm")),
        (Some(-3), Some(6), Some(3), Some(3))
    );
    assert_eq!((exponent("m"), exponent("kdiode"), exponent("M%"), exponent("")), (None, None, None, None));
}

proptest! {
    #[test]
    fn any_text_is_taken(bytes in proptest::collection::vec(any::<u8>(), 0..64)) {
        let _ = rule(UnitText::Required).read(&bytes, Unit::Ohm);
        let _ = rule(UnitText::Absent).read(&bytes, Unit::Ohm);
    }

    #[test]
    fn any_near_miss_is_taken(text in "[-+ ]{0,2}[0-9.,OLol]{0,8}[eE]?[-+0-9]{0,5} ?[kKmMµ]?(ohm|Ω|V|°C|dc)?") {
        let _ = rule(UnitText::Required).read(text.as_bytes(), Unit::Ohm);
    }

    #[test]
    fn a_display_comes_back(digits in -9_999_999i64..=9_999_999, places in 0u8..=6) {
        let shown = Quantity::new(digits, places, Unit::Ohm).expect("few places");
        let number = rule(UnitText::Required).read(format!("{shown} ohm").as_bytes(), Unit::Ohm).expect("a number");
        prop_assert_eq!(seen(number.shown), shown.to_string());
        prop_assert_eq!(number.last_place, Some(shown.last_place()));
    }
}
