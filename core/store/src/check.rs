//! Looking at everything: the whole chain, every chunk, every row's sum, and SQLite's own structure.

mod walk;

use crate::error::{During, StoreError};
use crate::{Glance, Store};
use rusqlite::Connection;
use uuid::Uuid;
pub use walk::Walk;

/// Findings of one sort that are named at most; the rest would say nothing new.
pub const MOST_FINDINGS: usize = 100;

/// What was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CheckReport {
    /// Entries that are whole and follow from each other, counted from the first.
    pub entries: u64,
    /// Chunks that are whole.
    pub chunks: u64,
    /// The first entry that is not; all after it hang in the air.
    pub bad_entry: Option<BadEntry>,
    /// Chunks that are not as they were written, at most [`MOST_FINDINGS`].
    pub bad_chunks: Vec<BadChunk>,
    /// Everything else: SQLite's own structure, details, lines, people, photos, head; at most [`MOST_FINDINGS`] of each
    /// sort.
    pub others: Vec<String>,
}

/// An entry that is not what was written, or does not follow.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadEntry {
    /// The number it should have.
    pub sequence: u64,
    /// What is wrong.
    pub why: String,
}

/// A chunk that is not what was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadChunk {
    /// Its id, if that can be read.
    pub id: Option<Uuid>,
    /// What is wrong.
    pub why: String,
}

impl CheckReport {
    /// Nothing was found.
    pub fn is_whole(&self) -> bool {
        self.bad_entry.is_none() && self.bad_chunks.is_empty() && self.others.is_empty()
    }
}

impl Store {
    /// Reads the whole file. Takes as long as that takes: seconds for hundreds of megabytes.
    ///
    /// # Errors
    /// Only what kept it from looking ([`StoreError::Busy`], [`StoreError::Io`] …); what it found stands in the
    /// report.
    pub fn check(&self) -> Result<CheckReport, StoreError> {
        let mut walk = Walk::begin();
        walk.report.others = structure(&self.conn)?;
        while walk.step(&self.conn, u32::MAX)? {}
        walk.report.others.extend(found(self.bad_heads(MOST_FINDINGS))?.unwrap_or_else(|what| vec![what]));
        Ok(walk.report)
    }
}

impl Glance {
    /// Looks at the next rows of a walk over everything but signatures and SQLite's own structure, at
    /// most so many. False when the walk
    /// is over. Between two steps nothing is held, and whoever writes is not in the way of it.
    ///
    /// # Errors
    /// As [`Store::check`].
    pub fn step(&self, walk: &mut Walk, rows: u32) -> Result<bool, StoreError> {
        walk.step(&self.0, rows)
    }
}

fn structure(conn: &Connection) -> Result<Vec<String>, StoreError> {
    let during = || "checking the file's structure";
    // Text that is no UTF-8 is a finding as well, and must not end the list of findings.
    let lines = found(crate::read::all(
        conn,
        &format!("PRAGMA integrity_check({MOST_FINDINGS})"),
        ([], |r: &rusqlite::Row<'_>| {
            Ok(String::from_utf8_lossy(r.get_ref(0).during(during)?.as_bytes().unwrap_or_default()).into_owned())
        }),
    ))?;
    Ok(match lines {
        Ok(lines) => lines.into_iter().filter(|l| l != "ok").collect(),
        Err(what) => vec![what],
    })
}

/// Damage as a finding; other faults stay faults.
fn found<T>(result: Result<T, StoreError>) -> Result<Result<T, String>, StoreError> {
    match result {
        Ok(value) => Ok(Ok(value)),
        Err(StoreError::Damaged { what }) => Ok(Err(what)),
        Err(other) => Err(other),
    }
}
