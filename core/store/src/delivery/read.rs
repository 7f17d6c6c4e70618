//! Reading what is known of the hub, also beside whoever writes it.

use super::{Delivered, Delivery, Named, PairedHub, key};
use crate::error::{During, StoreError};
use crate::read::all;
use crate::row;
use evenwire_core::record::Hash;
use evenwire_core::sync::{BesideKind, JobThere, Note};
use evenwire_core::unit::Stamp;
use rusqlite::{Connection, OpenFlags, OptionalExtension, Row, params};
use std::path::Path;
use uuid::Uuid;

/// A look at the file that keeps nobody from writing.
#[derive(Debug)]
pub struct DeliveryGlance(Connection);

impl DeliveryGlance {
    /// Looks at the file beside `ledger`; `None` where there is none.
    ///
    /// # Errors
    /// [`StoreError`] when it cannot be opened.
    pub fn at(ledger: &Path) -> Result<Option<DeliveryGlance>, StoreError> {
        if !Delivery::is_there(ledger)? {
            return Ok(None);
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = Connection::open_with_flags(Delivery::place(ledger)?, flags).during(|| "opening for a look")?;
        Ok(Some(DeliveryGlance(conn)))
    }

    /// What of a job is at the hub; `None` unless it is paired, and that under the id `device`: what was said to
    /// another one is not said of this ledger.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn of_job(&self, job: Uuid, device: Uuid) -> Result<Option<JobThere>, StoreError> {
        let during = || "reading what of a job is at the hub";
        // One statement, one state: nothing is stored in between.
        let sql = "SELECT p.stored_through, coalesce((SELECT newest FROM job WHERE job = ?1), 0),
                       count(n.hash) FILTER (WHERE n.kind = ?3 AND n.there = 1),
                       count(n.hash) FILTER (WHERE n.kind = ?3),
                       count(n.hash) FILTER (WHERE n.kind <> ?3 AND n.there = 1),
                       count(n.hash) FILTER (WHERE n.kind <> ?3),
                       count(n.hash) FILTER (WHERE n.there = 3)
                   FROM pairing p LEFT JOIN named n ON n.job = ?1 WHERE p.device = ?2 GROUP BY p.only_row";
        let read = |row: &Row<'_>| {
            Ok(JobThere {
                stored_through: row::count(row, 0)?,
                looked: row::count(row, 1)?,
                photos: (row.get(2)?, row.get(3)?),
                others: (row.get(4)?, row.get(5)?),
                lost: row.get(6)?,
            })
        };
        let mut select = self.0.prepare_cached(sql).during(during)?;
        let asked = params![key(Some(job)), device.as_bytes(), code(BesideKind::Photo)];
        select.query_row(asked, read).optional().during(during)
    }

    /// The hub it is paired with.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn paired(&self) -> Result<Option<PairedHub>, StoreError> {
        paired(&self.0)
    }

    /// What is known now.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn standing(&self) -> Result<Delivered, StoreError> {
        standing(&self.0)
    }
}

/// The number a kind is kept by.
pub(super) fn code(kind: BesideKind) -> u8 {
    match kind {
        BesideKind::Photo => 0,
        BesideKind::Samples => 1,
        BesideKind::Details => 2,
        BesideKind::Person => 3,
    }
}

fn kind(code: u8) -> BesideKind {
    match code {
        0 => BesideKind::Photo,
        1 => BesideKind::Samples,
        2 => BesideKind::Details,
        _ => BesideKind::Person,
    }
}

pub(super) fn paired(conn: &Connection) -> Result<Option<PairedHub>, StoreError> {
    let during = || "reading the pairing";
    let sql = "SELECT hub, shop, device_name, addresses, authority, device FROM pairing";
    let read = |row: &Row<'_>| {
        let addresses: String = row.get(3)?;
        Ok(PairedHub {
            hub: Uuid::from_bytes(row.get(0)?),
            shop: row.get(1)?,
            device_name: row.get(2)?,
            addresses: serde_json::from_str(&addresses).unwrap_or_default(),
            authority: row.get(4)?,
            device: Uuid::from_bytes(row.get(5)?),
        })
    };
    conn.query_row(sql, [], read).optional().during(during)
}

pub(super) fn standing(conn: &Connection) -> Result<Delivered, StoreError> {
    let during = || "reading what is there";
    let sql = "SELECT stored_through, looked, change, again, complete, heads,
                   (SELECT count(*) FROM named WHERE there = 1), (SELECT count(*) FROM named),
                   (SELECT count(*) FROM named WHERE there = 3) FROM pairing";
    let read = |row: &Row<'_>| {
        Ok(Delivered {
            stored_through: row::count(row, 0)?,
            looked: row::count(row, 1)?,
            change: row::count(row, 2)?,
            again: row.get(3)?,
            complete: row.get::<_, Option<String>>(4)?.and_then(|text| Stamp::parse(&text).ok()),
            heads: row::count(row, 5)?,
            there: row::count(row, 6)?,
            named: row::count(row, 7)?,
            lost: row::count(row, 8)?,
        })
    };
    Ok(conn.query_row(sql, [], read).optional().during(during)?.unwrap_or_default())
}

pub(super) fn unasked(conn: &Connection, tail: u64, limit: u32) -> Result<Vec<Hash>, StoreError> {
    let sql = "SELECT DISTINCT hash FROM named WHERE there = 0 AND sequence <= ?1 LIMIT ?2";
    let read = |row: &Row<'_>| row.get(0).map(Hash).during(|| "reading what is not known to be there");
    all(conn, sql, ((row::signed(tail), limit), read))
}

pub(super) fn lacking(conn: &Connection, tail: u64) -> Result<u64, StoreError> {
    let sql = "SELECT count(DISTINCT hash) FROM named WHERE there <> 1 AND sequence <= ?1";
    let count = conn.query_row(sql, [row::signed(tail)], |row| row::count(row, 0));
    count.during(|| "counting what is not known to be there")
}

pub(super) fn missing(conn: &Connection) -> Result<Option<Named>, StoreError> {
    let sql = "SELECT hash, kind, job FROM named WHERE there = 2 ORDER BY kind DESC, sequence LIMIT 1";
    let read = |row: &Row<'_>| {
        let read = || {
            let job = Uuid::from_bytes(row.get(2)?);
            Ok(Named { hash: Hash(row.get(0)?), kind: kind(row.get(1)?), job: Some(job).filter(|job| !job.is_nil()) })
        };
        read().during(|| "reading what is missing there")
    };
    Ok(all(conn, sql, ([], read))?.pop())
}

pub(super) fn notes(conn: &Connection) -> Result<Vec<Note>, StoreError> {
    let read = |row: &Row<'_>| {
        let read = || {
            let job: Option<[u8; 16]> = row.get(1)?;
            Ok(Note { number: row::unsigned(row.get(0)?), job: job.map(Uuid::from_bytes), text: row.get(2)? })
        };
        read().during(|| "reading notes")
    };
    all(conn, "SELECT number, job, text FROM note ORDER BY number", ([], read))
}

pub(super) fn to_erase(conn: &Connection) -> Result<Vec<Uuid>, StoreError> {
    let read = |row: &Row<'_>| row.get(0).map(Uuid::from_bytes).during(|| "reading what is to be erased");
    all(conn, "SELECT job FROM to_erase ORDER BY job", ([], read))
}
