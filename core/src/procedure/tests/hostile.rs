//! Texts nobody would write by hand: they are refused, quickly and in few words, and nothing breaks.

use super::*;
use crate::meter::FileErrorCode;
use crate::procedure::MAX_FILE;

fn refused(text: &str) -> Vec<FileError> {
    let errors = Procedure::parse(text).unwrap_err();
    assert!(!errors.is_empty() && errors.len() <= 200, "{} mistakes", errors.len());
    errors
}

#[test]
fn a_file_that_is_too_long_is_not_read() {
    let coil = text("steering-coil");
    let filled = format!("{coil}#{}\n", "x".repeat(MAX_FILE - coil.len() - 2));
    assert_eq!(filled.len(), MAX_FILE);
    assert!(Procedure::parse(&filled).is_ok());
    let errors = refused(&format!("{filled}\n"));
    assert_eq!((errors.len(), errors[0].code), (1, FileErrorCode::Syntax));
}

#[test]
fn deep_wide_and_odd_texts_are_refused() {
    let coil = text("steering-coil");
    let half = MAX_FILE / 2 - 100;
    let header = |line: &str| format!("{line}\n{coil}");
    for text in [
        String::new(),
        "\u{FEFF}".to_owned(),
        "\0".repeat(1000),
        format!("a = {}", "[".repeat(half)),
        format!("a = {}{}", "[".repeat(half), "]".repeat(half)),
        format!("a = {}", "{ a = ".repeat(40_000)),
        format!("[{}a]", "a.".repeat(half / 2)),
        format!("{}a = 1", "a.".repeat(half / 2)),
        format!("steps = [{}]", "{},".repeat(60_000)),
        "[[steps]]\n".repeat(20_000),
        format!("{} = 1", "k".repeat(200_000)),
        (0..20_000).map(|n| format!("k{n} = 1\n")).collect(),
        header("id = \"again\""),
        header("format = 99999999999999999999"),
        header("format = nan"),
        coil.replace("180 s", &"9".repeat(10_000)),
        coil.replace("0.1 V", "1e400 V"),
        coil.replace("\"horn\"", "\"ho\u{301}rn\""),
        coil.replace("bag 1", "bag\u{200B} 1"),
        coil.replace("Photograph the VIN", "Photograph \u{2067}the VIN"),
        coil.replace("invented", "\u{0456}nvented"),
        coil.replace('\n', "\r"),
    ] {
        refused(&text);
    }
    // Windows line ends and a byte order mark are what editors write.
    assert!(Procedure::parse(&coil.replace('\n', "\r\n")).is_ok());
    assert!(Procedure::parse(&format!("\u{FEFF}{coil}")).is_ok());
}

#[test]
fn counts_are_bounded() {
    let coil = text("steering-coil");
    let (_, step) = coil.split_once("[[steps]]\nid = \"functions\"").expect("there");
    let step = step.split("[[steps]]").next().expect("one");
    let more = |count: usize| -> String {
        let extra: String = (0..count).map(|n| format!("[[steps]]\nid = \"extra-{n}\"{step}")).collect();
        coil.replacen("[[steps]]\nid = \"close\"", &format!("{extra}[[steps]]\nid = \"close\""), 1)
    };
    let there = parsed("steering-coil").steps.len();
    assert_eq!(right(&more(200 - there)).steps.len(), 200);
    assert_eq!(refused(&more(201 - there))[0].code, FileErrorCode::OutOfRange);
    let needs: Vec<String> = (0..65).map(|n| format!("\"bar_open(b{n})\"")).collect();
    let many = changed(coil, "functions", ("evidence", &format!("needs = [{}]\nevidence", needs.join(", ")))).0;
    assert!(refused(&many).iter().any(|error| error.what.contains("65 entries")));
}

#[test]
fn a_long_word_from_outside_is_cut_short_in_what_is_told() {
    let coil = text("steering-coil").replacen("\"stage-1-plus\"", &format!("\"{}\"", "x".repeat(50_000)), 1);
    assert!(refused(&coil).iter().all(|error| error.what.len() < 400 && error.instead.len() < 2000));
}
