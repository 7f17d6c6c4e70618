//! SQLite: one writer in a thread of its own, and a few readers.

use super::connection::Connection as Held;
use super::error::{During, StorageError};
use super::group::{Task, WAITING, write, write_all};
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::{Semaphore, mpsc};

#[cfg(test)]
mod tests;

/// Stands in the header of every file of a hub ("EvHb").
const APPLICATION_ID: i64 = 0x4576_4862;
/// Step `n` of the list leads from format `n - 1` to format `n`. A released step is never edited.
const STEPS: &[&str] = &[
    include_str!("migrations/0001_hub.sql"),
    include_str!("migrations/0002_office.sql"),
    include_str!("migrations/0003_signatures.sql"),
    include_str!("migrations/0004_batches.sql"),
];
/// The newest format.
const KNOWN: i64 = STEPS.len() as i64;
/// Older ones have a fault that can corrupt a database with a write-ahead log.
const OLDEST_SQLITE: i32 = 3_051_003;
/// How long a statement waits for another connection's lock.
const PATIENCE: Duration = Duration::from_millis(5_000);
/// How many may read at once.
const READERS: usize = 4;
/// Bytes in the log before they are moved into the file: a larger interval than SQLite's own wrote a quarter faster.
const LOG_BYTES: i64 = 32 * 1024 * 1024;

/// Bytes of a page of a new file; an older one keeps its own. A batch is long, and with pages four times as large as
/// SQLite's own a burst went onto a disk a sixth faster.
const PAGE_BYTES: i64 = 16_384;
/// Name, value to set, value it must answer then.
const SETTINGS: &[(&str, &str, &str)] = &[
    ("trusted_schema", "OFF", "0"),
    ("cell_size_check", "ON", "1"),
    ("foreign_keys", "ON", "1"),
    ("recursive_triggers", "ON", "1"),
    // What is erased is overwritten.
    ("secure_delete", "ON", "1"),
    ("temp_store", "MEMORY", "2"),
    // KiB, the minus says so: what is looked up while a burst is written stays in memory.
    ("cache_size", "-16000", "-16000"),
    ("synchronous", "FULL", "2"),
    #[cfg(target_vendor = "apple")]
    ("fullfsync", "ON", "1"),
    ("journal_mode", "WAL", "wal"),
];

/// An open file.
#[derive(Clone)]
pub struct Sqlite {
    path: PathBuf,
    writer: mpsc::Sender<Task>,
    readers: Arc<Readers>,
}

struct Readers {
    free: Arc<Semaphore>,
    connections: Mutex<Vec<Held>>,
}

impl std::fmt::Debug for Sqlite {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Sqlite")
    }
}

impl Sqlite {
    /// Opens the file at `path`; makes it if it is not there. Whoever opens it holds the lock of its folder.
    ///
    /// # Errors
    /// [`StorageError::NotOurs`] and [`StorageError::Newer`] leave the file as it is; the others as they say.
    pub fn open(path: &Path) -> Result<Sqlite, StorageError> {
        Sqlite::opened(path, |writer| upgrade(writer, STEPS))
    }

    /// Opens the file at `path`, which is there, beside a hub that may run on it: the tables stay as they are.
    ///
    /// # Errors
    /// As [`Sqlite::open`]; also [`StorageError::Older`].
    pub fn open_beside(path: &Path) -> Result<Sqlite, StorageError> {
        Sqlite::opened(path, |writer| match format_of(writer)? {
            found if found < KNOWN => Err(StorageError::Older { found, known: KNOWN }),
            _ => Ok(()),
        })
    }

    fn opened(
        path: &Path,
        begin_with: impl FnOnce(&mut Connection) -> Result<(), StorageError>,
    ) -> Result<Sqlite, StorageError> {
        if rusqlite::version_number() < OLDEST_SQLITE {
            let why = format!("SQLite {} is too old", rusqlite::version());
            return Err(StorageError::Failed { during: "opening the database", why });
        }
        let mut writer = connect(path, true)?;
        begin_with(&mut writer)?;
        let connect_reader = |_| connect(path, false).map(Held::Sqlite);
        let connections: Vec<Held> = (0..READERS).map(connect_reader).collect::<Result<_, _>>()?;
        let (sender, waiting) = mpsc::channel(WAITING);
        std::thread::Builder::new()
            .name("hub-writer".to_owned())
            .spawn(move || write_all(Held::Sqlite(writer), waiting, begin))
            .during("starting the writer")?;
        let readers = Readers { free: Arc::new(Semaphore::new(READERS)), connections: Mutex::new(connections) };
        Ok(Sqlite { path: path.to_owned(), writer: sender, readers: Arc::new(readers) })
    }

    /// Does `work`, which writes so many entries, and answers once it is on the disk. When it fails, nothing of it was done.
    pub(super) async fn write<T: Send + 'static>(
        &self,
        entries: usize,
        work: impl FnOnce(&Held) -> Result<T, StorageError> + Send + 'static,
    ) -> Result<T, StorageError> {
        write(&self.writer, entries, work).await
    }

    /// Writes the log into the file and empties it; `false`: somebody used it all the time.
    pub(super) async fn empty_log(&self) -> Result<bool, StorageError> {
        let path = self.path.clone();
        let empty = move || {
            let during = "emptying the log";
            let conn = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE).during(during)?;
            conn.busy_timeout(PATIENCE).during(during)?;
            let busy: i64 = conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0)).during(during)?;
            Ok(busy == 0)
        };
        tokio::task::spawn_blocking(empty).await.map_err(|_| StorageError::Closed)?
    }

    /// Lets the file grow no further than it is, as on a full disk, or again.
    pub(super) async fn hold(&self, held: bool) -> Result<(), StorageError> {
        let most = if held { 1 } else { i64::from(u32::MAX - 1) };
        // What is too small for what is there is taken for what is there.
        let set = move |conn: &Held| {
            let sql = format!("PRAGMA max_page_count = {most}");
            let answered =
                super::row::one(conn, (&sql, ()), |row| row.get::<i64>(0), "setting how far the file may grow");
            answered.map(drop)
        };
        self.write(0, set).await
    }

    /// Looks at what is on the disk.
    pub(super) async fn read<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Held) -> Result<T, StorageError> + Send + 'static,
    ) -> Result<T, StorageError> {
        let readers = self.readers.clone();
        // Whoever asked may go away meanwhile: the turn ends with the look, not with the one who waits for it.
        let turn = readers.free.clone().acquire_owned().await.map_err(|_| StorageError::Closed)?;
        let look = move || {
            let _turn = turn;
            let lent = Lent { held: readers.take(), readers };
            let conn = lent.held.as_ref().ok_or(StorageError::Closed)?;
            // One look at one state, however many statements it takes.
            let found = conn.batch("BEGIN", "beginning to read").and_then(|()| work(conn));
            if conn.in_transaction() {
                conn.batch("ROLLBACK", "ending to read")?;
            }
            found
        };
        tokio::task::spawn_blocking(look).await.map_err(|_| StorageError::Closed)?
    }
}

impl Readers {
    fn take(&self) -> Option<Held> {
        self.connections.lock().unwrap_or_else(PoisonError::into_inner).pop()
    }
}

/// A connection that goes back whatever becomes of the look.
struct Lent {
    held: Option<Held>,
    readers: Arc<Readers>,
}

impl Drop for Lent {
    fn drop(&mut self) {
        let mut free = self.readers.connections.lock().unwrap_or_else(PoisonError::into_inner);
        free.extend(self.held.take());
    }
}

fn begin(conn: &mut Held) -> Result<(), StorageError> {
    conn.batch("BEGIN IMMEDIATE", "beginning to write")
}

fn connect(path: &Path, writes: bool) -> Result<Connection, StorageError> {
    let during = "opening the database";
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags).during(during)?;
    conn.busy_timeout(PATIENCE).during(during)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true).during(during)?;
    // Looked at before anything is changed in a file that may be another program's.
    let format = format_of(&conn)?;
    let tables: i64 = conn.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0)).during(during)?;
    let id: i64 = conn.pragma_query_value(None, "application_id", |row| row.get(0)).during(during)?;
    if id != APPLICATION_ID && (tables > 0 || format != 0) {
        return Err(StorageError::NotOurs);
    }
    if format > KNOWN {
        return Err(StorageError::Newer { found: format, known: KNOWN });
    }
    conn.pragma_update(None, "page_size", PAGE_BYTES).during(during)?;
    for (name, value, answer) in SETTINGS {
        conn.pragma_update(None, name, value).during(during)?;
        let found: rusqlite::types::Value = conn.pragma_query_value(None, name, |row| row.get(0)).during(during)?;
        let found = match found {
            rusqlite::types::Value::Integer(number) => number.to_string(),
            rusqlite::types::Value::Text(text) => text,
            other => format!("{other:?}"),
        };
        if found != *answer {
            return Err(StorageError::Failed { during, why: format!("{name} is {found}, not {answer}") });
        }
    }
    let page: i64 = conn.pragma_query_value(None, "page_size", |row| row.get(0)).during(during)?;
    conn.pragma_update(None, "wal_autocheckpoint", LOG_BYTES / page.max(1)).during(during)?;
    if !writes {
        conn.pragma_update(None, "query_only", "ON").during(during)?;
    }
    conn.set_prepared_statement_cache_capacity(64);
    Ok(conn)
}

fn format_of(conn: &Connection) -> Result<i64, StorageError> {
    conn.pragma_query_value(None, "user_version", |row| row.get(0)).during("reading the format")
}

/// All steps that are missing, or none.
fn upgrade(conn: &mut Connection, steps: &[&str]) -> Result<(), StorageError> {
    let during = "changing the tables";
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).during(during)?;
    let done = usize::try_from(format_of(&tx)?).map_err(|_| StorageError::damaged("its format is below zero"))?;
    for (number, step) in (1i64..).zip(steps).skip(done) {
        tx.execute_batch(step).during(during)?;
        tx.pragma_update(None, "user_version", number).during(during)?;
    }
    tx.pragma_update(None, "application_id", APPLICATION_ID).during(during)?;
    tx.commit().during(during)
}
