//! Reading a procedure file: the head, and how its parts are put together.

use super::amount::{Amount, Dimension};
use super::circuits::Circuits;
use super::fact::is_id;
use super::places::{Map, Places};
use super::texts::{LANGUAGES, PASSAGE, TITLE, Texts, Tongue, is_odd};
use super::{Head, MAX_FILE, Procedure, Source, Status, check, read_circuits, read_step};
use crate::meter::fields::{Fields, Mistakes, Placed};
use crate::meter::spelling::nearest;
use crate::meter::{FileError, FileErrorCode};
use crate::unit::Day;
use std::collections::BTreeSet;

pub(super) const STATUSES: [(&str, Status); 3] =
    [("draft", Status::Draft), ("approved", Status::Approved), ("withdrawn", Status::Withdrawn)];
/// Longest name of a person, shop or colour, in characters.
const MAX_WORDS: usize = 80;

/// See [`Procedure::parse`].
pub(super) fn parse(text: &str) -> Result<Procedure, Vec<FileError>> {
    let mistakes = Mistakes::new(text);
    let procedure = mistakes.parse_up_to(MAX_FILE).and_then(|root| {
        let fields = Fields::new(&mistakes, root.get_ref(), 0..0);
        read(&mistakes, fields, text.len())
    });
    let found = mistakes.into_sorted();
    match procedure {
        Some(procedure) if found.is_empty() => Ok(procedure),
        _ => {
            assert!(!found.is_empty(), "a procedure is missing only after a mistake was told");
            Err(found)
        }
    }
}

/// What the steps refer to.
pub(super) struct Book<'b> {
    pub tongue: &'b Tongue,
    pub sources: &'b [Source],
    pub circuits: &'b Circuits,
}

/// `None` only after a mistake was added.
fn read(mistakes: &Mistakes<'_>, mut root: Fields<'_, '_>, end: usize) -> Option<Procedure> {
    if root.whole("format", 1..=1).is_none() && !root.has("format") {
        root.missing("format", "format = 1");
    }
    let tongue = tongue(&mut root)?;
    let head = head(&mut root, &tongue);
    let read_circuits = read_circuits::circuits(&mut root, &tongue);
    let places = Places::of(&root, &["version", "author", "reviewer", "status", "languages", "part", "sources"]);
    let mut map = Map { head: places, plugs: vec![], wires: vec![], bars: vec![], steps: vec![], end };
    let mut procedure = None;
    if let (Some(head), Some(circuits)) = (head, read_circuits) {
        let book = Book { tongue: &tongue, sources: &head.sources, circuits: &circuits.circuits };
        let (steps, places) = read_step::steps(&mut root, &book);
        (map.plugs, map.wires, map.bars, map.steps) = (circuits.plugs, circuits.wires, circuits.bars, places);
        procedure = Some(Procedure { head, circuits: circuits.circuits, steps });
    } else {
        // What they refer to is not known: their own mistakes are told once that is right.
        root.let_pass(&["steps"]);
    }
    root.finish();
    let procedure = procedure?;
    // Anything told so far would be told again in other words.
    if mistakes.is_empty() {
        check::check(&procedure, &map, mistakes);
    }
    Some(procedure)
}

fn tongue(root: &mut Fields<'_, '_>) -> Option<Tongue> {
    if !root.has("languages") {
        root.missing("languages", "languages = [\"en\"], or [\"en\", \"de\"]");
        return None;
    }
    let mut places = Places::default();
    let words = items(root, "languages", &mut places)?;
    let mut languages = Vec::new();
    for word in &words {
        let known = LANGUAGES.iter().find(|(known, _)| *known == word.value);
        match known {
            Some((_, language)) => languages.push(*language),
            None => {
                let what = format!("{:?} is no language known here", word.value);
                root.mistake(word.at, FileErrorCode::UnknownWord, what, "\"en\" or \"de\"");
            }
        }
    }
    if words.is_empty() {
        let at = root.place("languages");
        root.mistake(at, FileErrorCode::OutOfRange, "no language is named", "languages = [\"en\"]");
    }
    (!languages.is_empty() && languages.len() == words.len()).then_some(Tongue { languages })
}

fn head(root: &mut Fields<'_, '_>, tongue: &Tongue) -> Option<Head> {
    for (key, instead) in [
        ("id", "id = \"orrin-3-coil\""),
        ("version", "version = 1"),
        ("author", "author = \"who wrote it\""),
        ("date", "date = \"2026-05-31\""),
        ("status", "status = \"draft\""),
    ] {
        if !root.has(key) {
            root.missing(key, instead);
        }
    }
    let id = id(root, "id");
    let version = root.whole("version", 1..=999_999).and_then(|v| u32::try_from(v.value).ok());
    let author = words(root, "author");
    let reviewer = words(root, "reviewer");
    let date = root.text("date", "a day in quotes, as in \"2026-05-31\"").and_then(|text| {
        let day = Day::parse(&text.value).ok();
        if day.is_none() {
            let what = format!("`date` is {:?}", text.value);
            root.mistake(text.at, FileErrorCode::OutOfRange, what, "a day as in \"2026-05-31\"");
        }
        day
    });
    let status = root.word("status", &STATUSES);
    let title = tongue.wanted(root, "title", TITLE);
    let applies_to = tongue.wanted(root, "applies_to", PASSAGE);
    let sources = sources(root, tongue);
    let tools = tongue.list(root, "tools", TITLE);
    let parts_to_renew = tongue.list(root, "parts_to_renew", TITLE);
    Some(Head {
        id: id?.value,
        version: version?,
        author: author?,
        reviewer,
        date: date?,
        languages: tongue.languages.clone(),
        status: status?,
        title: title?,
        applies_to: applies_to?,
        sources: sources?,
        tools,
        parts_to_renew,
    })
}

fn sources(root: &mut Fields<'_, '_>, tongue: &Tongue) -> Option<Vec<Source>> {
    let mut all: Vec<Option<Source>> = Vec::new();
    let mut seen = BTreeSet::new();
    for mut fields in root.tables("sources") {
        let id = wanted_id(&mut fields, "id", "id = \"handbook\"");
        let text: Option<Texts> = tongue.wanted(&mut fields, "text", PASSAGE);
        if let Some(id) = id.as_ref().filter(|id| !seen.insert(id.value.clone())) {
            fields.mistake(id.at, FileErrorCode::Conflict, "another source has this id", "an id of its own");
        }
        fields.finish();
        all.push(id.zip(text).map(|(id, text)| Source { id: id.value, text }));
    }
    all.into_iter().collect()
}

// --- single values, used by every part of the file ---

/// An id: small letters, digits and `-`.
pub(super) fn id(fields: &mut Fields<'_, '_>, key: &'static str) -> Option<Placed<String>> {
    let text = fields.text(key, "an id in quotes")?;
    if !is_id(&text.value) {
        let what = format!("`{key}` is {:?}", shortened(&text.value));
        let instead = "1 to 40 small letters a to z, digits and -";
        fields.mistake(text.at, FileErrorCode::OutOfRange, what, instead);
        return None;
    }
    Some(text)
}

pub(super) fn wanted_id(fields: &mut Fields<'_, '_>, key: &'static str, instead: &str) -> Option<Placed<String>> {
    if !fields.has(key) {
        fields.missing(key, instead);
    }
    id(fields, key)
}

/// A short text that needs no translation: a name.
pub(super) fn words(fields: &mut Fields<'_, '_>, key: &'static str) -> Option<String> {
    let text = fields.text(key, "a text in quotes")?;
    let length = text.value.trim().chars().count();
    if !(1..=MAX_WORDS).contains(&length) || text.value.chars().any(is_odd) {
        let what = format!("`{key}` is {:?}", shortened(&text.value));
        let instead = format!("1 to {MAX_WORDS} characters that can be seen");
        fields.mistake(text.at, FileErrorCode::OutOfRange, what, instead);
        return None;
    }
    Some(text.value.trim().to_owned())
}

/// A list of texts with their places, each once; wrong ones are told and left out.
pub(super) fn items(
    fields: &mut Fields<'_, '_>,
    key: &'static str,
    places: &mut Places,
) -> Option<Vec<Placed<String>>> {
    let wanted = "a list of words in quotes, such as [\"a\", \"b\"]";
    let list = fields.list_up_to(key, wanted, 64)?;
    let mut all: Vec<Placed<String>> = Vec::new();
    for value in list {
        let Some(text) = value.get_ref().as_str() else {
            fields.wrong_type(key, value, wanted);
            continue;
        };
        let at = value.span().start;
        if all.iter().any(|other| other.value == text) {
            let what = format!("{:?} stands here twice", shortened(text));
            fields.mistake(at, FileErrorCode::Conflict, what, "each one once");
        } else {
            all.push(Placed { value: text.to_owned(), at });
        }
    }
    places.keep(key, &all);
    Some(all)
}

/// The places of some words of a list among those known; a word that is not known is told.
pub(super) fn known<T>(
    fields: &Fields<'_, '_>,
    (key, words): (&str, &[Placed<String>]),
    candidates: &[(&str, T)],
) -> Vec<usize> {
    let mut hits = Vec::new();
    for word in words {
        match candidates.iter().position(|(known, _)| *known == word.value) {
            Some(hit) => hits.push(hit),
            None => {
                let names = candidates.iter().map(|(known, _)| *known);
                let instead = match nearest(&word.value, names.clone()) {
                    Some(near) => format!("did you mean \"{near}\"?"),
                    None => format!("one of {}", names.collect::<Vec<_>>().join(", ")),
                };
                let what = format!("`{key}` names {:?}, which is not there", shortened(&word.value));
                fields.mistake(word.at, FileErrorCode::UnknownWord, what, instead);
            }
        }
    }
    hits
}

/// A figure of this dimension.
pub(super) fn amount(fields: &mut Fields<'_, '_>, key: &'static str, dimension: Dimension) -> Option<Placed<Amount>> {
    amount_of(fields, key, &[dimension])
}

/// A figure of one of these dimensions, or of any if none is named.
pub(super) fn amount_of(
    fields: &mut Fields<'_, '_>,
    key: &'static str,
    dimensions: &[Dimension],
) -> Option<Placed<Amount>> {
    let example = dimensions.first().unwrap_or(&Dimension::Resistance).example();
    let wanted = format!("a figure with its unit in quotes, such as \"{example}\"");
    let text = fields.text(key, &wanted)?;
    let shown = shortened(&text.value);
    match Amount::parse(&text.value) {
        Ok(amount) if dimensions.is_empty() || dimensions.contains(&amount.dimension()) => {
            Some(Placed { value: amount, at: text.at })
        }
        Ok(amount) => {
            let what = format!("`{key}` is in {}, which does not fit", amount.measure().sign());
            let units: Vec<_> = dimensions.iter().map(|dimension| dimension.units()).collect();
            fields.mistake(text.at, FileErrorCode::Conflict, what, format!("a figure in {}", units.join(", ")));
            None
        }
        Err(why) => {
            let what = format!("`{key}` is {shown:?}: {why}");
            fields.mistake(text.at, FileErrorCode::OutOfRange, what, wanted);
            None
        }
    }
}

/// As [`amount`], above zero, and missed if it is not there.
pub(super) fn wanted_amount(
    fields: &mut Fields<'_, '_>,
    key: &'static str,
    dimension: Dimension,
) -> Option<Placed<Amount>> {
    if !fields.has(key) {
        fields.missing(key, &format!("{key} = \"{}\"", dimension.example()));
    }
    positive(fields, key, dimension)
}

/// As [`amount`], above zero.
pub(super) fn positive(fields: &mut Fields<'_, '_>, key: &'static str, dimension: Dimension) -> Option<Placed<Amount>> {
    let amount = amount(fields, key, dimension)?;
    if !amount.value.is_positive() {
        let what = format!("`{key}` is {}", amount.value);
        fields.mistake(amount.at, FileErrorCode::OutOfRange, what, "a figure above zero");
        return None;
    }
    Some(amount)
}

/// The beginning of a text from outside: enough to find it by.
pub(super) fn shortened(text: &str) -> String {
    if text.chars().count() <= 60 { text.to_owned() } else { text.chars().take(60).chain(['…']).collect() }
}
