//! The profile file: what may stand in it, and what must.

use super::ascii::AsciiRule;
use super::decoder::fixed_step;
use super::fields::{Fields, FileError, FileErrorCode, Mistakes};
use super::frame::{Cut, FrameRule};
use super::profile::{Matching, Profile};
use super::profile_frame::frame_rule;
use super::profile_value::{A_CODING, LAST_PLACE_OF_FRAME, coding};
use super::units::{Meaning, meaning};
use super::value::{Bit, Coding, Exponent, FlagBits, UnitCode, ValueRule};
use crate::unit::{MAX_PLACES, Millis, Unit};
use std::cmp::Ordering;
use uuid::Uuid;

const UNITS: [(&str, Unit); 3] = [("ohm", Unit::Ohm), ("volt", Unit::Volt), ("celsius", Unit::Celsius)];

/// See [`Profile::parse`].
pub(super) fn parse(text: &str) -> Result<Profile, Vec<FileError>> {
    let mistakes = Mistakes::new(text);
    let profile = mistakes.parse().and_then(|root| {
        let fields = Fields::new(&mistakes, root.get_ref(), 0..0);
        read(fields)
    });
    let found = mistakes.into_sorted();
    match profile {
        Some(profile) if found.is_empty() => Ok(profile),
        _ => {
            assert!(!found.is_empty(), "a profile is missing only after a mistake was told");
            Err(found)
        }
    }
}

/// `None` only after a mistake was added.
fn read(mut root: Fields<'_, '_>) -> Option<Profile> {
    if root.whole("format", 1..=1).is_none() && !root.has("format") {
        root.missing("format", "format = 1");
    }
    let name = root.text("name", "a name in quotes");
    match &name {
        Some(name) if !(1..=80).contains(&name.value.trim().chars().count()) => {
            root.mistake(name.at, FileErrorCode::OutOfRange, "`name` is empty or too long", "1 to 80 characters");
        }
        None if !root.has("name") => root.missing("name", "name = \"what you call this meter\""),
        _ => {}
    }
    let unit = root.word("unit", &UNITS).unwrap_or(Unit::Ohm);
    let step = root.decimal("step", unit).map(|step| step.value);
    let places = root.whole("places", 0..=i64::from(MAX_PLACES)).and_then(|p| u8::try_from(p.value).ok());
    let top = root.decimal("top", unit).map(|top| top.value);
    let period = root.whole("period_ms", 10..=60_000).and_then(|p| u64::try_from(p.value).ok());
    let accuracy_milli_pct = root.thousandths("accuracy_pct").map(|a| a.value);
    let accuracy_counts = root.whole("accuracy_counts", 0..=1000).and_then(|c| u32::try_from(c.value).ok());
    let test_current = root.thousandths("test_current_ma").map(|current| current.value);
    let matching = root.table("match").map(matching);
    let frame = root.table("frame").map(frame_rule);
    let words = unit_words(&mut root);
    let value = root.table("value").map(|fields| coding(fields, step, places));
    let codes = root.table("unit_code").and_then(unit_code);
    let flags = root.table("flags").map(flags).unwrap_or_default();
    for (key, instead) in [
        ("match", "[match] with service and characteristic, or name_contains"),
        ("frame", "[frame] with cut = \"whole\", \"fixed\", \"marked\" or \"counted\""),
        ("value", A_CODING),
    ] {
        if !root.has(key) {
            root.missing(key, instead);
        }
    }
    let frame = frame.flatten();
    let coding = value.flatten().map(|coding| with_words(coding, &words));
    let unit_code = settle_codes(&root, codes, words, coding.as_ref());
    let value = coding.map(|coding| ValueRule { unit, coding, unit_code, flags, step, top });
    if let (Some(value), Some(frame)) = (&value, &frame) {
        check_step(&root, value);
        check_places(&root, value, frame);
    }
    root.finish();
    Some(Profile {
        name: name?.value,
        matching: matching.flatten()?,
        frame: frame?,
        value: value?,
        period: period.map(Millis),
        accuracy_milli_pct,
        accuracy_counts,
        test_current_microampere: test_current,
    })
}

fn matching(mut fields: Fields<'_, '_>) -> Option<Matching> {
    let mut uuid = |key| {
        let text = fields.text(key, "a UUID in quotes")?;
        let parsed = Uuid::parse_str(&text.value).ok();
        if parsed.is_none() {
            let what = format!("`{key}` is {:?}", text.value);
            fields.mistake(text.at, FileErrorCode::OutOfRange, what, "a UUID of 32 hexadecimal digits, 8-4-4-4-12");
        }
        parsed
    };
    let (service, characteristic) = (uuid("service"), uuid("characteristic"));
    let name_contains = fields.text("name_contains", "a part of the name in quotes");
    for (key, other) in [("service", "characteristic"), ("characteristic", "service")] {
        if fields.has(key) && !fields.has(other) {
            fields.missing(other, "service and characteristic stand together");
        }
    }
    if let Some(name) = name_contains.as_ref().filter(|name| name.value.trim().chars().count() < 2) {
        // An empty pattern fits every meter near.
        fields.mistake(name.at, FileErrorCode::OutOfRange, "`name_contains` is too short", "at least 2 characters");
    }
    if !["service", "characteristic", "name_contains"].iter().any(|key| fields.has(key)) {
        fields.missing("name_contains", "service and characteristic, or name_contains");
    }
    fields.finish();
    Some(Matching { channel: service.zip(characteristic), name_contains: name_contains.map(|name| name.value) })
}

/// The `[[units]]` of a file: words for texts, codes for a setting byte.
struct UnitWords {
    words: Vec<(String, Meaning)>,
    codes: Vec<(u8, Meaning)>,
}

fn unit_words(root: &mut Fields<'_, '_>) -> UnitWords {
    let mut all = UnitWords { words: Vec::new(), codes: Vec::new() };
    for mut fields in root.tables("units") {
        let word = fields.text("word", "the word in quotes, as the meter sends it");
        let code = fields.byte("code");
        if fields.has("word") == fields.has("code") {
            fields.missing("code", "code = the byte that tells the setting, or word = \"…\" for texts");
        }
        if !fields.has("means") {
            fields.missing("means", "means = \"ohm\", \"kohm\", \"volt\", \"diode\" …");
        }
        let means = fields.text("means", "a unit in quotes").and_then(|text| {
            let known = meaning(&text.value);
            if known.is_none() {
                let what = format!("`means` is {:?}", text.value);
                let instead =
                    "ohm, kohm, Mohm, volt, ampere, farad, hertz, celsius, fahrenheit, percent, diode, continuity";
                fields.mistake(text.at, FileErrorCode::UnknownWord, what, instead);
            }
            known
        });
        if let Some(means) = means {
            let twice = match (&word, code) {
                (Some(word), _) => all.words.iter().any(|(known, _)| *known == word.value.trim()),
                (_, Some(code)) => all.codes.iter().any(|(known, _)| *known == code),
                _ => false,
            };
            if twice {
                fields.mistake(fields.at, FileErrorCode::Conflict, "this unit stands here twice", "each one once");
            }
            all.words.extend(word.map(|word| (word.value.trim().to_owned(), means)));
            all.codes.extend(code.map(|code| (code, means)));
        }
        fields.finish();
    }
    all
}

fn with_words(coding: Coding, words: &UnitWords) -> Coding {
    match coding {
        Coding::Ascii { at, length, rule } => {
            Coding::Ascii { at, length, rule: AsciiRule { words: words.words.clone(), ..rule } }
        }
        other => other,
    }
}

/// Place and mask of the setting byte.
fn unit_code(mut fields: Fields<'_, '_>) -> Option<(usize, u8)> {
    if !fields.has("at") {
        fields.missing("at", "at = the place of the byte, counted from 0");
    }
    let at = fields.count("at", 0..=LAST_PLACE_OF_FRAME);
    let mask = fields.whole("mask", 1..=255).map_or(Some(0xFF), |mask| u8::try_from(mask.value).ok());
    fields.finish();
    at.zip(mask)
}

fn settle_codes(
    root: &Fields<'_, '_>,
    place: Option<(usize, u8)>,
    words: UnitWords,
    coding: Option<&Coding>,
) -> Option<UnitCode> {
    let conflict = |key: &str, what: &str, instead: &str| {
        root.mistake(root.place(key), FileErrorCode::Conflict, what, instead);
    };
    let has_place = root.has("unit_code");
    if has_place && words.codes.is_empty() {
        conflict("unit_code", "no [[units]] with a `code` is given", "[[units]] with code and means for each setting");
    }
    if !has_place && !words.codes.is_empty() {
        conflict("units", "[[units]] have codes, but nothing tells where the code is", "[unit_code] with at and mask");
    }
    if !words.words.is_empty() && coding.is_some_and(|c| !matches!(c, Coding::Ascii { .. })) {
        conflict("units", "[[units]] have words, but the value is no text", "code instead of word");
    }
    let (at, mask) = place?;
    if let Some((code, _)) = words.codes.iter().find(|(code, _)| code & !mask != 0) {
        conflict("units", &format!("code 0x{code:02X} has bits outside of the mask"), "a code within the mask");
    }
    Some(UnitCode { at, mask, meanings: words.codes })
}

fn flags(mut fields: Fields<'_, '_>) -> FlagBits {
    let mut bit = |key| {
        let mut fields = fields.table(key)?;
        for (key, instead) in [("at", "at = the place of the byte, counted from 0"), ("bit", "bit = 0 to 7")] {
            if !fields.has(key) {
                fields.missing(key, instead);
            }
        }
        let at = fields.count("at", 0..=LAST_PLACE_OF_FRAME);
        let bit = fields.whole("bit", 0..=7).and_then(|bit| u8::try_from(bit.value).ok());
        let when = fields.whole("when", 0..=1).is_none_or(|when| when.value == 1);
        fields.finish();
        Some(Bit { at: at?, bit: bit?, when })
    };
    let bits = FlagBits {
        over_range: bit("over_range"),
        hold: bit("hold"),
        relative: bit("relative"),
        low_battery: bit("low_battery"),
        auto_range: bit("auto_range"),
    };
    fields.finish();
    bits
}

/// A step finer than what the bytes can show would claim sight the meter does not have.
fn check_step(root: &Fields<'_, '_>, value: &ValueRule) {
    let Some(step) = value.step else { return };
    if let Some(last) = fixed_step(&value.coding, value.unit)
        && step.compare(last) == Some(Ordering::Less)
    {
        let what = format!("`step` {step} is finer than the last place {last}");
        root.mistake(root.place("step"), FileErrorCode::Conflict, what, format!("step = \"{last}\" or coarser"));
    }
    if let Some(top) = value.top
        && top.compare(step) != Some(Ordering::Greater)
    {
        let what = format!("`top` {top} is not above the step {step}");
        root.mistake(root.place("top"), FileErrorCode::Conflict, what, "the top of the highest range");
    }
}

/// Every place must lie inside of a frame whose length is known.
fn check_places(root: &Fields<'_, '_>, value: &ValueRule, frame: &FrameRule) {
    let length = match frame.cut {
        Cut::Fixed { length } => length,
        _ => match frame.lengths.iter().max() {
            Some(length) => *length,
            None => return,
        },
    };
    let number = match &value.coding {
        Coding::Ascii { at, length, .. } => at.unwrap_or(0) + length.unwrap_or(1),
        Coding::Integer { at, shape, .. } => at + usize::from(shape.bytes),
        Coding::Float { at, shape } => at + shape.width.bytes(),
        Coding::Medfloat { at, width } => at + width.bytes(),
    };
    let exponent = match &value.coding {
        Coding::Integer { exponent: Exponent::Coded { at, .. }, .. } => at + 1,
        _ => 0,
    };
    let flags = &value.flags;
    let bits = [flags.over_range, flags.hold, flags.relative, flags.low_battery, flags.auto_range];
    let flag = bits.iter().flatten().map(|bit| bit.at + 1).max().unwrap_or(0);
    let unit_code = value.unit_code.as_ref().map_or(0, |code| code.at + 1);
    for (key, end) in [("value", number.max(exponent)), ("flags", flag), ("unit_code", unit_code)] {
        if end > length {
            let what = format!("[{key}] reaches to byte {end}, but a frame has {length}");
            root.mistake(root.place(key), FileErrorCode::Conflict, what, "places within the frame, counted from 0");
        }
    }
}
