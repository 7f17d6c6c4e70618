//! Reading steps at the bench: zero, measure, sweep, isolation, compare.

use super::amount::{Amount, Dimension};
use super::kind::{Compare, Isolation, Limit, Measuring, Sweeping, Zero};
use super::places::Places;
use super::read::{Book, amount, id, items, known, positive, shortened, wanted_amount};
use super::read_kind::source;
use super::texts::TITLE;
use crate::meter::FileErrorCode;
use crate::meter::fields::Fields;
use crate::sweep::plan::{MOST, Movement, PACE_S, SweepPlan};
use std::collections::BTreeSet;

/// What stands for the metal of the vehicle or the part in a pair.
const BODY: &str = "body";

pub(super) fn zero(fields: &mut Fields<'_, '_>, book: &Book<'_>) -> Option<Zero> {
    let leads = book.tongue.wanted(fields, "leads", TITLE);
    let drift = wanted_amount(fields, "drift", Dimension::Resistance);
    let drift_steps = small(fields, "drift_steps", 2);
    let source = source(fields, book);
    let repeat_at_end = fields.yes_or_no("repeat_at_end").unwrap_or(false);
    let again = id(fields, "again").map(|again| again.value);
    Some(Zero { leads: leads?, drift: drift?.value, drift_steps, source: source?, repeat_at_end, again })
}

/// A count from 1 to 20.
fn small(fields: &mut Fields<'_, '_>, key: &'static str, unless_given: u8) -> u8 {
    fields.whole(key, 1..=i64::from(MOST)).and_then(|count| u8::try_from(count.value).ok()).unwrap_or(unless_given)
}

/// The conductors named one by one, or the whole group; `None` only after a mistake was told.
fn wires(fields: &mut Fields<'_, '_>, book: &Book<'_>, places: &mut Places) -> Option<BTreeSet<usize>> {
    let ids: Vec<(&str, ())> = book.circuits.wires.iter().map(|wire| (wire.id.as_str(), ())).collect();
    if !fields.has("conductors") {
        fields.missing("conductors", "conductors = [\"horn\", \"ground\"]");
    }
    let words = items(fields, "conductors", places)?;
    if words.is_empty() {
        let at = fields.place("conductors");
        fields.mistake(at, FileErrorCode::OutOfRange, "no conductor is named", "conductors = [\"horn\", \"ground\"]");
        return None;
    }
    Some(known(fields, ("conductors", &words), &ids).into_iter().collect())
}

/// Low and high, either or both, in ohm. The outer `None` only after a mistake was told.
fn limit(fields: &mut Fields<'_, '_>, book: &Book<'_>) -> Option<Option<Limit>> {
    let given = fields.has("low") || fields.has("high");
    let low = amount(fields, "low", Dimension::Resistance);
    let high = positive(fields, "high", Dimension::Resistance);
    if !given {
        // A source without a figure says nothing; it is left to be told as a key that means nothing here.
        return Some(None);
    }
    let source = source(fields, book);
    if let Some(low) = low.filter(|low| low.value.is_negative()) {
        let what = format!("`low` is {}", low.value);
        fields.mistake(low.at, FileErrorCode::OutOfRange, what, "a resistance from 0 Ω");
    }
    if let (Some(low), Some(high)) = (low, high)
        && high.value.at_most(low.value)
    {
        let what = format!("`low` {} is not below `high` {}", low.value, high.value);
        fields.mistake(low.at, FileErrorCode::Conflict, what, "the lower figure at `low`");
    }
    let missing = (fields.has("low") && low.is_none()) || (fields.has("high") && high.is_none());
    let side = |side: Option<crate::meter::fields::Placed<Amount>>| side.map(|side| side.value);
    let source = source?;
    (!missing).then(|| Some(Limit { low: side(low), high: side(high), source }))
}

pub(super) fn measure(fields: &mut Fields<'_, '_>, book: &Book<'_>, places: &mut Places) -> Option<Measuring> {
    let wires = wires(fields, book, places);
    if !fields.has("touches") {
        fields.missing("touches", "touches = 3");
    }
    let touches = fields.whole("touches", 1..=4).and_then(|touches| u8::try_from(touches.value).ok());
    let limit = limit(fields, book);
    let given = fields.has("wires");
    let leads = leads(fields);
    let leads = if given { leads } else { Some(2) };
    Some(Measuring { wires: wires?, touches: touches?, limit: limit?, leads: leads? })
}

/// Two or four.
fn leads(fields: &mut Fields<'_, '_>) -> Option<u8> {
    let number = fields.whole("wires", 2..=4)?;
    if number.value == 3 {
        fields.mistake(number.at, FileErrorCode::OutOfRange, "`wires` is 3", "2 or 4");
        return None;
    }
    u8::try_from(number.value).ok()
}

pub(super) fn sweep(fields: &mut Fields<'_, '_>, book: &Book<'_>, places: &mut Places) -> Option<Sweeping> {
    let wires = wires(fields, book, places);
    let range = 1..=i64::from(MOST);
    let turns = fields.whole("turns_each_side", range.clone()).and_then(|t| u8::try_from(t.value).ok());
    let passes = fields.whole("passes", range).and_then(|p| u8::try_from(p.value).ok());
    if fields.has("turns_each_side") == fields.has("passes") {
        let instead = "turns_each_side = 2 for what turns, or passes = 3 for what bends";
        fields.missing("turns_each_side", instead);
    }
    let given = fields.has("pace_s");
    let pace_s = fields.whole("pace_s", 2..=i64::from(MOST)).and_then(|pace| u8::try_from(pace.value).ok());
    let pace_s = if given { pace_s } else { Some(PACE_S) };
    let jump = wanted_amount(fields, "jump", Dimension::Resistance);
    let jump_steps = small(fields, "jump_steps", 3);
    let at_least = wanted_amount(fields, "at_least", Dimension::Time);
    let source = source(fields, book);
    let marks = book.tongue.list(fields, "marks", TITLE);
    let movement = match (turns, passes) {
        (Some(each_side), None) => Some(Movement::Turns { each_side }),
        (None, Some(passes)) => Some(Movement::Flexes { passes }),
        _ => None,
    };
    let plan = SweepPlan { movement: movement?, pace_s: pace_s? };
    let (jump, at_least) = (jump?.value, at_least?.value);
    Some(Sweeping { wires: wires?, plan, marks, jump, jump_steps, at_least, source: source? })
}

pub(super) fn isolation(fields: &mut Fields<'_, '_>, book: &Book<'_>) -> Option<Isolation> {
    let above = wanted_amount(fields, "above", Dimension::Resistance);
    let source = source(fields, book);
    let bars_open = match fields.word("bars", &[("open", true), ("none", false)]) {
        Some(open) => Some(open),
        None if fields.has("bars") => None,
        None => {
            fields.missing("bars", "bars = \"open\", or \"none\" where no bar bridges these pairs");
            None
        }
    };
    if !fields.has("pairs") {
        fields.missing("pairs", "pairs = [[\"horn\", \"ground\"], [\"horn\", \"body\"]]");
    }
    let wanted = "a list of pairs, such as [[\"horn\", \"ground\"], [\"horn\", \"body\"]]";
    let list = fields.list_up_to("pairs", wanted, 256)?;
    let ids: Vec<&str> = book.circuits.wires.iter().map(|wire| wire.id.as_str()).collect();
    let mut pairs = BTreeSet::new();
    for value in list {
        let two = value.get_ref().as_array().filter(|pair| pair.len() == 2);
        let sides: Vec<&str> =
            two.into_iter().flat_map(|pair| pair.iter()).filter_map(|v| v.get_ref().as_str()).collect();
        let at = value.span().start;
        let [one, other] = sides[..] else {
            fields.mistake(at, FileErrorCode::WrongType, "this is no pair of names", wanted);
            continue;
        };
        let index = |name: &str| ids.iter().position(|id| *id == name);
        match (index(one), index(other)) {
            (Some(a), Some(b)) if a != b => drop(pairs.insert((a.min(b), Some(a.max(b))))),
            (Some(a), None) if other == BODY => drop(pairs.insert((a, None))),
            (Some(_), Some(_)) => {
                fields.mistake(at, FileErrorCode::Conflict, "a conductor against itself", "two different ones");
            }
            _ => {
                let what = format!("no such pair: {:?} and {:?}", shortened(one), shortened(other));
                let instead = "two conductors of this file, or one and \"body\"";
                fields.mistake(at, FileErrorCode::UnknownWord, what, instead);
            }
        }
    }
    if list.is_empty() {
        fields.mistake(fields.place("pairs"), FileErrorCode::OutOfRange, "no pair is named", wanted);
    }
    Some(Isolation { pairs, above: above?.value, bars_open: bars_open?, source: source? })
}

pub(super) fn compare(fields: &mut Fields<'_, '_>, book: &Book<'_>) -> Option<Compare> {
    if !fields.has("group") {
        fields.missing("group", "group = \"squib\"");
    }
    let group = id(fields, "group");
    let known_good = fields.yes_or_no("known_good").unwrap_or(false);
    let groups: BTreeSet<&str> = book.circuits.wires.iter().filter_map(|wire| wire.group.as_deref()).collect();
    let groups: Vec<(&str, ())> = groups.into_iter().map(|group| (group, ())).collect();
    let group = group?;
    known(fields, ("group", std::slice::from_ref(&group)), &groups).first()?;
    Some(Compare { group: group.value, known_good })
}
