//! Profile files: the built-in ones, and what is told about a damaged one.

use super::built_in;
use crate::meter::profile::BUILT_IN;
use crate::meter::{Decoder, FileError, FileErrorCode, Profile, RestraintFitness};
use crate::unit::{Millis, Quantity, Unit};
use proptest::prelude::*;

const SMALL: &str = r#"format = 1
name = "Small"
[match]
name_contains = "small"
[frame]
cut = "whole"
[value]
coding = "medfloat"
at = 0
bytes = 2
"#;

fn told(text: &str) -> Vec<String> {
    Profile::parse(text).expect_err("has a mistake").iter().map(ToString::to_string).collect()
}

/// The first mistake of the small profile with `from` replaced by `to`.
fn changed(from: &str, to: &str) -> String {
    let text = SMALL.replacen(from, to, 1);
    assert_ne!(text, SMALL, "{from:?} stands in the profile");
    told(&text).remove(0)
}

#[test]
fn every_built_in_profile_is_valid_and_has_its_own_name() {
    let mut names: Vec<String> = crate::meter::built_in().into_iter().map(|profile| profile.name).collect();
    assert_eq!(names.len(), BUILT_IN.len());
    names.sort();
    names.dedup();
    assert_eq!(names.len(), BUILT_IN.len());
}

#[test]
fn the_facts_of_a_profile() {
    let facts = Decoder::for_profile(&built_in("counted-float.toml")).facts();
    assert_eq!((facts.unit, facts.step), (Unit::Ohm, Quantity::new(1, 3, Unit::Ohm)));
    assert_eq!((facts.period, facts.top), (Some(Millis(100)), None));
    assert_eq!((facts.accuracy_milli_pct, facts.accuracy_counts), (Some(200), Some(5)));
    assert_eq!(facts.test_current_microampere, Some(1000));
    let text = Decoder::for_profile(&built_in("text-line.toml")).facts();
    assert_eq!(text.top, Quantity::parse("600.0", Unit::Ohm).ok());
    assert_eq!(text.step, None, "it changes with the range; each reading tells it");
    let named = Decoder::for_profile(&built_in("named-medfloat.toml")).facts();
    assert_eq!((named.accuracy_milli_pct, named.test_current_microampere), (None, None), "not known is not a number");
}

#[test]
fn more_than_ten_milliampere_is_refused_for_restraints() {
    let with = |current: &str| Profile::parse(&format!("test_current_ma = {current}\n{SMALL}")).expect("valid");
    assert_eq!(with("10").restraint_fitness(), RestraintFitness::Fit);
    assert_eq!(with("10.001").restraint_fitness(), RestraintFitness::TooMuchCurrent { microampere: 10_001 });
    let unknown = Profile::parse(SMALL).expect("valid").restraint_fitness();
    assert_eq!(unknown, RestraintFitness::CurrentUnknown);
}

#[test]
fn mistakes_are_told_with_place_and_remedy() {
    for (from, to, expected) in [
        ("format = 1", "format = 2", "1:10: out-of-range: `format` is 2: a whole number from 1 to 1"),
        ("format = 1\n", "", "1:1: missing-key: `format` is missing: format = 1"),
        ("name =", "nam =", "1:1: missing-key: `name` is missing: name = \"what you call this meter\""),
        (
            "cut =",
            "cutt =",
            "5:1: missing-key: `cut` is missing: cut = \"whole\", \"fixed\", \"marked\" or \"counted\"",
        ),
        ("at = 0", "at = \"0\"", "9:6: wrong-type: `at` is a string: a whole number from 0 to 255"),
        ("bytes = 2", "bytes = 3", "10:9: out-of-range: `bytes` is 3: bytes = 2 or 4"),
        (
            "[frame]",
            "[fraem]",
            "1:1: missing-key: `frame` is missing: [frame] with cut = \"whole\", \"fixed\", \"marked\" or \"counted\"",
        ),
        ("= \"small\"", "= \"\"", "4:17: out-of-range: `name_contains` is too short: at least 2 characters"),
        (
            "= \"whole\"",
            "= \"hole\"",
            "6:7: unknown-word: `cut` is \"hole\": did you mean \"whole\"? known are \"whole\", \"fixed\", \"marked\", \"counted\"",
        ),
        (
            "bytes = 2",
            "bytes = 2\ndecimal = \".\"",
            "11:1: unknown-key: `decimal` is not a key here: known here: at, bytes, coding",
        ),
    ] {
        assert_eq!(changed(from, to), expected);
    }
    let told = told(&SMALL.replace("name =", "nam ="));
    assert_eq!(told[1], "2:1: unknown-key: `nam` is not a key here: did you mean `name`?");
}

#[test]
fn what_is_no_toml_is_told_with_its_line() {
    let errors = Profile::parse(&SMALL.replace("cut = \"whole\"", "cut = = 3")).expect_err("no TOML");
    assert_eq!((errors[0].line, errors[0].code), (6, FileErrorCode::Syntax));
    let errors = Profile::parse(&"#".repeat(70_000)).expect_err("too long");
    assert_eq!(errors[0].code, FileErrorCode::Syntax);
    assert!(Profile::parse("").is_err());
}

#[test]
fn columns_count_characters() {
    let text = SMALL.replace("cut = \"whole\"", "cut = \"whole\" # Ω\nstart = [\"Ω\", 300]");
    let errors = Profile::parse(&text).expect_err("bytes are wanted");
    let places: Vec<_> = errors.iter().map(|e| (e.line, e.column, e.code)).collect();
    assert_eq!(places, [(7, 10, FileErrorCode::WrongType), (7, 15, FileErrorCode::OutOfRange)]);
}

#[test]
fn frames_from_a_stream_must_be_guarded() {
    let conflict = |frame: &str| {
        let text = SMALL.replace("cut = \"whole\"", frame);
        let errors = Profile::parse(&text).expect_err(frame);
        assert_eq!((errors[0].line, errors[0].code), (5, FileErrorCode::Conflict), "{frame}");
        errors[0].what.clone()
    };
    let glued = "a frame glued from two halves would not be noticed";
    assert_eq!(conflict("cut = \"fixed\"\nlength = 4\nstart = [1]"), glued);
    assert_eq!(conflict("cut = \"fixed\"\nlength = 4\nstart = [1]\nchecksum = { kind = \"none\" }"), glued);
    assert_eq!(conflict("cut = \"counted\"\nlength_at = 1\nstart = [1]"), glued);
    assert_eq!(conflict("cut = \"marked\"\nend = [10]"), glued);
    let lost = "frames could not be found again after a lost byte";
    assert_eq!(conflict("cut = \"fixed\"\nlength = 4\nchecksum = { kind = \"sum8\" }"), lost);
    assert_eq!(conflict("cut = \"marked\"\nchecksum = { kind = \"sum8\" }"), "nothing tells where a frame ends");
    let guarded = "cut = \"fixed\"\nlength = 4\nstart = [1]\nchecksum = { kind = \"sum8\" }";
    assert!(Profile::parse(&SMALL.replace("cut = \"whole\"", guarded)).is_ok());
}

#[test]
fn keys_that_contradict_each_other_are_told() {
    let float =
        SMALL.replace("coding = \"medfloat\"", "coding = \"float\"\norder = \"big\"").replace("bytes = 2", "bytes = 4");
    assert!(told(&float)[0].contains("a binary float does not tell how many places the display has"));
    let finer = format!("places = 2\nstep = \"0.001\"\n{float}");
    assert_eq!(
        told(&finer),
        ["2:1: conflict: `step` 0.001 is finer than the last place 0.01: step = \"0.01\" or coarser"]
    );
    assert!(Profile::parse(&format!("places = 2\n{float}")).is_ok());
    let outside = SMALL.replace("cut = \"whole\"", "cut = \"whole\"\nlengths = [2]").replace("at = 0", "at = 1");
    assert_eq!(
        told(&outside),
        ["8:2: conflict: [value] reaches to byte 3, but a frame has 2: places within the frame, counted from 0"]
    );
    let codes = format!("{SMALL}[[units]]\ncode = 1\nmeans = \"ohm\"\n");
    assert!(told(&codes)[0].contains("nothing tells where the code is"));
    let masked = format!("{codes}[unit_code]\nat = 0\nmask = 0xF0\n");
    assert!(told(&masked)[0].contains("code 0x01 has bits outside of the mask"));
    let alone = SMALL.replace("name_contains = \"small\"", "service = \"8d2c0201-6b1f-4f0a-9a57-2f4e5d3b7c10\"");
    assert!(told(&alone)[0].contains("`characteristic` is missing"));
}

/// The 1-based lines of `text` that hold `key = value`, with the key.
fn key_lines(text: &str) -> Vec<(usize, &str)> {
    let lines = text.lines().enumerate().filter(|(_, line)| !line.starts_with('#'));
    lines.filter_map(|(index, line)| Some((index + 1, line.split_once(" = ")?.0))).collect()
}

fn with_line(text: &str, number: usize, change: impl Fn(&str) -> String) -> String {
    let lines = text.lines().enumerate();
    lines.map(|(index, line)| if index + 1 == number { change(line) } else { line.to_owned() } + "\n").collect()
}

fn on_line(errors: &[FileError], line: usize, code: FileErrorCode) -> bool {
    errors.iter().any(|error| error.line == line && error.code == code)
}

#[test]
fn a_misspelt_key_is_told_on_its_line_with_the_right_one() {
    let mut tried = 0;
    for (name, text) in BUILT_IN {
        for (line, key) in key_lines(text) {
            let damaged = with_line(text, line, |l| l.replacen(key, &format!("{key}q"), 1));
            let errors = Profile::parse(&damaged).expect_err("an unknown key");
            assert!(on_line(&errors, line, FileErrorCode::UnknownKey), "{name}:{line} {errors:?}");
            let remedy = format!("did you mean `{key}`?");
            assert!(errors.iter().any(|e| e.line == line && e.instead == remedy), "{name}:{line} {errors:?}");
            tried += 1;
        }
    }
    assert!(tried > 60, "{tried}");
}

#[test]
fn a_value_of_the_wrong_sort_is_told_on_its_line() {
    for (name, text) in BUILT_IN {
        for (line, key) in key_lines(text) {
            let damaged = with_line(text, line, |_| format!("{key} = 2020-02-02"));
            let errors = Profile::parse(&damaged).expect_err("a date stands nowhere");
            assert!(on_line(&errors, line, FileErrorCode::WrongType), "{name}:{line} {errors:?}");
        }
    }
}

#[test]
fn a_section_that_is_not_known_is_told_on_its_line() {
    for (name, text) in BUILT_IN {
        for (index, header) in text.lines().enumerate().filter(|(_, line)| line.starts_with('[')) {
            let damaged = with_line(text, index + 1, |_| header.replace(']', "x]").replace("x]x]", "x]]"));
            let errors = Profile::parse(&damaged).expect_err(header);
            assert!(on_line(&errors, index + 1, FileErrorCode::UnknownKey), "{name}:{} {errors:?}", index + 1);
        }
    }
}

proptest! {
    /// Any text is taken; a profile that is accepted can be used on any bytes.
    #[test]
    fn any_damage_is_taken(
        which in 0usize..4,
        at in any::<prop::sample::Index>(),
        insert in "[ -~Ω\n]{0,4}",
        drop in 0usize..6,
        bytes in proptest::collection::vec(any::<u8>(), 0..80),
    ) {
        let (_, text) = BUILT_IN[which];
        let letters: Vec<char> = text.chars().collect();
        let at = at.index(letters.len());
        let after = (at + drop).min(letters.len());
        let damaged: String = letters[..at].iter().copied().chain(insert.chars()).chain(letters[after..].iter().copied()).collect();
        match Profile::parse(&damaged) {
            Ok(profile) => {
                Decoder::for_profile(&profile).push(&bytes, Millis(0));
            }
            Err(errors) => {
                prop_assert!(!errors.is_empty());
                let lines = damaged.matches('\n').count() + 1;
                prop_assert!(errors.iter().all(|e| (1..=lines).contains(&e.line) && e.column >= 1));
            }
        }
    }
}
