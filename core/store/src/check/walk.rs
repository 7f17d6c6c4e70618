//! A walk over everything, in steps: the chain first, then every row beside it.

use super::{BadChunk, BadEntry, CheckReport, MOST_FINDINGS, found};
use crate::error::{During, StoreError};
use crate::{people, row};
use evenwire_core::record::{Hash, Head};
use rusqlite::types::Value;
use rusqlite::{Connection, Row};
use uuid::Uuid;

/// What is walked over after the chain, in this order: table, columns, its own order, and how a row is read.
const BESIDE: [(&str, &str, &str, Read); 5] = [
    ("chunk", row::CHUNK, "number", |r| row::chunk(r).map(drop)),
    ("details", row::DETAILS, "job", |r| row::details(r).map(drop)),
    ("line", row::LINE, "opened_by", |r| row::line(r).map(drop)),
    ("person", people::PERSON, "id", |r| people::person(r).map(drop)),
    ("picture", "job, hash, bytes", "rowid", picture),
];

type Read = fn(&Row<'_>) -> Result<(), StoreError>;

/// Where a walk over a ledger has come to, and what it found on the way.
#[derive(Clone, Debug)]
pub struct Walk {
    pub(super) report: CheckReport,
    /// The end of the chain so far; none before the first step.
    head: Option<Head>,
    /// The chain has been walked to its end, or to where it is broken.
    chained: bool,
    /// Which table of [`BESIDE`], the last key seen in it, and findings in it.
    beside: (usize, Option<Value>, usize),
}

impl Walk {
    /// Before the first entry.
    pub fn begin() -> Walk {
        Walk { report: CheckReport::default(), head: None, chained: false, beside: (0, None, 0) }
    }

    /// What was found so far.
    pub fn report(&self) -> &CheckReport {
        &self.report
    }

    /// Looks at so many rows at most; false when there is nothing more to be looked at.
    pub(super) fn step(&mut self, conn: &Connection, rows: u32) -> Result<bool, StoreError> {
        if !self.chained {
            self.chain(conn, rows)?;
            return Ok(true);
        }
        let Some(table) = BESIDE.get(self.beside.0) else { return Ok(false) };
        if self.rows(conn, table, rows)? {
            self.beside = (self.beside.0 + 1, None, 0);
        }
        Ok(true)
    }

    fn chain(&mut self, conn: &Connection, rows: u32) -> Result<(), StoreError> {
        // The head and the entries of this step are those of one moment, whoever writes meanwhile.
        let moment = conn.unchecked_transaction().during(|| "checking the ledger")?;
        let stored = match found(moment.query_row(HEAD, [], row::head).during(|| "reading the head"))? {
            Ok(stored) => stored,
            Err(what) => {
                self.report.others.push(what);
                self.chained = true;
                return Ok(());
            }
        };
        let mut head = match &self.head {
            Some(head) => head.clone(),
            // The device may have changed since; the first entry says whose ledger it was.
            None => {
                let first = crate::read::all(&moment, &first(), ([], row::entry)).ok();
                let device = first.and_then(|first| Some(first.first()?.entry().device));
                Head::empty(device.unwrap_or(stored.device))
            }
        };
        let sql = format!("SELECT {} FROM entry WHERE sequence > ?1 ORDER BY sequence LIMIT ?2", row::ENTRY);
        let mut seen = 0;
        let walked = each(&moment, &sql, (row::signed(head.sequence), rows), |r| {
            seen += 1;
            head = head.after(&row::entry(r)?)?;
            Ok(true)
        });
        let walked = match walked {
            Err(StoreError::Chain(why)) => Err(why.to_string()),
            walked => found(walked)?,
        };
        let (sequence, ended) = (head.sequence, seen < rows);
        self.report.entries = sequence;
        self.chained = ended || walked.is_err();
        self.report.bad_entry = match walked {
            Err(why) => Some(BadEntry { sequence: sequence + 1, why }),
            Ok(()) if ended && sequence < stored.sequence => {
                Some(BadEntry { sequence: sequence + 1, why: "it is missing".into() })
            }
            Ok(()) => None,
        };
        if self.report.bad_entry.is_none() && ended && head != stored {
            self.report.others.push(format!("the head does not match entry {sequence}"));
        }
        self.head = Some(head);
        Ok(())
    }

    /// The next rows of one table; true when it has no more.
    fn rows(
        &mut self,
        conn: &Connection,
        (table, columns, order, read): &(&str, &str, &str, Read),
        rows: u32,
    ) -> Result<bool, StoreError> {
        let after = self.beside.1.clone();
        let before = after.clone();
        let wanted = if after.is_some() { format!("WHERE {order} > ?2") } else { String::new() };
        // The key comes last, so that rows are read as everywhere else.
        let sql = format!("SELECT {columns}, {order} FROM {table} {wanted} ORDER BY {order} LIMIT ?1");
        let key = columns.split(',').count();
        let (mut seen, report, (_, last, bad)) = (0, &mut self.report, &mut self.beside);
        let look = |r: &Row<'_>| {
            seen += 1;
            *last = r.get(key).ok();
            match found(read(r))? {
                Ok(()) => report.chunks += u64::from(*table == "chunk"),
                Err(why) => {
                    *bad += 1;
                    match *table {
                        "chunk" => {
                            report.bad_chunks.push(BadChunk { id: r.get(0).ok().map(Uuid::from_bytes), why });
                        }
                        _ => report.others.push(why),
                    }
                }
            }
            Ok(*bad < MOST_FINDINGS)
        };
        let walked = match after {
            Some(after) => each(conn, &sql, (rows, after), look),
            None => each(conn, &sql, (rows,), look),
        };
        let mut broken = found(walked)?.err();
        // A page that was written over may send the walk back to where it was.
        if seen == rows && !forward(&before, last) {
            broken.get_or_insert_with(|| format!("the rows of {table} are out of order"));
        }
        let over = broken.is_some() || seen < rows || *bad >= MOST_FINDINGS;
        report.others.extend(broken);
        Ok(over)
    }
}

fn first() -> String {
    format!("SELECT {} FROM entry ORDER BY sequence LIMIT 1", row::ENTRY)
}

const HEAD: &str = "SELECT device, sequence, hash FROM head";

fn picture(row: &Row<'_>) -> Result<(), StoreError> {
    let during = || "reading a photo";
    let job = Uuid::from_bytes(row.get(0).during(during)?);
    let (hash, bytes): ([u8; 32], Vec<u8>) = (row.get(1).during(during)?, row.get(2).during(during)?);
    if Hash::of(&bytes).0 == hash {
        Ok(())
    } else {
        Err(StoreError::damaged(format!("a photo of job {job} is not as it was taken")))
    }
}

fn forward(before: &Option<Value>, last: &Option<Value>) -> bool {
    match (before, last) {
        (None, Some(_)) => true,
        (Some(Value::Integer(before)), Some(Value::Integer(last))) => before < last,
        (Some(Value::Blob(before)), Some(Value::Blob(last))) => before < last,
        _ => false,
    }
}

/// Shows every row to `look` until it says false.
fn each(
    conn: &Connection,
    sql: &str,
    values: impl rusqlite::Params,
    mut look: impl FnMut(&Row<'_>) -> Result<bool, StoreError>,
) -> Result<(), StoreError> {
    let during = || "checking the ledger";
    let mut select = conn.prepare_cached(sql).during(during)?;
    let mut rows = select.query(values).during(during)?;
    while let Some(next) = rows.next().during(during)? {
        if !look(next)? {
            break;
        }
    }
    Ok(())
}
