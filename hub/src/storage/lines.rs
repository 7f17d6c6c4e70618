//! Lines of the office's list: one for each job in each device's ledger, made from its entries beside everything else.

use super::cell::{Cell, Value, Values};
use super::connection::{Connection, Row};
use super::devices::DeviceNumber;
use super::error::During;
use super::row::{MOST_SEQUENCE, all, change, hash, id, one, place};
use super::stale::{Stale, first_marks, no_longer_stale};
use super::{Storage, StorageError, batches};
use evenwire_core::job::Line;
use evenwire_core::record::{Hash, Sealed};
use evenwire_core::unit::Stamp;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

mod find;
pub use find::{Page, Search};

/// Ends every search text as it is stored: three characters begin at each character of the text itself, the last too.
const END: &str = "\n\n";
/// A line as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineRow {
    /// Orders lines by when their jobs were opened; newer ones are higher.
    pub number: i64,
    /// Whose ledger it is from.
    pub device: DeviceNumber,
    /// The line.
    pub line: Line,
    /// It has entries of a newer program.
    pub newer: bool,
    /// How many entries it was made from.
    pub entries: u64,
    /// SHA-256 of their hashes in a row.
    pub entries_hash: Hash,
    /// No longer version of it is in another ledger.
    pub counts: bool,
    /// How many versions of the job part from each other: more than one is a conflict.
    pub versions: u32,
}

const LINES: &str = "line.number, line.device, line.job, line.search, opened_by, order_name, vehicle, customer, opened, \
    stage, verdict, condemned_by, taken, wanted, open_items, erased, newer, entries, entries_hash, counts, versions";

fn line(row: &Row<'_>) -> Result<LineRow, StorageError> {
    let during = "reading a line";
    let text = |column: usize| row.get::<String>(column).during(during);
    let job = id(row, 2).during(during)?;
    let bad = || StorageError::damaged(format!("the line of job {job}"));
    let words = |column: usize| text(column).map(serde_json::Value::String);
    let verdict = text(10)?;
    let open: Vec<String> = text(14)?.split_whitespace().map(str::to_owned).collect();
    let open = serde_json::to_value(open).and_then(serde_json::from_value).map_err(|_| bad())?;
    let search = text(3)?;
    Ok(LineRow {
        number: row.get(0).during(during)?,
        device: DeviceNumber(row.get(1).during(during)?),
        line: Line {
            job,
            opened_by: row.get::<i64>(4).during(during)? as u64,
            order: text(5)?,
            vehicle: text(6)?,
            customer: text(7)?,
            opened: Stamp::parse(&text(8)?).map_err(|_| bad())?,
            stage: serde_json::from_value(words(9)?).map_err(|_| bad())?,
            verdict: match verdict.as_str() {
                "" => None,
                word => Some(serde_json::from_value(word.into()).map_err(|_| bad())?),
            },
            condemned_by: text(11)?,
            taken: row.get(12).during(during)?,
            wanted: row.get(13).during(during)?,
            open,
            erased: row.get(15).during(during)?,
            search: search.strip_suffix(END).ok_or_else(bad)?.to_owned(),
        },
        newer: row.get(16).during(during)?,
        entries: row.get::<i64>(17).during(during)? as u64,
        entries_hash: hash(row, 18).during(during)?,
        counts: row.get(19).during(during)?,
        versions: row.get(20).during(during)?,
    })
}

/// How something of a fixed list is written: in kebab case.
fn word(of: &impl Serialize) -> String {
    serde_json::to_value(of).ok().and_then(|value| value.as_str().map(str::to_owned)).unwrap_or_default()
}

impl Storage {
    /// Keeps the lines that were made, all or none of them: `None` where the entries of one make no job. If entries came
    /// in the meantime it stays stale.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn put_lines(&self, made: Vec<(Stale, Option<(Line, bool)>)>) -> Result<(), StorageError> {
        self.write(move |conn| made.iter().try_for_each(|(of, made)| keep(conn, of, made.as_ref()))).await
    }

    /// Lets every line go, to be made anew from the entries.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn forget_lines(&self) -> Result<(), StorageError> {
        self.write(|conn| {
            let during = "letting lines go";
            change(conn, ("DELETE FROM line", ()), during)?;
            let sql = "INSERT INTO stale (device, job, marks)
                       SELECT DISTINCT first >> 40, job, CAST(?1 AS BIGINT) FROM run WHERE length(job) = 16
                       ON CONFLICT (device, job) DO UPDATE SET marks = stale.marks + 1";
            change(conn, (sql, (first_marks(),)), during).map(drop)
        })
        .await
    }

    /// Every line, oldest job first, those that do not count as well.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn all_lines(&self) -> Result<Vec<LineRow>, StorageError> {
        self.read(|conn| rows(conn, (&format!("SELECT {LINES} FROM line ORDER BY number"), ()))).await
    }

    /// The lines of one job, one for each ledger that has it.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn lines_of(&self, job: Uuid) -> Result<Vec<LineRow>, StorageError> {
        self.read(move |conn| {
            let sql = format!("SELECT {LINES} FROM line WHERE job = ?1 ORDER BY device");
            rows(conn, (&sql, (job.into_bytes(),)))
        })
        .await
    }
}

/// Lines that are found.
fn rows(conn: &Connection, (sql, values): (&str, impl Values)) -> Result<Vec<LineRow>, StorageError> {
    let mut found = Vec::new();
    let mut each = |row: &Row<'_>| {
        found.push(line(row)?);
        Ok(true)
    };
    values.with(|values| conn.each((sql, values), "reading lines", &mut each))?;
    Ok(found)
}

fn keep(conn: &Connection, of: &Stale, made: Option<&(Line, bool)>) -> Result<(), StorageError> {
    let during = "keeping a line";
    let gone = one(conn, ("SELECT 1 FROM erased WHERE job = ?1", (of.job.into_bytes(),)), |_| Ok(()), during)?;
    if gone.is_some() && !of.erased {
        // Erased while it was made: it would say what must not be said any more, and it is marked again.
        return Ok(());
    }
    match made {
        Some((line, newer)) => put(conn, of, (line, *newer))?,
        None => {
            let sql = "DELETE FROM line WHERE device = ?1 AND job = ?2";
            change(conn, (sql, (of.device.0, of.job.into_bytes())), during)?;
            let first = of.entries.first().map(|sealed| sealed.entry().sequence).unwrap_or_default();
            let sql = "INSERT INTO quarantine (place, job, why) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING";
            let values = (place(of.device.0, first), of.job.into_bytes(), "no job begins with it");
            change(conn, (sql, values), during)?;
        }
    }
    compare(conn, of.job)?;
    no_longer_stale(conn, of)
}

/// A number for a job's line: when it was opened, then something of its own, so that the order never depends on which
/// came first.
fn number(conn: &Connection, of: &Stale, line: &Line) -> Result<i64, StorageError> {
    let during = "numbering a line";
    let sql = "SELECT number FROM line WHERE device = ?1 AND job = ?2";
    let known = one(conn, (sql, (of.device.0, of.job.into_bytes())), |row| row.get(0), during)?;
    if let Some(known) = known {
        return Ok(known);
    }
    let own = Hash::of_two(&of.device.0.to_be_bytes(), of.job.as_bytes());
    let own = i64::from(u32::from_be_bytes([0, own.0[0], own.0[1], own.0[2]]) >> 4);
    let opened = line.opened.unix_millis().clamp(0, (1 << 42) - 1);
    let mut number = (opened << 20) | own;
    while one(conn, ("SELECT 1 FROM line WHERE number = ?1", (number,)), |_| Ok(()), during)?.is_some() {
        number += 1;
    }
    Ok(number)
}

fn put(conn: &Connection, of: &Stale, (line, newer): (&Line, bool)) -> Result<(), StorageError> {
    let number = number(conn, of, line)?;
    let sql = "INSERT INTO line (number, device, job, search, opened_by, order_name, vehicle, customer, opened, stage,
                   verdict, condemned_by, taken, wanted, open_items, erased, newer, entries, entries_hash, counts,
                   versions)
               VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, 1, 1)
               ON CONFLICT (device, job) DO UPDATE SET search = excluded.search, opened_by = excluded.opened_by,
                   order_name = excluded.order_name, vehicle = excluded.vehicle, customer = excluded.customer,
                   opened = excluded.opened, stage = excluded.stage, verdict = excluded.verdict,
                   condemned_by = excluded.condemned_by, taken = excluded.taken, wanted = excluded.wanted,
                   open_items = excluded.open_items, erased = excluded.erased, newer = excluded.newer,
                   entries = excluded.entries, entries_hash = excluded.entries_hash";
    let open: Vec<String> = line.open.iter().map(word).collect();
    let search = format!("{}{END}", line.search);
    let (stage, verdict) = (word(&line.stage), line.verdict.as_ref().map(word).unwrap_or_default());
    let (open, job) = (open.join(" "), of.job.into_bytes());
    let hash = Hash::of_row(of.entries.iter().map(Sealed::hash)).0;
    let values = [
        number.cell(),
        of.device.0.cell(),
        job.cell(),
        search.cell(),
        Cell::Int(line.opened_by as i64),
        line.order.cell(),
        line.vehicle.cell(),
        line.customer.cell(),
        line.opened.as_str().cell(),
        stage.cell(),
        verdict.cell(),
        line.condemned_by.cell(),
        line.taken.cell(),
        line.wanted.cell(),
        open.cell(),
        line.erased.cell(),
        newer.cell(),
        Cell::Int(of.entries.len() as i64),
        hash.cell(),
    ];
    change(conn, (sql, values), "keeping a line").map(drop)
}

/// Notes which lines of a job count: a version that is the beginning of another one does not, and of equal ones the
/// first device's does.
fn compare(conn: &Connection, job: Uuid) -> Result<(), StorageError> {
    let during = "comparing versions of a job";
    let mut versions: BTreeMap<i64, Vec<Hash>> = BTreeMap::new();
    let sql = "SELECT device FROM line WHERE job = ?1";
    let with_line: BTreeSet<i64> =
        all(conn, (sql, (job.into_bytes(),)), |row| row.get(0), during)?.into_iter().collect();
    if with_line.len() > 1 {
        for device in &with_line {
            match batches::told(conn, DeviceNumber(*device), (job, MOST_SEQUENCE)) {
                Ok(hashes) => drop(versions.insert(*device, hashes)),
                // One ledger that decayed keeps no line of another one from the list.
                Err(StorageError::Damaged { .. }) => {}
                Err(error) => return Err(error),
            }
        }
    }
    // A line whose entries are gone is the beginning of nothing.
    versions.retain(|_, hashes| !hashes.is_empty());
    let counts = |device: &i64| {
        let Some(own) = versions.get(device) else { return true };
        let beyond = |(other, longer): (&i64, &Vec<Hash>)| {
            other != device && longer.starts_with(own) && (longer.len() > own.len() || other < device)
        };
        !versions.iter().any(beyond)
    };
    let counting = with_line.iter().filter(|device| counts(device)).count();
    for device in &with_line {
        let sql = "UPDATE line SET counts = ?3, versions = ?4 WHERE device = ?1 AND job = ?2";
        change(conn, (sql, (device, job.into_bytes(), counts(device), counting as i64)), during)?;
    }
    Ok(())
}
