//! The tables: made by numbered steps, forward only, and compared with what a fresh file would have.

use crate::error::{During, StoreError};
use rusqlite::{Connection, Transaction};

/// Stands in the header of every file of ours ("EvWr"), so that no other program's file is mistaken for one.
pub const APPLICATION_ID: u32 = 0x4576_5772;

/// Step `n` of the list leads from format `n - 1` to format `n`. A released step is never edited.
pub(crate) const STEPS: &[&str] = &[
    include_str!("migrations/0001_ledger.sql"),
    include_str!("migrations/0002_pictures.sql"),
    include_str!("migrations/0003_people.sql"),
    include_str!("migrations/0004_signed_heads.sql"),
    include_str!("migrations/0005_finding.sql"),
];

/// The format this program writes, and the newest it reads.
pub const FORMAT: i64 = STEPS.len() as i64;

/// Brings an open transaction from format `from` to the end of [`STEPS`].
pub(crate) fn upgrade(tx: &Transaction<'_>, from: i64) -> Result<(), StoreError> {
    perform(tx, from, STEPS)
}

/// Performs the steps after `from`. The caller commits, so all of them count or none.
pub(crate) fn perform(tx: &Transaction<'_>, from: i64, steps: &[&str]) -> Result<(), StoreError> {
    let done = usize::try_from(from).map_err(|_| StoreError::damaged(format!("format {from}")))?;
    for (number, step) in (1i64..).zip(steps).skip(done) {
        tx.execute_batch(step).during(|| format!("changing the tables to format {number}"))?;
        tx.pragma_update(None, "user_version", number).during(|| "noting the new format")?;
    }
    Ok(())
}

/// The format an open file says it has.
pub(crate) fn format_of(conn: &Connection) -> Result<i64, StoreError> {
    conn.pragma_query_value(None, "user_version", |row| row.get(0)).during(|| "reading the format")
}

/// The definitions of all tables, indexes and triggers, in order of their names.
pub(crate) fn written(conn: &Connection) -> Result<String, StoreError> {
    let during = || "reading the definitions of the tables";
    // Indexes SQLite makes for itself have no text; they follow from the tables.
    let sql = "SELECT type || ' ' || name || ' on ' || tbl_name || char(10) || sql || ';' \
               FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY type, name";
    let mut statement = conn.prepare(sql).during(during)?;
    let texts = statement.query_map([], |row| row.get::<_, String>(0)).during(during)?;
    let texts: Vec<String> = texts.collect::<Result<_, _>>().during(during)?;
    Ok(texts.join("\n\n") + "\n")
}

/// What [`written`] says of a file that was made by this program just now.
pub(crate) fn expected() -> Result<String, StoreError> {
    let during = || "making tables in memory";
    let mut conn = Connection::open_in_memory().during(during)?;
    let tx = conn.transaction().during(during)?;
    upgrade(&tx, 0)?;
    written(&tx)
}
