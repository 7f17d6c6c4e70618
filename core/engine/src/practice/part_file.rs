//! The part file: what may stand in it, and what must.

mod beside;
mod raw;
mod told;
mod wires;

use super::part_model::PartModel;
use evenwire_core::meter::{FileError, FileErrorCode};
use evenwire_core::part::{AtEnd, Conductor, Connector, End, MAX_CAVITIES, MAX_CONNECTORS};
use raw::{RawConductor, RawConnector, RawEnd, RawPart};
use toml::Spanned;

/// Longest part file, bytes.
const MAX_FILE: usize = 64 * 1024;
/// No conductor of a part is written with more than this, ohm.
const MAX_OHM: f64 = 1_000_000.0;

const AT_ENDS: [(&str, AtEnd); 7] = [
    ("open-plug", AtEnd::OpenPlug),
    ("bare-terminal", AtEnd::BareTerminal),
    ("unpowered-load", AtEnd::UnpoweredLoad),
    ("control-unit", AtEnd::ControlUnit),
    ("inflator", AtEnd::Inflator),
    ("tensioner", AtEnd::Tensioner),
    ("unknown", AtEnd::Unknown),
];

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
    /// `None` only after a mistake was told.
    fn part(&mut self, raw: &RawPart) -> Option<PartModel> {
        if *raw.format.get_ref() != 1 {
            self.mistake(raw.format.span(), FileErrorCode::OutOfRange, "another file format", "format = 1");
        }
        let connectors: Vec<Connector> = raw.connectors.iter().map(|c| self.connector(c.get_ref())).collect();
        let mut model = PartModel::empty(raw.name.get_ref().clone(), connectors);
        for conductor in &raw.conductors {
            let wire = self.wire(raw, conductor);
            if let (Some(described), Some(wire)) = (self.conductor(raw, conductor.get_ref()), wire) {
                model.push(described, wire);
            }
        }
        if model.wires.len() < raw.conductors.len() {
            return None;
        }
        model.part.bars = self.bars(raw);
        model.part.ceiling = self.limit(raw.ceiling.as_ref());
        model.bar = self.bar_model(raw);
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
        let limit = self.limit(raw.limit.as_ref());
        Some(Conductor {
            name: raw.name.get_ref().clone(),
            group: raw.group.clone(),
            from: from?,
            to: to?,
            drawn_only: raw.drawn_only,
            limit,
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

    fn ohm(&mut self, ohm: &Spanned<f64>, least: f64) -> Option<f64> {
        self.number("ohm", ohm, (least, MAX_OHM))
    }

    /// A least number of the smallest kind means: above 0.
    fn number(&mut self, key: &str, number: &Spanned<f64>, (least, most): (f64, f64)) -> Option<f64> {
        let fits = (least..=most).contains(number.get_ref());
        if !fits {
            let above = least == f64::MIN_POSITIVE;
            let wanted = if above {
                format!("a number above 0, at most {most}")
            } else {
                format!("a number from {least} to {most}")
            };
            let what = format!("`{key}` is {}", number.get_ref());
            self.mistake(number.span(), FileErrorCode::OutOfRange, what, wanted);
        }
        fits.then_some(*number.get_ref())
    }

    /// The index of the conductor with this name.
    fn conductor_named(&mut self, part: &RawPart, name: &Spanned<String>) -> Option<usize> {
        let index = part.conductors.iter().position(|c| c.get_ref().name.get_ref() == name.get_ref());
        if index.is_none() {
            let known: Vec<_> = part.conductors.iter().map(|c| format!("{:?}", c.get_ref().name.get_ref())).collect();
            let what = format!("no conductor is called {:?}", name.get_ref());
            self.mistake(name.span(), FileErrorCode::UnknownWord, what, known.join(", "));
        }
        index
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
}
