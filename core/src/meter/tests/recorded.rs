//! Recorded streams as lines.

use super::built_in;
use crate::meter::Decoder;
use crate::meter::lines::{LineDecoder, LineError, Tally, parse_line};
use crate::unit::Millis;
use proptest::prelude::*;

#[test]
fn lines_with_and_without_blanks() {
    let bytes = || vec![0xB9, 0xE0];
    for line in ["0 B9E0", "0 b9 e0", "  0\tB9 E0  ", "0 B 9 E 0"] {
        assert_eq!(parse_line(line), Ok(Some((Millis(0), bytes()))), "{line:?}");
    }
    for line in ["", "   ", "# a note"] {
        assert_eq!(parse_line(line), Ok(None), "{line:?}");
    }
    for (line, error) in [
        ("B9E0", LineError::Time),
        ("+5 B9", LineError::Time),
        ("-5 B9", LineError::Time),
        ("99999999999999999999 B9", LineError::Time),
        ("5", LineError::Bytes(0)),
        ("5 B9E", LineError::HalfByte),
        ("5 B9 xx", LineError::NotHex(6)),
        ("5 Ω9", LineError::NotHex(3)),
    ] {
        assert_eq!(parse_line(line), Err(error), "{line:?}");
    }
    assert_eq!(parse_line(&format!("1 00{}00", " ".repeat(8192))), Err(LineError::TooLong));
    assert_eq!(parse_line(&format!("1 {}", "00".repeat(513))), Err(LineError::Bytes(513)));
}

#[test]
fn a_recording_becomes_lines_of_json() {
    let mut stream = LineDecoder::new(Decoder::for_profile(&built_in("status-integer.toml")));
    let hex = |bytes: Vec<u8>| bytes.iter().map(|b| format!("{b:02x}")).collect::<String>();
    let mut take = |line: String| stream.push(&line);
    assert_eq!(
        take(format!("40 {}", hex(super::status_integer(2, 3, 0b0_1111, 352)))),
        Ok(vec![Ok(
            r#"{"at_ms":40,"state":"over-range","value":null,"unit":"ohm","flags":["hold","relative","low-battery","auto-range"]}"#
                .to_owned()
        )])
    );
    assert_eq!(
        take(format!("250 {}", hex(super::status_integer(2, 3, 0x10, 352)))),
        Ok(vec![Ok(r#"{"at_ms":250,"state":"value","value":"0.352","unit":"ohm","flags":[]}"#.to_owned())])
    );
    assert_eq!(take("251 zz".to_owned()), Err(LineError::NotHex(5)));
    assert_eq!(take("249 00".to_owned()), Err(LineError::TimeGoesBack { at: 249, before: 250 }));
    assert_eq!(take("260 00 01 02".to_owned()), Ok(vec![]));
    assert!(take(format!("261 {}", hex(super::status_integer(1, 3, 0x10, 352)))).expect("a line")[0].is_err());
    assert_eq!(stream.tally(), Tally { readings: 2, frame_errors: 1, bad_lines: 2, skipped: 3 });
    assert!(!stream.tally().is_clean());
    let mut blank = LineDecoder::new(Decoder::for_profile(&built_in("named-medfloat.toml")));
    assert_eq!(
        blank.push("7 FF07"),
        Ok(vec![Ok(r#"{"at_ms":7,"state":"blank","value":null,"unit":"ohm","flags":[]}"#.to_owned())])
    );
    assert!(blank.tally().is_clean());
}

proptest! {
    #[test]
    fn any_line_is_taken(line in "\\PC{0,40}", nearly in "[0-9]{0,3} ?[0-9a-fA-F ]{0,20}[g#]?") {
        let mut stream = LineDecoder::new(Decoder::for_profile(&built_in("text-line.toml")));
        let _ = stream.push(&line);
        let _ = stream.push(&nearly);
    }
}
