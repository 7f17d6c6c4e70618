//! What is wrong with a part file: where, what, and what to write instead.

use super::Reading;
use super::raw::RawPart;
use evenwire_core::meter::{FileError, FileErrorCode};
use evenwire_core::part::{MAX_CONDUCTORS, MAX_CONNECTORS, PartProblem};
use std::ops::Range;
use toml::Spanned;

impl Reading<'_> {
    pub(super) fn mistake(
        &mut self,
        at: Range<usize>,
        code: FileErrorCode,
        what: impl Into<String>,
        instead: impl Into<String>,
    ) {
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
    pub(super) fn unreadable(&mut self, error: &toml::de::Error) {
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

    /// A problem of the part itself, told at the place it comes from.
    pub(super) fn problem(&mut self, raw: &RawPart, problem: &PartProblem) {
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
            PartProblem::Limit { index } => {
                let limit = index.map_or(raw.ceiling.as_ref(), |index| conductor(index).limit.as_ref());
                let at = limit.map_or(0..0, Spanned::span);
                let what = "a limit needs a side, the low one below the high one".to_owned();
                (at, FileErrorCode::OutOfRange, what, "{ high = 0.8, source = \"…\" }".to_owned())
            }
            PartProblem::Bar { index } => {
                let what = "a bar bridges two different conductors, each pair once".to_owned();
                (raw.bars[*index].span(), FileErrorCode::Conflict, what, "bars = [[\"4\", \"5\"]]".to_owned())
            }
            PartProblem::TouchesWanted => unreachable!("the practice part sets it itself"),
        };
        self.mistake(at, code, what, instead);
    }
}

/// How a missing key is written.
pub(super) fn example(key: &str) -> &'static str {
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
