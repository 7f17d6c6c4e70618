//! Looking at everything: the whole chain, every chunk, every row's sum, and SQLite's own structure.

use crate::error::{During, StoreError};
use crate::{Store, people, row};
use evenwire_core::record::Head;
use rusqlite::Row;
use uuid::Uuid;

/// Findings of one sort that are named at most; the rest would say nothing new.
pub const MOST_FINDINGS: usize = 100;

/// What was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CheckReport {
    /// Entries that are whole and follow from each other, counted from the first.
    pub entries: u64,
    /// Chunks that are whole.
    pub chunks: u64,
    /// The first entry that is not; all after it hang in the air.
    pub bad_entry: Option<BadEntry>,
    /// Chunks that are not as they were written, at most [`MOST_FINDINGS`].
    pub bad_chunks: Vec<BadChunk>,
    /// Everything else: SQLite's own structure, details, lines, head; at most [`MOST_FINDINGS`] of each sort.
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
        let mut report =
            CheckReport { entries: 0, chunks: 0, bad_entry: None, bad_chunks: Vec::new(), others: Vec::new() };
        report.others = self.structure()?;
        self.chain(&mut report)?;
        self.chunks(&mut report)?;
        let (details, lines) = (rows_of("details", row::DETAILS), rows_of("line", row::LINE));
        report.others.extend(self.bad_rows(&details, |r| row::details(r).map(drop))?);
        report.others.extend(self.bad_rows(&lines, |r| row::line(r).map(drop))?);
        let persons = rows_of("person", people::PERSON);
        report.others.extend(self.bad_rows(&persons, |r| people::person(r).map(drop))?);
        Ok(report)
    }

    fn structure(&self) -> Result<Vec<String>, StoreError> {
        let during = || "checking the file's structure";
        // Text that is no UTF-8 is a finding as well, and must not end the list of findings.
        let lines = found(self.all(&format!("PRAGMA integrity_check({MOST_FINDINGS})"), [], |r| {
            Ok(String::from_utf8_lossy(r.get_ref(0).during(during)?.as_bytes().unwrap_or_default()).into_owned())
        }))?;
        Ok(match lines {
            Ok(lines) => lines.into_iter().filter(|l| l != "ok").collect(),
            Err(what) => vec![what],
        })
    }

    fn chain(&self, report: &mut CheckReport) -> Result<(), StoreError> {
        let stored = match found(self.head())? {
            Ok(stored) => stored,
            Err(what) => {
                report.others.push(what);
                return Ok(());
            }
        };
        let mut head = Head::empty(stored.device);
        let walked = self.each(&rows_of("entry", row::ENTRY), |r| {
            head = head.after(&row::entry(r)?)?;
            Ok(true)
        });
        let walked = match walked {
            Err(StoreError::Chain(why)) => Err(why.to_string()),
            walked => found(walked)?,
        };
        report.entries = head.sequence;
        report.bad_entry = match walked {
            Err(why) => Some(BadEntry { sequence: head.sequence + 1, why }),
            Ok(()) if head.sequence < stored.sequence => {
                Some(BadEntry { sequence: head.sequence + 1, why: "it is missing".into() })
            }
            Ok(()) => None,
        };
        if report.bad_entry.is_none() && head != stored {
            report.others.push(format!("the head does not match entry {}", head.sequence));
        }
        Ok(())
    }

    fn chunks(&self, report: &mut CheckReport) -> Result<(), StoreError> {
        let walked = self.each(&rows_of("chunk", row::CHUNK), |r| {
            match found(row::chunk(r))? {
                Ok(_) => report.chunks += 1,
                Err(why) => {
                    let id = r.get(0).ok().map(Uuid::from_bytes);
                    report.bad_chunks.push(BadChunk { id, why });
                }
            }
            Ok(report.bad_chunks.len() < MOST_FINDINGS)
        });
        if let Err(what) = found(walked)? {
            report.others.push(what);
        }
        Ok(())
    }

    fn bad_rows(
        &self,
        sql: &str,
        read: impl Fn(&Row<'_>) -> Result<(), StoreError>,
    ) -> Result<Vec<String>, StoreError> {
        let mut bad = Vec::new();
        let walked = self.each(sql, |r| {
            bad.extend(found(read(r))?.err());
            Ok(bad.len() < MOST_FINDINGS)
        });
        bad.extend(found(walked)?.err());
        Ok(bad)
    }

    /// Shows every row to `look` until it says false.
    fn each(&self, sql: &str, mut look: impl FnMut(&Row<'_>) -> Result<bool, StoreError>) -> Result<(), StoreError> {
        let during = || "checking the ledger";
        let mut select = self.conn.prepare(sql).during(during)?;
        let mut rows = select.query([]).during(during)?;
        while let Some(next) = rows.next().during(during)? {
            if !look(next)? {
                break;
            }
        }
        Ok(())
    }
}

fn rows_of(table: &str, columns: &str) -> String {
    let order = match table {
        "entry" => "sequence",
        "chunk" => "number",
        "line" => "opened_by",
        "person" => "id",
        _ => "job",
    };
    format!("SELECT {columns} FROM {table} ORDER BY {order}")
}

/// Damage as a finding; other faults stay faults.
fn found<T>(result: Result<T, StoreError>) -> Result<Result<T, String>, StoreError> {
    match result {
        Ok(value) => Ok(Ok(value)),
        Err(StoreError::Damaged { what }) => Ok(Err(what)),
        Err(other) => Err(other),
    }
}
