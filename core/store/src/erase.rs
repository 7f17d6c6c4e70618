//! Erasing what is personal, down to the bytes of the file. The chain stays as it is.

use crate::Store;
use crate::append::put_line;
use crate::error::{During, StoreError};
use rusqlite::{Transaction, TransactionBehavior};
use uuid::Uuid;

/// Writes every row of a table anew. Deleting one row overwrites its cell, but not the copies that were left in
/// unused parts of pages when rows moved between them; emptying the table overwrites its pages whole.
fn rewrite(tx: &Transaction<'_>, table: &str) -> rusqlite::Result<()> {
    tx.execute_batch(&format!(
        "CREATE TEMP TABLE kept AS SELECT * FROM main.{table};
         DELETE FROM main.{table};
         INSERT INTO main.{table} SELECT * FROM kept;
         DROP TABLE kept;"
    ))
}

/// Deletes the details and photos of these jobs, and what their former lines left in unused parts of the file.
pub(crate) fn take_out(tx: &Transaction<'_>, jobs: &[Uuid]) -> rusqlite::Result<()> {
    if jobs.is_empty() {
        return Ok(());
    }
    for job in jobs {
        tx.execute("DELETE FROM details WHERE job = ?1", [job.as_bytes()])?;
        tx.execute("DELETE FROM picture WHERE job = ?1", [job.as_bytes()])?;
    }
    // The index of the lines is made anew once, not for every line that is written anew.
    tx.execute_batch("UPDATE shelf SET indexed = 0")?;
    ["details", "line"].iter().try_for_each(|table| rewrite(tx, table))?;
    tx.execute_batch("INSERT INTO found (found) VALUES ('rebuild'); UPDATE shelf SET indexed = 1")
}

impl Store {
    /// Deletes the personal details and the photos of `job` and blanks what its line shows of them
    /// ([`Line::without_details`](evenwire_core::job::Line::without_details)). No entry changes.
    /// When this returns, neither the file nor its log holds the texts any more. Repeating it is harmless. It takes
    /// time in proportion to the jobs there are, because personal details, lines and their index are written anew.
    ///
    /// # Errors
    /// [`StoreError::Busy`] when another program still reads the log: the details are deleted then, but their
    /// bytes may be in the log until this is called again. Others as named.
    pub fn erase_details(&mut self, job: Uuid) -> Result<(), StoreError> {
        let during = || format!("erasing the details of job {job}");
        // A line that cannot be read must not stand in the way; it is derived and built anew.
        let line = match self.line(job) {
            Err(StoreError::Damaged { .. }) => None,
            line => line?,
        };
        let tx = self.conn.transaction_with_behavior(TransactionBehavior::Immediate).during(during)?;
        match line {
            Some(line) => put_line(&tx, &line.without_details())?,
            None => drop(tx.execute("DELETE FROM line WHERE job = ?1", [job.as_bytes()]).during(during)?),
        }
        take_out(&tx, &[job]).during(during)?;
        tx.commit().during(during)?;
        self.checkpoint()
    }

    /// Every job has its line now.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn note_whole_lines(&self) -> Result<(), StoreError> {
        let sql = "UPDATE shelf SET lines_whole = 1 WHERE lines_whole = 0";
        self.conn.execute(sql, []).map(drop).during(|| "noting that every job has its line")
    }

    /// Moves everything from the log into the file and empties the log.
    ///
    /// # Errors
    /// [`StoreError::Busy`] when another connection reads from the log.
    pub fn checkpoint(&self) -> Result<(), StoreError> {
        let during = || "emptying the log";
        let busy: bool = self.conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |r| r.get(0)).during(during)?;
        if busy { Err(StoreError::Busy { during: during().into() }) } else { Ok(()) }
    }
}
