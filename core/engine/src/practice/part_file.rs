//! The part file: what may stand in it, and what must.

use super::part_model::{Fault, PartModel, Wire};
use evenwire_core::meter::{FileError, FileErrorCode};
use evenwire_core::part::{
    AtEnd, Conductor, Connector, End, MAX_CAVITIES, MAX_CONDUCTORS, MAX_CONNECTORS, PartProblem,
};
use serde::Deserialize;
use std::ops::Range;
use toml::Spanned;

/// Longest part file, bytes.
const MAX_FILE: usize = 64 * 1024;
/// Most entries of a table over angle.
const MAX_ANGLES: usize = 256;
/// Angles go this far to either side, thousandths of a turn.
const MAX_TURN_MILLI: i64 = 10_000;
/// No conductor of a part is written with more than this, ohm.
const MAX_OHM: f64 = 1_000_000.0;
const DEFAULT_REACH_MILLI: i64 = 40;

const AT_ENDS: [(&str, AtEnd); 7] = [
    ("open-plug", AtEnd::OpenPlug),
    ("bare-terminal", AtEnd::BareTerminal),
    ("unpowered-load", AtEnd::UnpoweredLoad),
    ("control-unit", AtEnd::ControlUnit),
    ("inflator", AtEnd::Inflator),
    ("tensioner", AtEnd::Tensioner),
    ("unknown", AtEnd::Unknown),
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPart {
    format: Spanned<i64>,
    name: Spanned<String>,
    #[serde(default)]
    connectors: Vec<Spanned<RawConnector>>,
    #[serde(default)]
    conductors: Vec<Spanned<RawConductor>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawConnector {
    name: Spanned<String>,
    cavities: Spanned<i64>,
    rows: Option<Spanned<i64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawConductor {
    name: Spanned<String>,
    group: Option<String>,
    from: Spanned<RawEnd>,
    to: Spanned<RawEnd>,
    #[serde(default)]
    drawn_only: bool,
    ohm: Option<Spanned<f64>>,
    #[serde(default)]
    over_angle: Vec<Spanned<(i64, f64)>>,
    fault: Option<Spanned<RawFault>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawEnd {
    connector: Spanned<String>,
    cavity: Spanned<i64>,
    at: Spanned<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFault {
    kind: Spanned<String>,
    ohm: Option<Spanned<f64>>,
    at_milli: Option<Spanned<i64>>,
    reach_milli: Option<Spanned<i64>>,
}

/// See [`PartModel::parse`].
pub(super) fn parse(text: &str) -> Result<PartModel, Vec<FileError>> {
    let mut reading = Reading { text, found: Vec::new() };
    if text.len() > MAX_FILE {
        reading.mistake(0..0, FileErrorCode::Syntax, "the file is too long", format!("at most {MAX_FILE} bytes"));
        return Err(reading.found);
    }
    let raw: RawPart = match toml::from_str(text) {
        Ok(raw) => raw,
        Err(error) => {
            reading.unreadable(&error);
            return Err(reading.found);
        }
    };
    let model = reading.part(&raw);
    reading.found.sort();
    match model {
        Some(model) if reading.found.is_empty() => Ok(model),
        _ => {
            assert!(!reading.found.is_empty(), "a part is missing only after a mistake was told");
            Err(reading.found)
        }
    }
}

/// The mistakes found so far in one text.
struct Reading<'t> {
    text: &'t str,
    found: Vec<FileError>,
}

impl Reading<'_> {
    fn mistake(&mut self, at: Range<usize>, code: FileErrorCode, what: impl Into<String>, instead: impl Into<String>) {
        let before = self.text.get(..at.start).unwrap_or(self.text);
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        self.found.push(FileError {
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
            code,
            what: what.into(),
            instead: instead.into(),
        });
    }

    /// The reader stops at the first thing it cannot take; its words name it.
    fn unreadable(&mut self, error: &toml::de::Error) {
        let message = error.message().lines().next().unwrap_or("not TOML").to_owned();
        let at = error.span().unwrap_or(0..0);
        let (code, what, instead) = if let Some((what, expected)) = message.split_once(", expected ") {
            let code = if message.starts_with("unknown field") {
                FileErrorCode::UnknownKey
            } else if message.starts_with("invalid type") {
                FileErrorCode::WrongType
            } else {
                FileErrorCode::Syntax
            };
            (code, what.to_owned(), expected.to_owned())
        } else if let Some(key) = message.strip_prefix("missing field ") {
            (FileErrorCode::MissingKey, format!("{key} is missing"), example(key).to_owned())
        } else {
            (FileErrorCode::Syntax, message, "a line like `key = value` or `[[conductors]]`".to_owned())
        };
        self.mistake(at, code, what, instead);
    }

    /// `None` only after a mistake was told.
    fn part(&mut self, raw: &RawPart) -> Option<PartModel> {
        if *raw.format.get_ref() != 1 {
            self.mistake(raw.format.span(), FileErrorCode::OutOfRange, "another file format", "format = 1");
        }
        let connectors: Vec<Connector> = raw.connectors.iter().map(|c| self.connector(c.get_ref())).collect();
        let mut model = PartModel::empty(raw.name.get_ref().clone(), connectors);
        for conductor in &raw.conductors {
            let wire = self.wire(conductor);
            if let (Some(described), Some(wire)) = (self.conductor(raw, conductor.get_ref()), wire) {
                model.push(described, wire);
            }
        }
        if model.wires.len() < raw.conductors.len() {
            return None;
        }
        // Anything told so far would be told again in other words.
        let problems = if self.found.is_empty() { model.part.problems() } else { Vec::new() };
        for problem in problems {
            self.problem(raw, &problem);
        }
        Some(model)
    }

    fn connector(&mut self, raw: &RawConnector) -> Connector {
        let most = i64::from(MAX_CAVITIES);
        let cavities = self.whole(&raw.cavities, "cavities", (1, most)).unwrap_or(1);
        let rows = raw.rows.as_ref().map_or(Some(1), |rows| self.whole(rows, "rows", (1, 4.min(cavities))));
        let small = |number: i64| u8::try_from(number).expect("within its range");
        Connector { name: raw.name.get_ref().clone(), cavities: small(cavities), rows: small(rows.unwrap_or(1)) }
    }

    fn conductor(&mut self, part: &RawPart, raw: &RawConductor) -> Option<Conductor> {
        let (from, to) = (self.end(part, raw.from.get_ref()), self.end(part, raw.to.get_ref()));
        Some(Conductor {
            name: raw.name.get_ref().clone(),
            group: raw.group.clone(),
            from: from?,
            to: to?,
            drawn_only: raw.drawn_only,
            limit: None,
        })
    }

    fn end(&mut self, part: &RawPart, raw: &RawEnd) -> Option<End> {
        let name = raw.connector.get_ref();
        let index = part.connectors.iter().position(|c| c.get_ref().name.get_ref() == name);
        if index.is_none() {
            let known: Vec<_> = part.connectors.iter().map(|c| format!("{:?}", c.get_ref().name.get_ref())).collect();
            let what = format!("no connector is called {name:?}");
            self.mistake(raw.connector.span(), FileErrorCode::UnknownWord, what, known.join(", "));
        }
        let most = index.map_or(i64::from(MAX_CAVITIES), |i| *part.connectors[i].get_ref().cavities.get_ref());
        let cavity = self.whole(&raw.cavity, "cavity", (1, most.clamp(1, i64::from(MAX_CAVITIES))));
        let at = self.at_end(&raw.at);
        let connector = u8::try_from(index?).ok();
        if connector.is_none() {
            let what = "this connector is one too many";
            self.mistake(raw.connector.span(), FileErrorCode::OutOfRange, what, format!("at most {MAX_CONNECTORS}"));
        }
        Some(End { connector: connector?, cavity: u8::try_from(cavity?).expect("at most 64"), at: at? })
    }

    fn at_end(&mut self, word: &Spanned<String>) -> Option<AtEnd> {
        let hit = AT_ENDS.iter().find(|(known, _)| known == word.get_ref()).map(|(_, at)| *at);
        if hit.is_none() {
            let what = format!("`at` is {:?}", word.get_ref());
            let known: Vec<_> = AT_ENDS.iter().map(|(known, _)| format!("\"{known}\"")).collect();
            self.mistake(word.span(), FileErrorCode::UnknownWord, what, known.join(", "));
        }
        hit
    }

    fn wire(&mut self, spanned: &Spanned<RawConductor>) -> Option<Wire> {
        let raw = spanned.get_ref();
        let over_angle = self.over_angle(&raw.over_angle);
        let fault = raw.fault.as_ref().map(|fault| self.fault(fault));
        let ohm = match (&raw.ohm, over_angle.first()) {
            (Some(ohm), _) => self.ohm(ohm, 0.0)?,
            (None, Some((_, ohm))) => *ohm,
            (None, None) if raw.over_angle.is_empty() => {
                self.mistake(spanned.span(), FileErrorCode::MissingKey, "`ohm` is missing", example("ohm"));
                return None;
            }
            (None, None) => return None,
        };
        match fault {
            None => Some(Wire { ohm, over_angle, fault: None }),
            Some(fault) => Some(Wire { ohm, over_angle, fault: Some(fault?) }),
        }
    }

    fn over_angle(&mut self, raw: &[Spanned<(i64, f64)>]) -> Vec<(i32, f64)> {
        if let Some(over) = raw.get(MAX_ANGLES) {
            let instead = format!("at most {MAX_ANGLES}");
            self.mistake(over.span(), FileErrorCode::OutOfRange, "too many angles", instead);
        }
        let mut table: Vec<(i32, f64)> = Vec::new();
        for entry in raw.iter().take(MAX_ANGLES) {
            let (angle, ohm) = *entry.get_ref();
            let fits = (-MAX_TURN_MILLI..=MAX_TURN_MILLI).contains(&angle) && (0.0..=MAX_OHM).contains(&ohm);
            let rises = table.last().is_none_or(|(before, _)| i64::from(*before) < angle);
            if !fits {
                let what = format!("[{angle}, {ohm}] is beyond what a part can have");
                let instead = "[thousandths of a turn from -10000 to 10000, ohm from 0 to 1000000]";
                self.mistake(entry.span(), FileErrorCode::OutOfRange, what, instead);
            } else if !rises {
                let what = format!("angle {angle} does not rise");
                self.mistake(entry.span(), FileErrorCode::Conflict, what, "angles in rising order, each once");
            } else {
                table.push((i32::try_from(angle).expect("at most 10000"), ohm));
            }
        }
        table
    }

    fn fault(&mut self, spanned: &Spanned<RawFault>) -> Option<Fault> {
        let raw = spanned.get_ref();
        let kind = raw.kind.get_ref().as_str();
        let angles = [&raw.at_milli, &raw.reach_milli].into_iter().flatten().next();
        if let (true, Some(angle)) = (kind != "intermittent", angles) {
            self.mistake(angle.span(), FileErrorCode::Conflict, "only an intermittent fault has a place", "no angle");
        }
        if let ("open", Some(ohm)) = (kind, &raw.ohm) {
            self.mistake(ohm.span(), FileErrorCode::Conflict, "an open conductor has no ohm", "no `ohm`, or \"added\"");
        }
        match kind {
            "open" => Some(Fault::Open),
            "added" => Some(Fault::Added { ohm: self.fault_ohm(spanned)? }),
            "flaky" => Some(Fault::Flaky { ohm: self.fault_ohm(spanned)? }),
            "intermittent" => self.intermittent(spanned),
            _ => {
                let what = format!("`kind` is {kind:?}");
                let known = "\"open\", \"added\", \"intermittent\", \"flaky\"";
                self.mistake(raw.kind.span(), FileErrorCode::UnknownWord, what, known);
                None
            }
        }
    }

    fn intermittent(&mut self, spanned: &Spanned<RawFault>) -> Option<Fault> {
        let raw = spanned.get_ref();
        let ohm = match &raw.ohm {
            Some(ohm) => Some(self.ohm(ohm, f64::MIN_POSITIVE)?),
            None => None,
        };
        let Some(at) = &raw.at_milli else {
            let instead = "at_milli = 420, thousandths of a turn";
            self.mistake(spanned.span(), FileErrorCode::MissingKey, "`at_milli` is missing", instead);
            return None;
        };
        let at = self.whole(at, "at_milli", (-MAX_TURN_MILLI, MAX_TURN_MILLI))?;
        let reach = match &raw.reach_milli {
            Some(reach) => self.whole(reach, "reach_milli", (1, 1_000))?,
            None => DEFAULT_REACH_MILLI,
        };
        let small = |number: i64| i32::try_from(number).expect("within its range");
        Some(Fault::Intermittent { at_milli: small(at), reach_milli: small(reach), ohm })
    }

    fn fault_ohm(&mut self, spanned: &Spanned<RawFault>) -> Option<f64> {
        match &spanned.get_ref().ohm {
            Some(ohm) => self.ohm(ohm, f64::MIN_POSITIVE),
            None => {
                let instead = "ohm = 11.6, what the fault adds";
                self.mistake(spanned.span(), FileErrorCode::MissingKey, "`ohm` is missing", instead);
                None
            }
        }
    }

    fn ohm(&mut self, ohm: &Spanned<f64>, least: f64) -> Option<f64> {
        let fits = (least..=MAX_OHM).contains(ohm.get_ref());
        if !fits {
            let wanted = if least > 0.0 { "a number above 0, at most 1000000" } else { "a number from 0 to 1000000" };
            self.mistake(ohm.span(), FileErrorCode::OutOfRange, format!("`ohm` is {}", ohm.get_ref()), wanted);
        }
        fits.then_some(*ohm.get_ref())
    }

    fn whole(&mut self, number: &Spanned<i64>, key: &str, (least, most): (i64, i64)) -> Option<i64> {
        let fits = (least..=most).contains(number.get_ref());
        if !fits {
            let instead = format!("a whole number from {least} to {most}");
            let what = format!("`{key}` is {}", number.get_ref());
            self.mistake(number.span(), FileErrorCode::OutOfRange, what, instead);
        }
        fits.then_some(*number.get_ref())
    }

    /// A problem of the part itself, told at the place it comes from.
    fn problem(&mut self, raw: &RawPart, problem: &PartProblem) {
        let name_at = |place: &str, index: usize| match place {
            "connector" => raw.connectors[index].get_ref().name.span(),
            "conductor" | "group" => raw.conductors[index].get_ref().name.span(),
            _ => raw.name.span(),
        };
        let conductor = |index: usize| raw.conductors[index].get_ref();
        let (at, code, what, instead) = match problem {
            PartProblem::Name { place, index } => {
                let what = format!("the {place}'s name is empty or too long");
                (name_at(place, *index), FileErrorCode::OutOfRange, what, "1 to 60 characters".to_owned())
            }
            PartProblem::NameTwice { place, index } => {
                let what = format!("another {place} has this name");
                (name_at(place, *index), FileErrorCode::Conflict, what, "a name of its own".to_owned())
            }
            PartProblem::Count { place } => {
                let what = format!("no {place} that can be measured, or too many");
                let most = format!("1 to {MAX_CONNECTORS} connectors, 1 to {MAX_CONDUCTORS} conductors");
                (self.text.len()..self.text.len(), FileErrorCode::OutOfRange, what, most)
            }
            PartProblem::SameCavity { index } => {
                let what = "both ends are the same cavity".to_owned();
                (conductor(*index).to.span(), FileErrorCode::Conflict, what, "two different cavities".to_owned())
            }
            PartProblem::EndsDisagree { index } => {
                let (at, what) = (conductor(*index).from.span(), "another conductor says otherwise of its cavity");
                (at, FileErrorCode::Conflict, what.to_owned(), "the same `at` for one cavity".to_owned())
            }
            PartProblem::End { index, why } => {
                let instead = "`drawn_only = true`, or another `at` if it is unplugged".to_owned();
                (conductor(*index).name.span(), FileErrorCode::Conflict, why.to_string(), instead)
            }
            PartProblem::Face { index } => {
                let at = raw.connectors[*index].get_ref().cavities.span();
                (at, FileErrorCode::OutOfRange, "rows or cavities do not fit".into(), "rows = 1".to_owned())
            }
            PartProblem::NoSuchCavity { index } => {
                let (at, what) = (conductor(*index).from.span(), "a cavity that is not there".to_owned());
                (at, FileErrorCode::OutOfRange, what, "a cavity it has".to_owned())
            }
            PartProblem::TouchesWanted | PartProblem::Limit { .. } | PartProblem::Bar { .. } => {
                unreachable!("the practice part sets or has none of these itself")
            }
        };
        self.mistake(at, code, what, instead);
    }
}

/// How a missing key is written.
fn example(key: &str) -> &'static str {
    match key.trim_matches('`') {
        "format" => "format = 1",
        "name" => "name = \"1\"",
        "cavities" => "cavities = 8",
        "ohm" => "ohm = 0.345, or over_angle = [[-1300, 0.345], [1300, 0.351]]",
        "from" => "from = { connector = \"A\", cavity = 1, at = \"open-plug\" }",
        "to" => "to = { connector = \"B\", cavity = 1, at = \"open-plug\" }",
        "connector" => "connector = \"A\"",
        "cavity" => "cavity = 1",
        "at" => "at = \"open-plug\"",
        "kind" => "kind = \"added\"",
        _ => "a line with this key",
    }
}
