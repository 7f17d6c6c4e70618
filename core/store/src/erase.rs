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

impl Store {
    /// Deletes the personal details and the photos of `job` and blanks what its line shows of them: the customer, the vehicle
    /// (which may end in digits of the VIN) and the search text, of which only the order remains. No entry changes.
    /// When this returns, neither the file nor its log holds the texts any more. Repeating it is harmless. It takes
    /// time in proportion to the jobs there are, because personal details and lines are written anew.
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
        tx.execute("DELETE FROM details WHERE job = ?1", [job.as_bytes()]).during(during)?;
        tx.execute("DELETE FROM picture WHERE job = ?1", [job.as_bytes()]).during(during)?;
        match line {
            Some(mut line) => {
                line.customer.clear();
                line.vehicle.clear();
                line.search = line.order.to_lowercase();
                put_line(&tx, &line)?;
            }
            None => drop(tx.execute("DELETE FROM line WHERE job = ?1", [job.as_bytes()]).during(during)?),
        }
        ["details", "line"].iter().try_for_each(|table| rewrite(&tx, table)).during(during)?;
        tx.commit().during(during)?;
        self.checkpoint()
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
