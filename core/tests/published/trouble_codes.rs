//! Diagnostic trouble codes.

use evenwire_core::dtc::{
    MAX_OWN, NotATroubleCode, StandardCode, TroubleCode, failure_type_family, failure_type_meaning,
};

fn standard(text: &str) -> StandardCode {
    match TroubleCode::parse(text) {
        Ok(TroubleCode::Standard(code)) => code,
        other => panic!("{text}: {other:?}"),
    }
}

/// SAE J2012 / ISO 15031-6, as several public decoders read them (seen). Digits are hexadecimal: B002A exists, though
/// a tool's manual says that they are decimal.
#[test]
fn two_bytes_of_sae_j2012() {
    for (bytes, text) in [
        ([0x01, 0x43], "P0143"),
        ([0x92, 0x34], "B1234"),
        ([0x80, 0x39], "B0039"),
        ([0x40, 0x31], "C0031"),
        ([0x44, 0x60], "C0460"),
        ([0x80, 0x01], "B0001"),
        ([0x80, 0x2A], "B002A"),
        ([0xC0, 0x73], "U0073"),
        ([0xFF, 0xFF], "U3FFF"),
    ] {
        let code = StandardCode::from_two(bytes).expect("a code");
        assert_eq!(code.to_string(), text);
        assert_eq!((standard(text), standard(text).bytes(), code.failure_type()), (code, bytes, None));
    }
}

/// `P0000` says that there is no code. It is no fault, in bytes or in text, with a failure type or without.
#[test]
fn p0000_is_no_code() {
    assert_eq!(StandardCode::from_two([0, 0]), None);
    assert_eq!(StandardCode::from_three([0, 0, 0x13]), None);
    for text in ["P0000", "p0000", " P0000-00 ", "P0000-13"] {
        assert_eq!(TroubleCode::parse(text), Err(NotATroubleCode::NoCode), "{text}");
    }
}

/// The three-byte form (seen): B0001-13 is 80 01 13, C0031-23 is 40 31 23.
#[test]
fn three_bytes_with_their_failure_type() {
    for (bytes, text) in
        [([0x80, 0x01, 0x13], "B0001-13"), ([0x40, 0x31, 0x23], "C0031-23"), ([0xD1, 0x00, 0x1A], "U1100-1A")]
    {
        let code = StandardCode::from_three(bytes).expect("a code");
        assert_eq!((code.to_string(), code.failure_type()), (text.to_owned(), Some(bytes[2])));
        assert_eq!(standard(text), code);
        assert_eq!(standard(&text.to_lowercase()), code);
    }
    assert_ne!(standard("B0001-00"), standard("B0001"), "no subtype is not the same as none given");
    assert_eq!(standard("B0001-00").to_string(), "B0001-00");
}

#[test]
fn every_pair_of_bytes_has_its_own_text() {
    for number in 1..=u16::MAX {
        let code = StandardCode::from_two(number.to_be_bytes()).expect("not zero");
        assert_eq!(standard(&code.to_string()), code);
    }
}

/// Older and makers' own codes are kept as they were typed.
#[test]
fn what_fits_no_form_is_kept_as_text() {
    for text in [
        "16",
        "17-A",
        "B4001",
        "B00G1",
        "B001",
        "B00011",
        "B0001-1",
        "B0001-123",
        "B0001-1G",
        "B0001 13",
        "B0+01",
        "lamp blinks 4×",
    ] {
        match TroubleCode::parse(&format!("  {text} ")).expect("a code") {
            TroubleCode::Own(own) => assert_eq!(own.as_str(), text),
            TroubleCode::Standard(code) => panic!("{text} is taken for {code}"),
        }
    }
    assert_eq!(TroubleCode::parse("\t "), Err(NotATroubleCode::Empty));
    assert_eq!(TroubleCode::parse("a\u{1b}b"), Err(NotATroubleCode::NotPrintable));
    assert!(TroubleCode::parse(&"x".repeat(MAX_OWN)).is_ok());
    assert_eq!(TroubleCode::parse(&"x".repeat(MAX_OWN + 1)), Err(NotATroubleCode::NotPrintable));
}

#[test]
fn a_code_is_written_down_as_text() {
    for text in ["B0001-13", "U3FFF", "lamp blinks 4×"] {
        let code = TroubleCode::parse(text).unwrap();
        let written = serde_json::to_string(&code).unwrap();
        assert_eq!(
            (written.clone(), serde_json::from_str::<TroubleCode>(&written).unwrap()),
            (format!("\"{text}\""), code)
        );
    }
    assert!(serde_json::from_str::<TroubleCode>("\"P0000\"").is_err());
}

/// SAE J2012-DA: what five public lists say alike (seen). 1C to 1E differ between lists and have no meaning here.
#[test]
fn failure_types_mean_what_the_lists_agree_on() {
    for (byte, word) in [
        (0x11, "ground"),
        (0x12, "battery"),
        (0x13, "open"),
        (0x16, "low"),
        (0x17, "high"),
        (0x18, "low"),
        (0x19, "high"),
        (0x1A, "resistance too low"),
        (0x1B, "resistance too high"),
        (0x1F, "comes and goes"),
        (0x21, "low"),
        (0x24, "high"),
    ] {
        let meaning = failure_type_meaning(byte).expect("known");
        assert!(meaning.en.contains(word), "{byte:02X}: {}", meaning.en);
    }
    for byte in [0x1C, 0x1D, 0x1E, 0x2F, 0xFF] {
        assert_eq!(failure_type_meaning(byte), None, "{byte:02X}");
    }
    let (german, low, high) = (failure_type_meaning(0x13), failure_type_meaning(0x1A), failure_type_meaning(0x1B));
    assert_eq!(german.unwrap().de, "Unterbrechung");
    assert!(low.unwrap().de.contains("zu niedrig") && high.unwrap().de.contains("zu hoch"));
}

/// SAE J2012-DA, families by the high digit (seen).
#[test]
fn failure_types_have_families() {
    let families = [
        "general",
        "electrical",
        "signal",
        "frequency",
        "inside",
        "programming",
        "algorithm",
        "mechanical",
        "bus",
        "component",
    ];
    for (high, word) in (0u8..).zip(families) {
        for byte in [high << 4, high << 4 | 0xF] {
            let family = failure_type_family(byte).expect("a family");
            assert!(family.en.starts_with(word) && !family.de.is_empty(), "{byte:02X}: {}", family.en);
        }
    }
    assert_eq!(failure_type_family(0xA0), None);
}
