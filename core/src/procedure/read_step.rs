//! Reading steps: what every kind has.

use super::fact::Fact;
use super::places::Places;
use super::read::{Book, id, items, known, shortened, wanted_id};
use super::read_kind::{KINDS, kind};
use super::step::{Counted, Evidence, SignOff, Step};
use super::texts::{INSTRUCTION, TITLE};
use super::{MAX_STEPS, read_circuits};
use crate::caution::Caution;
use crate::meter::FileErrorCode;
use crate::meter::fields::Fields;
use crate::meter::spelling::nearest;
use std::collections::BTreeSet;

pub(super) const EVIDENCE: [(&str, Evidence); 4] =
    [("photo", Evidence::Photo), ("value", Evidence::Value), ("list", Evidence::List), ("words", Evidence::Words)];
pub(super) const SIGN_OFFS: [(&str, SignOff); 2] = [("technician", SignOff::Technician), ("second", SignOff::Second)];
/// Most loads or pins fitted in one step.
pub(super) const MOST_LOOSE: i64 = 20;
/// Keys whose places are kept for the validator.
const PLACED: [&str; 40] = [
    "id",
    "kind",
    "cautions",
    "needs",
    "gives",
    "cancels",
    "after",
    "plugs",
    "battery_on",
    "loads_out",
    "loads_in",
    "locks_out",
    "locks_in",
    "evidence",
    "skip",
    "at_least",
    "starts",
    "restarts",
    "limit",
    "points",
    "when",
    "erases",
    "again",
    "repeat_at_end",
    "conductors",
    "low",
    "high",
    "pairs",
    "above",
    "bars",
    "group",
    "total",
    "back",
    "free_each_side",
    "also",
    "lowest",
    "adapter_length",
    "turns_each_side",
    "closes",
    "stores_zero",
];

/// The word of a caution: its name in the record.
pub(super) fn caution_words() -> Vec<(String, Caution)> {
    Caution::ALL.into_iter().map(|caution| (format!("{caution:?}"), caution)).collect()
}

/// All steps that could be read, with their places; those that could not were told.
pub(super) fn steps(root: &mut Fields<'_, '_>, book: &Book<'_>) -> (Vec<Step>, Vec<Places>) {
    let (mut all, mut places) = (Vec::new(), Vec::new());
    for mut fields in root.tables_up_to("steps", MAX_STEPS) {
        let mut place = Places::of(&fields, &PLACED);
        let step = step(&mut fields, book, &mut place);
        // What else may stand in a step depends on its kind.
        if KINDS.contains(&fields.word_at("kind").unwrap_or_default()) {
            fields.finish();
        }
        if let Some(step) = step {
            all.push(step);
            places.push(place);
        }
    }
    if !root.has("steps") {
        root.missing("steps", "[[steps]] with id, kind, title and text");
    }
    (all, places)
}

fn step(fields: &mut Fields<'_, '_>, book: &Book<'_>, places: &mut Places) -> Option<Step> {
    let id = wanted_id(fields, "id", "id = \"cable-off\"");
    let title = book.tongue.wanted(fields, "title", TITLE);
    let text = book.tongue.wanted(fields, "text", INSTRUCTION);
    let picture = self::id(fields, "picture").map(|picture| picture.value);
    let cautions = cautions(fields, places);
    let [needs, gives, cancels] = ["needs", "gives", "cancels"].map(|key| facts(fields, key, places));
    let after = items(fields, "after", places).unwrap_or_default().into_iter().map(|word| word.value).collect();
    let plugs = read_circuits::plugs(fields, book.circuits, places);
    let battery_on = fields.yes_or_no("battery_on").unwrap_or(false);
    let counted = Counted {
        loads_out: loose(fields, "loads_out"),
        loads_in: loose(fields, "loads_in"),
        locks_out: loose(fields, "locks_out"),
        locks_in: loose(fields, "locks_in"),
    };
    let evidence = items(fields, "evidence", places).unwrap_or_default();
    let evidence = known(fields, ("evidence", &evidence), &EVIDENCE).into_iter().map(|hit| EVIDENCE[hit].1).collect();
    let skip = book.tongue.texts(fields, "skip", INSTRUCTION);
    let given = fields.has("sign_off");
    let sign_off = fields.word("sign_off", &SIGN_OFFS);
    let sign_off = if given { sign_off } else { Some(SignOff::default()) };
    let kind = kind(fields, book, places);
    Some(Step {
        id: id?.value,
        title: title?,
        text: text?,
        picture,
        cautions,
        kind: kind?,
        needs,
        after,
        gives,
        cancels,
        plugs,
        battery_on,
        counted,
        evidence,
        skip,
        sign_off: sign_off?,
    })
}

fn loose(fields: &mut Fields<'_, '_>, key: &'static str) -> u8 {
    fields.whole(key, 0..=MOST_LOOSE).and_then(|count| u8::try_from(count.value).ok()).unwrap_or(0)
}

fn cautions(fields: &mut Fields<'_, '_>, places: &mut Places) -> BTreeSet<Caution> {
    let words = items(fields, "cautions", places).unwrap_or_default();
    let known_words = caution_words();
    let candidates: Vec<(&str, ())> = known_words.iter().map(|(word, _)| (word.as_str(), ())).collect();
    known(fields, ("cautions", &words), &candidates).into_iter().map(|hit| known_words[hit].1).collect()
}

/// The facts at `key`; what is no fact is told.
pub(super) fn facts(fields: &mut Fields<'_, '_>, key: &'static str, places: &mut Places) -> BTreeSet<Fact> {
    let words = items(fields, key, places).unwrap_or_default();
    let mut facts = BTreeSet::new();
    for word in words {
        match Fact::parse(&word.value) {
            Ok(fact) => {
                facts.insert(fact);
            }
            Err(_) => {
                let name = word.value.split('(').next().unwrap_or_default();
                let instead = match nearest(name, Fact::NAMES.into_iter()) {
                    Some(near) if ["inflator_away", "bar_open", "bar_restored"].contains(&near) => {
                        format!("\"{near}(x)\" with the name of the inflator or bar")
                    }
                    Some(near) => format!("did you mean \"{near}\"?"),
                    None => format!("one of {}", Fact::NAMES.join(", ")),
                };
                let what = format!("`{key}` names {:?}, which is no fact", shortened(&word.value));
                fields.mistake(word.at, FileErrorCode::UnknownWord, what, instead);
            }
        }
    }
    facts
}
