//! Vehicle identification numbers.

use evenwire_core::vin::{NotAVin, Vin, VinCheck};

fn check(text: &str) -> VinCheck {
    Vin::parse(text).expect("a VIN").check()
}

/// 49 CFR 565.15(c): the regulation's own sample and the regulator's outline (seen), a textbook's example (from
/// memory), all ones, and two invented ones.
#[test]
fn check_digits_of_49_cfr_565() {
    for text in [
        "1G4AH59H45G118341",
        "1J9RP1A36A1644345",
        "1M8GDM9AXKP042788",
        "11111111111111111",
        "ZZZAA1A17RA000001",
        "ZZ9TEST03R0000042",
    ] {
        assert_eq!(check(text), VinCheck::Fits, "{text}");
    }
}

/// 49 CFR 565.15(c), table of values: one letter after another in the place of weight 10 of an otherwise all-zero VIN.
#[test]
fn every_letter_has_the_value_of_the_table() {
    let values = "A1 B2 C3 D4 E5 F6 G7 H8 J1 K2 L3 M4 N5 P7 R9 S2 T3 U4 V5 W6 X7 Y8 Z9";
    assert_eq!(values.split(' ').count(), 23);
    for pair in values.split(' ') {
        let (letter, value) = pair.split_at(1);
        let value: u32 = value.parse().unwrap();
        let fitting = "0123456789X".chars().nth(usize::try_from(value * 10 % 11).unwrap()).unwrap();
        assert_eq!(check(&format!("0000000{letter}{fitting}00000000")), VinCheck::Fits, "{pair}");
    }
}

/// A wrong digit is a warning with what would fit, never a refusal: many vehicles have none.
#[test]
fn a_check_digit_that_does_not_fit_warns() {
    assert_eq!(check("1G4AH59H55G118341"), VinCheck::Differs { fitting: '4' });
    assert_eq!(check("1M8GDM9A0KP042788"), VinCheck::Differs { fitting: 'X' });
    assert_eq!(Vin::parse("1G4AH59H55G118341").unwrap().as_str(), "1G4AH59H55G118341");
}

/// Neighbouring weights differ, so two unlike neighbours exchanged are noticed, but for those beside the check digit.
#[test]
fn neighbours_exchanged_are_noticed() {
    let sound = "1G4AH59H45G118341";
    for at in (0..16).filter(|at| !(7..=8).contains(at)) {
        let mut letters: Vec<char> = sound.chars().collect();
        letters.swap(at, at + 1);
        let swapped: String = letters.iter().collect();
        assert_eq!(check(&swapped) == VinCheck::Fits, swapped == sound, "{swapped}");
    }
}

#[test]
fn what_is_typed_is_made_capital_and_what_cannot_be_is_named() {
    assert_eq!(Vin::parse(" 1g4ah59h45g118341\n").unwrap().to_string(), "1G4AH59H45G118341");
    assert_eq!(Vin::parse("1G4AH59H45G11834"), Err(NotAVin::Length(16)));
    assert_eq!(Vin::parse(""), Err(NotAVin::Length(0)));
    assert_eq!(Vin::parse("1G4AH59H45G1183411"), Err(NotAVin::Length(18)));
    for character in ['I', 'O', 'Q', 'i', 'o', 'q', '-', ' ', 'Ä', '１'] {
        let text = format!("1G4AH59H45G11{character}341");
        assert_eq!(Vin::parse(&text), Err(NotAVin::Character { character, position: 14 }), "{text}");
    }
}

#[test]
fn a_vin_is_written_down_as_text_and_read_back_with_care() {
    let vin = Vin::parse("ZZZAA1A17RA000001").unwrap();
    assert_eq!(serde_json::to_string(&vin).unwrap(), "\"ZZZAA1A17RA000001\"");
    assert!(serde_json::from_str::<Vin>("\"ZZZAA1A17RA00000\"").is_err());
}
