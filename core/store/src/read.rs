//! Reading what was written. Everything read is compared with its hash or sum on the way.

use crate::error::{During, StoreError};
use crate::{Store, row};
use evenwire_core::job::Line;
use evenwire_core::record::{Chunk, Hash, Head, KeptDetails, KeptHead, KeptKey, KeptPerson, Sealed};
use evenwire_core::unit::Day;
use rusqlite::{Connection, OpenFlags, Params, Row};
use std::path::Path;
use uuid::Uuid;

/// How much a file holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Entries.
    pub entries: u64,
    /// Chunks, open and closed.
    pub chunks: u64,
    /// Notifications in them.
    pub samples: u64,
    /// Bytes of their payloads.
    pub payload_bytes: u64,
}

impl Store {
    /// Where the next entry is chained on.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] when there is none.
    pub fn head(&self) -> Result<Head, StoreError> {
        head(&self.conn)
    }

    /// The newest entry; `None` in an empty ledger.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] when it is not whole.
    pub fn last_entry(&self) -> Result<Option<Sealed>, StoreError> {
        let sql = format!("SELECT {} FROM entry ORDER BY sequence DESC LIMIT 1", row::ENTRY);
        Ok(self.all(&sql, [], row::entry)?.pop())
    }

    /// The job of the newest entry that belongs to one; `None` when there is none.
    ///
    /// # Errors
    /// [`StoreError`] when the file cannot be read.
    pub fn newest_job(&self) -> Result<Option<Uuid>, StoreError> {
        // What is written beside the work, of a job that may lie anywhere, says nothing of which one was worked on.
        let sql = "SELECT job FROM entry WHERE job IS NOT NULL
                   AND kind NOT IN ('details-erased', 'step-signed-at-office') ORDER BY sequence DESC LIMIT 1";
        Ok(self.all(sql, [], |row| row.get(0).map(Uuid::from_bytes).during(|| "reading the newest job"))?.pop())
    }

    /// The entries of one job, oldest first; none for a job that is not in the ledger.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] when one of them is not whole.
    pub fn entries_of(&self, job: Uuid) -> Result<Vec<Sealed>, StoreError> {
        entries_of(&self.conn, job)
    }

    /// The entries that belong to no job, oldest first.
    ///
    /// # Errors
    /// As [`Store::entries_of`].
    pub fn entries_of_device(&self) -> Result<Vec<Sealed>, StoreError> {
        entries_of_device(&self.conn)
    }

    /// At most `limit` entries after number `sequence` (0: from the first), oldest first.
    ///
    /// # Errors
    /// As [`Store::entries_of`].
    pub fn entries_after(&self, sequence: u64, limit: u32) -> Result<Vec<Sealed>, StoreError> {
        entries_after(&self.conn, sequence, limit)
    }

    /// Number of the newest entry of a job, and how many of its entries come after number `sequence`; zeros for a job
    /// that is not in the ledger.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn newest_of(&self, job: Uuid, sequence: u64) -> Result<(u64, u64), StoreError> {
        let sql = "SELECT coalesce(max(sequence), 0), count(*) FILTER (WHERE sequence > ?2) FROM entry WHERE job = ?1";
        let sequence = i64::try_from(sequence).unwrap_or(i64::MAX);
        let read = |r: &Row<'_>| Ok((row::count(r, 0)?, row::count(r, 1)?));
        self.conn.query_row(sql, (job.as_bytes(), sequence), read).during(|| "counting the entries of a job")
    }

    /// A photo of a job; `None` when it is not here or was erased.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] when its bytes are not those its hash says.
    pub fn picture(&self, job: Uuid, hash: Hash) -> Result<Option<Vec<u8>>, StoreError> {
        picture(&self.conn, job, hash)
    }

    /// Personal details of a job; `None` when there are none or they were erased.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] when they are not as they were written.
    pub fn details(&self, job: Uuid) -> Result<Option<KeptDetails>, StoreError> {
        details(&self.conn, job)
    }

    /// The line of one job; `None` when it has none.
    ///
    /// # Errors
    /// As [`Store::jobs`].
    pub fn line(&self, job: Uuid) -> Result<Option<Line>, StoreError> {
        let sql = format!("SELECT {} FROM line WHERE job = ?1", row::LINE);
        Ok(self.all(&sql, [job.as_bytes()], row::line)?.pop())
    }

    /// No job lacks its line, as far as anybody knows: [`Store::jobs_without_line`] need not look.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn lines_are_whole(&self) -> Result<bool, StoreError> {
        self.conn.query_row("SELECT lines_whole FROM shelf", [], |r| r.get(0)).during(|| "looking at the job list")
    }

    /// The lines of all jobs that were opened before `day` and still have their details, oldest first. Lines that are
    /// not as they were written are left out.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn lines_before(&self, day: Day) -> Result<Vec<Line>, StoreError> {
        let sql = format!(
            "SELECT {} FROM line WHERE NOT erased AND substr(opened, 1, 10) < ?1 ORDER BY opened_by",
            row::LINE
        );
        let read = |found: &Row<'_>| match row::line(found) {
            Err(StoreError::Damaged { .. }) => Ok(None),
            line => line.map(Some),
        };
        Ok(self.all(&sql, [day.to_string()], read)?.into_iter().flatten().collect())
    }

    /// Jobs that have entries but no line, in the order they were opened. Looks at every entry.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn jobs_without_line(&self) -> Result<Vec<Uuid>, StoreError> {
        let sql = "SELECT job FROM entry WHERE job IS NOT NULL AND job NOT IN (SELECT job FROM line)
                   GROUP BY job ORDER BY min(sequence)";
        self.all(sql, [], |r| Ok(Uuid::from_bytes(r.get(0).during(|| "reading a job's id")?)))
    }

    /// The chunks of one job in the order they were begun.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] when one is not as it was written.
    pub fn chunks_of(&self, job: Uuid) -> Result<Vec<Chunk>, StoreError> {
        let sql = format!("SELECT {} FROM chunk WHERE job = ?1 ORDER BY number", row::CHUNK);
        self.all(&sql, [job.as_bytes()], row::chunk)
    }

    /// The closed chunk with this hash. Open ones are not found: nothing rests on them yet.
    ///
    /// # Errors
    /// As [`Store::chunks_of`].
    pub fn chunk(&self, hash: Hash) -> Result<Option<Chunk>, StoreError> {
        chunk(&self.conn, hash)
    }

    /// Bytes of all payloads.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn chunk_bytes_total(&self) -> Result<u64, StoreError> {
        Ok(self.counts()?.payload_bytes)
    }

    /// How much there is of everything.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn counts(&self) -> Result<Counts, StoreError> {
        counts(&self.conn)
    }

    /// Every row `sql` finds, read by `read`.
    pub(crate) fn all<T>(
        &self,
        sql: &str,
        params: impl Params,
        read: impl Fn(&Row<'_>) -> Result<T, StoreError>,
    ) -> Result<Vec<T>, StoreError> {
        all(&self.conn, sql, (params, read))
    }
}

/// Every row `sql` finds, read by the second of the pair.
pub(crate) fn all<T, P: Params>(
    conn: &Connection,
    sql: &str,
    (params, read): (P, impl Fn(&Row<'_>) -> Result<T, StoreError>),
) -> Result<Vec<T>, StoreError> {
    let during = || "reading the ledger";
    let mut select = conn.prepare_cached(sql).during(during)?;
    let mut rows = select.query(params).during(during)?;
    let mut values = Vec::new();
    while let Some(found) = rows.next().during(during)? {
        values.push(read(found)?);
    }
    Ok(values)
}

fn head(conn: &Connection) -> Result<Head, StoreError> {
    conn.query_row("SELECT device, sequence, hash FROM head", [], row::head).during(|| "reading the head")
}

fn entries_of_device(conn: &Connection) -> Result<Vec<Sealed>, StoreError> {
    let sql = format!("SELECT {} FROM entry WHERE job IS NULL ORDER BY sequence", row::ENTRY);
    all(conn, &sql, ([], row::entry))
}

fn entries_of(conn: &Connection, job: Uuid) -> Result<Vec<Sealed>, StoreError> {
    let sql = format!("SELECT {} FROM entry WHERE job = ?1 ORDER BY sequence", row::ENTRY);
    all(conn, &sql, ([job.as_bytes()], row::entry))
}

fn entries_after(conn: &Connection, sequence: u64, limit: u32) -> Result<Vec<Sealed>, StoreError> {
    let Ok(sequence) = i64::try_from(sequence) else { return Ok(Vec::new()) };
    let sql = format!("SELECT {} FROM entry WHERE sequence > ?1 ORDER BY sequence LIMIT ?2", row::ENTRY);
    all(conn, &sql, ((sequence, limit), row::entry))
}

fn picture(conn: &Connection, job: Uuid, hash: Hash) -> Result<Option<Vec<u8>>, StoreError> {
    let read = |row: &Row<'_>| row.get::<_, Vec<u8>>(0).during(|| "reading a photo");
    let sql = "SELECT bytes FROM picture WHERE job = ?1 AND hash = ?2";
    match all(conn, sql, ((job.as_bytes(), hash.0), read))?.pop() {
        Some(bytes) if Hash::of(&bytes) != hash => Err(StoreError::damaged(format!("a photo of job {job}"))),
        found => Ok(found),
    }
}

fn details(conn: &Connection, job: Uuid) -> Result<Option<KeptDetails>, StoreError> {
    let sql = format!("SELECT {} FROM details WHERE job = ?1", row::DETAILS);
    Ok(all(conn, &sql, ([job.as_bytes()], row::details))?.pop())
}

fn chunk(conn: &Connection, hash: Hash) -> Result<Option<Chunk>, StoreError> {
    let sql = format!("SELECT {} FROM chunk WHERE hash = ?1 AND closed = 1 ORDER BY number LIMIT 1", row::CHUNK);
    Ok(all(conn, &sql, ([&hash.0], row::chunk))?.pop())
}

fn counts(conn: &Connection) -> Result<Counts, StoreError> {
    let sql = "SELECT (SELECT count(*) FROM entry), count(*), coalesce(sum(samples), 0),
               coalesce(sum(length(payload)), 0) FROM chunk";
    let read = |r: &Row<'_>| {
        let count = |index| row::count(r, index);
        Ok(Counts { entries: count(0)?, chunks: count(1)?, samples: count(2)?, payload_bytes: count(3)? })
    };
    conn.query_row(sql, [], read).during(|| "counting")
}

/// A look at a ledger that another may have open: it only reads, and keeps nobody from writing.
#[derive(Debug)]
pub struct Glance(pub(crate) Connection);

impl Glance {
    /// # Errors
    /// [`StoreError`] when there is no file that can be read.
    pub fn at(path: &Path) -> Result<Glance, StoreError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        Connection::open_with_flags(path, flags).during(|| "opening for a look").map(Glance)
    }

    /// As [`Store::head`].
    ///
    /// # Errors
    /// As there.
    pub fn head(&self) -> Result<Head, StoreError> {
        head(&self.0)
    }

    /// As [`Store::heads_of`].
    ///
    /// # Errors
    /// As there.
    pub fn heads_of(&self, job: Uuid) -> Result<Vec<KeptHead>, StoreError> {
        crate::heads::heads_of(&self.0, job)
    }

    /// Signed heads after number `after`, each with its number, in the order in which they were written; of entries up to
    /// `through`, at most `limit`.
    ///
    /// # Errors
    /// As there.
    pub fn heads_after(&self, after: u64, through: u64, limit: u32) -> Result<Vec<(u64, KeptHead)>, StoreError> {
        crate::heads::heads_after(&self.0, after, through, limit)
    }

    /// The key beside this ledger; `None` where there is none, or none that can be understood.
    ///
    /// # Errors
    /// [`StoreError::Io`] when the file is there and cannot be read.
    pub fn kept_key(&self) -> Result<Option<KeptKey>, StoreError> {
        self.0.path().map_or(Ok(None), |path| crate::key::kept_beside(Path::new(path)))
    }

    /// How much the file holds now.
    ///
    /// # Errors
    /// [`StoreError`] when it cannot be read.
    pub fn counts(&self) -> Result<Counts, StoreError> {
        counts(&self.0)
    }

    /// As [`Store::entries_of`].
    ///
    /// # Errors
    /// As there.
    pub fn entries_of(&self, job: Uuid) -> Result<Vec<Sealed>, StoreError> {
        entries_of(&self.0, job)
    }

    /// As [`Store::entries_after`].
    ///
    /// # Errors
    /// As there.
    pub fn entries_after(&self, sequence: u64, limit: u32) -> Result<Vec<Sealed>, StoreError> {
        entries_after(&self.0, sequence, limit)
    }

    /// As [`Store::details`].
    ///
    /// # Errors
    /// As there.
    pub fn details(&self, job: Uuid) -> Result<Option<KeptDetails>, StoreError> {
        details(&self.0, job)
    }

    /// As [`Store::picture`].
    ///
    /// # Errors
    /// As there.
    pub fn picture(&self, job: Uuid, hash: Hash) -> Result<Option<Vec<u8>>, StoreError> {
        picture(&self.0, job, hash)
    }

    /// As [`Store::chunk`].
    ///
    /// # Errors
    /// As there.
    pub fn chunk(&self, hash: Hash) -> Result<Option<Chunk>, StoreError> {
        chunk(&self.0, hash)
    }

    /// As [`Store::entries_of_device`].
    ///
    /// # Errors
    /// As there.
    pub fn entries_of_device(&self) -> Result<Vec<Sealed>, StoreError> {
        entries_of_device(&self.0)
    }

    /// As [`Store::people`].
    ///
    /// # Errors
    /// As there.
    pub fn people(&self) -> Result<Vec<KeptPerson>, StoreError> {
        crate::people::all(&self.0)
    }
}
