//! The `[value]` section of a profile file.

use super::ascii::{AsciiRule, UnitText};
use super::fields::{Fields, FileErrorCode};
use super::float::{FloatShape, FloatWidth};
use super::frame::MAX_FRAME;
use super::integer::{IntegerShape, Order};
use super::medfloat::MedfloatWidth;
use super::value::{Coding, Exponent};
use crate::unit::Quantity;

pub(super) const LAST_PLACE_OF_FRAME: i64 = MAX_FRAME as i64 - 1;
pub(super) const ORDERS: [(&str, Order); 2] = [("little", Order::Little), ("big", Order::Big)];
pub(super) const A_CODING: &str = "coding = \"ascii\", \"integer\", \"float\" or \"medfloat\"";

#[derive(Clone, Copy)]
enum CodingWord {
    Ascii,
    Integer,
    Float,
    Medfloat,
}

/// Reads `[value]`. `None` only after a mistake was told.
pub(super) fn coding(mut fields: Fields<'_, '_>, step: Option<Quantity>, places: Option<u8>) -> Option<Coding> {
    let words = [
        ("ascii", CodingWord::Ascii),
        ("integer", CodingWord::Integer),
        ("float", CodingWord::Float),
        ("medfloat", CodingWord::Medfloat),
    ];
    let word = fields.word("coding", &words);
    if !fields.has("coding") {
        fields.missing("coding", A_CODING);
    }
    let at = fields.count("at", 0..=LAST_PLACE_OF_FRAME);
    let Some(word) = word else {
        // Which of these belong here depends on the coding.
        fields.let_pass(&["length", "decimal", "unit_text", "over_range", "blank"]);
        fields.let_pass(&["bytes", "signed", "order", "exponent", "exponent_in"]);
        fields.finish();
        return None;
    };
    if !matches!(word, CodingWord::Ascii) && !fields.has("at") {
        fields.missing("at", "at = the place of the number's first byte, counted from 0");
    }
    let coding = match word {
        CodingWord::Ascii => Some(ascii(&mut fields, at)),
        CodingWord::Integer => integer(&mut fields)
            .zip(at)
            .map(|((shape, exponent, over_range), at)| Coding::Integer { at, shape, exponent, over_range }),
        CodingWord::Float => {
            let width = width(&mut fields, [(4, FloatWidth::Single), (8, FloatWidth::Double)]);
            let order = fields.word("order", &ORDERS);
            if !fields.has("order") {
                fields.missing("order", "order = \"little\" or \"big\"");
            }
            let places = places.or(step.map(Quantity::places));
            if places.is_none() {
                let what = "a binary float does not tell how many places the display has";
                fields.mistake(fields.at, FileErrorCode::MissingKey, what, "places = … or step = \"…\" at the top");
            }
            let shape = (width, order, places);
            match shape {
                (Some(width), Some(order), Some(places)) => {
                    at.map(|at| Coding::Float { at, shape: FloatShape { width, order, places } })
                }
                _ => None,
            }
        }
        CodingWord::Medfloat => {
            let width = width(&mut fields, [(2, MedfloatWidth::Short), (4, MedfloatWidth::Long)]);
            at.zip(width).map(|(at, width)| Coding::Medfloat { at, width })
        }
    };
    fields.finish();
    coding
}

fn width<T: Copy>(fields: &mut Fields<'_, '_>, known: [(i64, T); 2]) -> Option<T> {
    let [(small, _), (large, _)] = known;
    let wanted = format!("bytes = {small} or {large}");
    if !fields.has("bytes") {
        fields.missing("bytes", &wanted);
    }
    let bytes = fields.whole("bytes", small..=large)?;
    let hit = known.iter().find(|(size, _)| *size == bytes.value).map(|(_, width)| *width);
    if hit.is_none() {
        fields.mistake(bytes.at, FileErrorCode::OutOfRange, format!("`bytes` is {}", bytes.value), wanted);
    }
    hit
}

fn ascii(fields: &mut Fields<'_, '_>, at: Option<usize>) -> Coding {
    let length = fields.count("length", 1..=LAST_PLACE_OF_FRAME);
    let decimal = fields.word("decimal", &[(".", '.'), (",", ',')]).unwrap_or('.');
    let unit_text = [("required", UnitText::Required), ("absent", UnitText::Absent)];
    let unit_text = fields.word("unit_text", &unit_text).unwrap_or(UnitText::Required);
    let mut words = |key, usual: &[&str]| {
        let given = fields.texts(key).unwrap_or_else(|| usual.iter().map(ToString::to_string).collect());
        let mut lower: Vec<String> = given.iter().map(|word| word.trim().to_lowercase()).collect();
        lower.sort_by_key(|word| std::cmp::Reverse(word.len()));
        lower
    };
    let over_range = words("over_range", &["ol", "o.l", "0l", "0.l", "over", "overload"]);
    let blank = words("blank", &["----", "---", "--"]);
    Coding::Ascii { at, length, rule: AsciiRule { decimal, over_range, blank, words: Vec::new(), unit_text } }
}

fn integer(fields: &mut Fields<'_, '_>) -> Option<(IntegerShape, Exponent, Option<i64>)> {
    if !fields.has("bytes") {
        fields.missing("bytes", "bytes = 1, 2, 3 or 4");
    }
    let bytes = fields.whole("bytes", 1..=4).and_then(|b| u8::try_from(b.value).ok());
    if !fields.has("signed") {
        fields.missing("signed", "signed = true or false");
    }
    let signed = fields.yes_or_no("signed");
    let order = fields.word("order", &ORDERS);
    if !fields.has("order") && bytes != Some(1) {
        fields.missing("order", "order = \"little\" or \"big\"");
    }
    let over_range = fields.whole("over_range", -(1 << 31)..=(1 << 32) - 1).map(|raw| raw.value);
    let fixed = fields.whole("exponent", -12..=9).and_then(|e| i8::try_from(e.value).ok()).map(Exponent::Fixed);
    let coded = fields.table("exponent_in").and_then(coded_exponent);
    match (fields.has("exponent"), fields.has("exponent_in")) {
        (true, true) => {
            let what = "both `exponent` and `exponent_in` are given";
            fields.mistake(fields.place("exponent"), FileErrorCode::Conflict, what, "one of the two");
        }
        (false, false) => fields.missing("exponent", "exponent = -3 for thousandths, or exponent_in = { at = … }"),
        _ => {}
    }
    let order = if bytes == Some(1) { order.or(Some(Order::Little)) } else { order };
    Some((IntegerShape { bytes: bytes?, signed: signed?, order: order? }, fixed.or(coded)?, over_range))
}

fn coded_exponent(mut fields: Fields<'_, '_>) -> Option<Exponent> {
    if !fields.has("at") {
        fields.missing("at", "at = the place of the byte, counted from 0");
    }
    if !fields.has("is") {
        fields.missing("is", "is = \"places\" or \"power\"");
    }
    let at = fields.count("at", 0..=LAST_PLACE_OF_FRAME);
    let mask = fields.whole("mask", 1..=255).map_or(Some(0xFF), |m| u8::try_from(m.value).ok());
    let places = fields.word("is", &[("places", true), ("power", false)]);
    let add = fields.whole("add", -12..=12).map_or(Some(0), |a| i8::try_from(a.value).ok());
    fields.finish();
    Some(Exponent::Coded { at: at?, mask: mask?, places: places?, add: add? })
}
