//! The readings as rows for a table or another program: every touch, isolation reading and sweep in the order of the
//! ledger. Values are digits with a decimal point whatever the language; names of columns and codes are English and
//! stay as they are.

use super::chronicle::{Chronicle, Noted};
use crate::meter::link::Source;
use crate::record::{Instrument, IsolationFact, Sealed, SweepFact, TouchFact};
use crate::settle::Touch;
use crate::unit::Stamp;
use jiff::tz::TimeZone;
use serde::Serialize;

/// Titles of the columns, in the order of [`ReadingRow`].
pub const COLUMNS: [&str; 16] = [
    "part",
    "conductor",
    "other",
    "kind",
    "value",
    "state",
    "unit",
    "standard_uncertainty",
    "time",
    "source",
    "meter",
    "taken",
    "counts",
    "finding",
    "seconds",
    "id",
];

/// One reading. A text is empty where there is nothing to say.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ReadingRow {
    /// Which of the parts that lay on the bench, counted from 1.
    pub part: usize,
    /// Name of the conductor.
    pub conductor: String,
    /// Isolation: name of the other conductor, or "metal".
    pub other: String,
    /// `touch`, `isolation` or `sweep`.
    pub kind: &'static str,
    /// Digits as the meter showed them, with a decimal point; of a sweep its level. Empty: no number.
    pub value: String,
    /// `value`, `over-range` or `none`.
    pub state: &'static str,
    /// `ohm`.
    pub unit: &'static str,
    /// Standard uncertainty of one touch in the verdict it went into, ohm; empty where none holds that used it.
    pub standard_uncertainty: String,
    /// When it was written down, ISO 8601 with offset.
    pub time: String,
    /// `radio`, `typed`, `practice`, `replay`; empty when nobody knows.
    pub source: &'static str,
    /// Identity of the meter.
    pub meter: String,
    /// How a touch came about: `settled`, `as-it-was`, `over-range`, `typed`, `typed-over-range`.
    pub taken: String,
    /// Neither taken back nor set aside.
    pub counts: bool,
    /// Of a sweep: what it showed, by its code.
    pub finding: String,
    /// Of a sweep: how long it ran, seconds.
    pub seconds: String,
    /// Its name in the record.
    pub id: String,
}

/// The readings of a job from its entries, oldest first; `None` if the first one does not open a job. Times are
/// brought to `zone`, or stay as they were written.
pub fn rows(entries: &[Sealed], zone: Option<&TimeZone>) -> Option<Vec<ReadingRow>> {
    let told = Chronicle::read(entries, zone)?;
    let mut rows: Vec<(&Stamp, ReadingRow)> = Vec::new();
    rows.extend(told.touches.iter().map(|noted| (&noted.at, touch(&told, noted))));
    rows.extend(told.isolation.iter().map(|noted| (&noted.at, isolation(&told, noted))));
    rows.extend(told.sweeps.iter().map(|noted| (&noted.at, sweep(&told, noted))));
    // Stable: readings of one moment stay in the order of their kind and of the ledger.
    rows.sort_by_key(|(at, row)| (row.part, at.unix_millis()));
    Some(rows.into_iter().map(|(_, row)| row).collect())
}

/// The rows as CSV (RFC 4180): comma, point, a line of titles, lines end with CR LF. A name that a spreadsheet would
/// take for a formula is led by an apostrophe.
pub fn csv(rows: &[ReadingRow]) -> String {
    let mut text = COLUMNS.join(",");
    text.push_str("\r\n");
    for row in rows {
        let cells = [
            row.part.to_string(),
            harmless(&row.conductor),
            harmless(&row.other),
            row.kind.to_owned(),
            row.value.clone(),
            row.state.to_owned(),
            row.unit.to_owned(),
            row.standard_uncertainty.clone(),
            row.time.clone(),
            row.source.to_owned(),
            harmless(&row.meter),
            row.taken.clone(),
            row.counts.to_string(),
            row.finding.clone(),
            row.seconds.clone(),
            row.id.clone(),
        ];
        text.push_str(&cells.map(|cell| quoted(&cell)).join(","));
        text.push_str("\r\n");
    }
    text
}

/// The rows as a JSON array of objects.
pub fn json(rows: &[ReadingRow]) -> String {
    serde_json::to_string_pretty(rows).expect("rows have only text keys")
}

fn quoted(cell: &str) -> String {
    if cell.contains(['"', ',', '\n', '\r']) { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell.to_owned() }
}

fn harmless(name: &str) -> String {
    if name.starts_with(['=', '+', '-', '@', '\t']) { format!("'{name}") } else { name.to_owned() }
}

fn name(told: &Chronicle, part: usize, conductor: u32) -> String {
    let part = told.parts.get(part).and_then(|job| job.part.as_ref());
    part.and_then(|part| part.conductors.get(conductor as usize)).map_or("?".to_owned(), |c| c.name.clone())
}

fn state(taken: &Touch) -> (String, &'static str) {
    match taken.middle() {
        Some(value) => (value.to_string(), "value"),
        None if taken.kind.is_over_range() => (String::new(), "over-range"),
        None => (String::new(), "none"),
    }
}

fn source(meter: Option<&Instrument>) -> &'static str {
    match meter.map(|meter| meter.source) {
        None => "",
        Some(Source::Radio) => "radio",
        Some(Source::Typed) => "typed",
        Some(Source::Practice) => "practice",
        Some(Source::Replay) => "replay",
    }
}

/// What every kind of row has.
fn row<F>(told: &Chronicle, noted: &Noted<F>, (kind, conductor): (&'static str, u32)) -> ReadingRow {
    let meter = noted.meter.and_then(|index| told.meters.get(index));
    ReadingRow {
        part: noted.part + 1,
        conductor: name(told, noted.part, conductor),
        other: String::new(),
        kind,
        value: String::new(),
        state: "none",
        unit: "ohm",
        standard_uncertainty: String::new(),
        time: noted.at.as_str().to_owned(),
        source: source(meter),
        meter: meter.map_or(String::new(), |meter| meter.identity.clone()),
        taken: String::new(),
        counts: true,
        finding: String::new(),
        seconds: String::new(),
        id: String::new(),
    }
}

/// The word by which a value stands in the record.
fn code(value: &impl Serialize) -> String {
    let written = serde_json::to_value(value).unwrap_or_default();
    written.as_str().unwrap_or_default().to_owned()
}

fn touch(told: &Chronicle, noted: &Noted<TouchFact>) -> ReadingRow {
    let taken = &noted.fact.taken;
    let (value, state) = state(taken);
    let counts = told.counts(noted);
    let judged = told.parts[noted.part].verdict.as_ref().filter(|given| counts && !given.outdated);
    let used = judged.map(|given| String::from(given.judgement.touch_u.clone()));
    ReadingRow {
        value,
        state,
        standard_uncertainty: used.unwrap_or_default(),
        taken: code(&taken.kind),
        counts,
        id: noted.fact.touch.to_string(),
        ..row(told, noted, ("touch", noted.fact.conductor))
    }
}

fn isolation(told: &Chronicle, noted: &Noted<IsolationFact>) -> ReadingRow {
    let fact = &noted.fact;
    let (value, state) = state(&fact.taken);
    ReadingRow {
        other: fact.other.map_or("metal".to_owned(), |other| name(told, noted.part, other)),
        value,
        state,
        taken: code(&fact.taken.kind),
        counts: !told.taken_back.contains(&fact.reading),
        id: fact.reading.to_string(),
        ..row(told, noted, ("isolation", fact.a))
    }
}

fn sweep(told: &Chronicle, noted: &Noted<SweepFact>) -> ReadingRow {
    let fact = &noted.fact;
    let level = fact.finding.baseline.clone().map(String::from);
    let length = fact.to_ms.since(fact.from_ms).0;
    ReadingRow {
        state: if level.is_some() { "value" } else { "none" },
        value: level.unwrap_or_default(),
        counts: !told.taken_back.contains(&fact.sweep),
        finding: code(&fact.finding.verdict),
        seconds: format!("{}.{:03}", length / 1_000, length % 1_000),
        id: fact.sweep.to_string(),
        ..row(told, noted, ("sweep", fact.conductor))
    }
}
