//! A procedure: the steps of a job as a file somebody writes by hand.
//!
//! ```text
//! text -> head (read) -> circuits (read_circuits) -> steps (read_step, read_kind) -> validator (check) -> Procedure
//! ```
//!
//! Nothing but [`Procedure::parse`] makes a [`Procedure`], and it makes none that breaks a safety rule. A file can add
//! waits, needs and cautions; it can take none away that the rules ask for. What a changed file must keep of the one
//! before is told by [`at_least_as_strict`].

mod amount;
mod texts;
mod fact;
mod circuits;
mod step;
mod kind;
mod places;
mod read;
mod read_circuits;
mod read_step;
mod read_kind;
mod read_measuring;
mod demands;
mod check;
mod strict;
pub mod schema;
#[cfg(test)]
mod tests;

pub use amount::{Amount, Dimension, Measure, NotAnAmount};
pub use circuits::{Bar, Circuits, Class, Plug, Wire};
pub use fact::{Fact, MAX_ID, NotAFact};
pub use kind::{
    Centre, Codes, CodesWhen, Compare, Isolation, Limit, LiveValue, Measuring, NewPart, Origin, ProveDead, ProvedPoint,
    Sign, StepKind, Sweeping, Torque, Wait, Zero,
};
pub use step::{Counted, Evidence, SignOff, Step};
pub use strict::{Rule, at_least_as_strict};
pub use texts::Texts;

use crate::meter::FileError;
use crate::unit::Day;
use crate::verdict::words::Language;

/// Longest procedure file, bytes. A job keeps the file in one entry of the record, and JSON may double it.
pub const MAX_FILE: usize = 96 * 1024;
/// Most steps of a procedure.
pub const MAX_STEPS: usize = 200;
/// The shortest wait, seconds. Makers publish one to ten minutes; two minutes is common practice without a source,
/// and no file goes below.
pub const WAIT_FLOOR_S: i128 = 120;

/// The steps of a job, its circuits, and who stands for them. Only [`Procedure::parse`] makes one.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Procedure {
    /// Who wrote it, for which vehicle, from which sources.
    pub head: Head,
    /// Plugs, conductors and shorting bars.
    pub circuits: Circuits,
    /// The steps in the order they are done. Ids are unique; the last one closes the job.
    pub steps: Vec<Step>,
}

/// The head of a procedure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// Names it for good: small letters, digits and `-`.
    pub id: String,
    /// Counted up with every change, from 1.
    pub version: u32,
    /// Who wrote it.
    pub author: String,
    /// Who read it over: somebody else. None while it is a draft.
    pub reviewer: Option<String>,
    /// The day of this version.
    pub date: Day,
    /// The languages every text of it is written in; at least one.
    pub languages: Vec<Language>,
    /// How far it may be trusted.
    pub status: Status,
    /// What the job is called.
    pub title: Texts,
    /// Vehicles and equipment it is for.
    pub applies_to: Texts,
    /// Where its figures come from.
    pub sources: Vec<Source>,
    /// Tools to lay out first.
    pub tools: Vec<Texts>,
    /// Parts that are renewed every time.
    pub parts_to_renew: Vec<Texts>,
}

/// How far a procedure may be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Status {
    /// Nobody but its author stands for it.
    Draft,
    /// Somebody else read it over.
    Approved,
    /// Not to be begun any more.
    Withdrawn,
}

/// Where a figure comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// What a figure names it by.
    pub id: String,
    /// Book, page, day; or that it is invented.
    pub text: Texts,
}

impl Procedure {
    /// Reads a procedure file (TOML, see `schema.json`).
    ///
    /// # Errors
    /// Every mistake with line, column, what is wrong and what to write instead, by line; at most 200 of them.
    pub fn parse(text: &str) -> Result<Procedure, Vec<FileError>> {
        read::parse(text)
    }

    /// The step with this id.
    pub fn step(&self, id: &str) -> Option<&Step> {
        self.steps.iter().find(|step| step.id == id)
    }

    /// The text of a source a figure names; `None` means the shop's own.
    pub fn source(&self, id: Option<&str>) -> Option<&Source> {
        self.head.sources.iter().find(|source| Some(source.id.as_str()) == id)
    }
}

/// The procedures that come with the program, all for invented vehicles with invented figures: name and text.
pub fn built_in() -> [(&'static str, &'static str); 3] {
    [
        ("steering-coil", include_str!("builtin/steering-coil.toml")),
        ("door-harness", include_str!("builtin/door-harness.toml")),
        ("seat-connector", include_str!("builtin/seat-connector.toml")),
    ]
}
