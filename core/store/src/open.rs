//! Opening, making and moving aside a ledger file.

use crate::error::{During, StoreError};
use crate::lock::Lock;
use crate::{APPLICATION_ID, FORMAT, Store, rescue, schema};
use evenwire_core::record::Head;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};
use std::ffi::OsString;
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;
use uuid::Uuid;

/// Older ones have a fault that can corrupt a database with a write-ahead log.
const OLDEST_SQLITE: i32 = 3_051_003;
/// How long a statement waits for another connection's lock.
const PATIENCE: Duration = Duration::from_millis(5_000);
/// Files that belong to a database, by what is added to its name.
const COMPANIONS: [&str; 3] = ["-wal", "-shm", "-journal"];
/// Files put aside under one name at most; beyond that somebody should look.
pub(crate) const MOST_ASIDE: u32 = 9_999;
/// Bytes of the header the file format begins with.
const HEADER: usize = 100;
/// How every database begins.
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// Name, value to set, value it must answer then.
const SETTINGS: &[(&str, &str, &str)] = &[
    ("trusted_schema", "OFF", "0"),
    ("cell_size_check", "ON", "1"),
    ("foreign_keys", "ON", "1"),
    ("recursive_triggers", "ON", "1"),
    // What is erased is overwritten.
    ("secure_delete", "ON", "1"),
    ("temp_store", "MEMORY", "2"),
    ("synchronous", "FULL", "2"),
    #[cfg(target_vendor = "apple")]
    ("fullfsync", "ON", "1"),
    ("journal_mode", "WAL", "wal"),
];

impl Store {
    /// Opens the ledger at `path`; makes one for `fresh_device` if there is no file. An existing file keeps
    /// its own device. The folder must exist.
    ///
    /// The ledger is locked for as long as the store lives, by a file `<path>.lock` beside it.
    ///
    /// Cheap checks are made: whose file it is, its format and tables, that the head is the last entry, and
    /// that entry's hash. [`Store::check`] looks at everything.
    ///
    /// # Errors
    /// [`StoreError::InUse`], [`StoreError::Newer`] and [`StoreError::NotOurs`] leave the file as it is, and so
    /// does [`StoreError::Damaged`]. The others as their names say.
    pub fn open(path: &Path, fresh_device: Uuid) -> Result<Store, StoreError> {
        assert_version()?;
        let lock = lock(path)?;
        if !exists(path)? {
            make(path, fresh_device)?;
        }
        look_at_header(path)?;
        let during = || format!("opening {}", path.display());
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = Connection::open_with_flags(path, flags).during(during)?;
        // Until the file is known to be ours and whole, nothing is moved from its log into it.
        let keep = DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE;
        conn.set_db_config(keep, true).during(during)?;
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true).during(during)?;
        conn.busy_timeout(PATIENCE).during(during)?;
        let mut store = Store { conn, path: path.to_owned(), _lock: lock };
        let format = store.known_format()?;
        if store.conn.is_readonly(rusqlite::MAIN_DB).during(during)? {
            return Err(StoreError::ReadOnly { during: during() });
        }
        settle(&store.conn)?;
        store.upgrade(format)?;
        if schema::written(&store.conn)? != schema::expected()? {
            return Err(StoreError::damaged("its tables or triggers are not those it was made with"));
        }
        store.assert_tail()?;
        store.conn.set_db_config(keep, false).during(during)?;
        Ok(store)
    }

    /// Renames the file at `path`, with its log, to a name of its own beside it, and returns that name.
    /// Nothing is deleted.
    ///
    /// # Errors
    /// [`StoreError::InUse`] while a store has it open; [`StoreError::Io`] when there is nothing to move, or the
    /// file system refuses.
    pub fn move_aside(path: &Path) -> Result<PathBuf, StoreError> {
        let _lock = Lock::take_if_there(path)?;
        let present = with_companions(path)?;
        if present.is_empty() {
            return Err(failed(path)(io::ErrorKind::NotFound.into()));
        }
        for counter in 1..=MOST_ASIDE {
            let target = beside(path, &format!(".aside-{counter}"));
            if !with_companions(&target)?.is_empty() {
                continue;
            }
            move_all(path, &target)?;
            return Ok(target);
        }
        Err(failed(path)(io::ErrorKind::AlreadyExists.into()))
    }

    /// Where the file is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    fn known_format(&self) -> Result<i64, StoreError> {
        match schema::format_of(&self.conn)? {
            found if found > FORMAT => Err(newer(&self.path, found)),
            // Identity and format are written in the same transaction, so ours never says 0.
            found if found < 1 => Err(StoreError::damaged(format!("it says its format is {found}"))),
            found => Ok(found),
        }
    }

    fn upgrade(&mut self, format: i64) -> Result<(), StoreError> {
        if format == FORMAT {
            return Ok(());
        }
        let during = || format!("upgrading from format {format} to {FORMAT}");
        let tx = self.conn.transaction_with_behavior(TransactionBehavior::Immediate).during(during)?;
        schema::upgrade(&tx, schema::format_of(&tx)?)?;
        tx.commit().during(during)?;
        // An older program looks at the file's header only, and must find the new format there.
        self.checkpoint()
    }

    /// The head is the last entry, and the last entry is whole.
    fn assert_tail(&self) -> Result<(), StoreError> {
        let head = self.head()?;
        let last = self.last_entry()?;
        let end = last.map_or_else(
            || Head::empty(head.device),
            |last| {
                let entry = last.entry();
                Head { device: entry.device, sequence: entry.sequence, hash: last.hash() }
            },
        );
        let sequence = end.sequence;
        if head != end {
            let what = format!("the last entry is {sequence}, but the head says {}", head.sequence);
            let what =
                if head.sequence == sequence { format!("the head does not match entry {sequence}") } else { what };
            return Err(StoreError::Damaged { what });
        }
        Ok(())
    }
}

/// Renames what is there of the ledger at `path` and its companions; nothing is written over.
pub(crate) fn move_all(path: &Path, target: &Path) -> Result<(), StoreError> {
    // The database goes first: stopped in between, what is left is a log without a database, which is refused; the
    // other way round would be an older state that looks whole.
    for suffix in with_companions(path)? {
        let (from, to) = (beside(path, suffix), beside(target, suffix));
        if exists(&to)? {
            return Err(failed(&to)(io::ErrorKind::AlreadyExists.into()));
        }
        fs::rename(&from, to).map_err(failed(&from))?;
    }
    sync_folder(path)
}

pub(crate) fn assert_version() -> Result<(), StoreError> {
    if rusqlite::version_number() < OLDEST_SQLITE {
        return Err(StoreError::OldSqlite { found: rusqlite::version() });
    }
    Ok(())
}

/// Locks the ledger at `path`. What is not ours is told before a file is put beside it; but first it is made sure
/// that this very process does not have it open: closing the file after a look would drop SQLite's own locks.
fn lock(path: &Path) -> Result<Lock, StoreError> {
    if let Some(lock) = Lock::take_if_there(path)? {
        return Ok(lock);
    }
    if exists(path)? {
        look_at_header(path)?;
    } else {
        assert_no_orphan(path)?;
    }
    Lock::take(path)
}

/// Where the database is missing, nothing is left of one.
fn assert_no_orphan(path: &Path) -> Result<(), StoreError> {
    if exists(&beside(path, rescue::READY))? {
        return Err(StoreError::damaged("its rescue was begun and not finished"));
    }
    match with_companions(path)?.first() {
        Some(orphan) => Err(StoreError::damaged(format!("{} is missing but its {orphan} is there", path.display()))),
        None => Ok(()),
    }
}

fn settle(conn: &Connection) -> Result<(), StoreError> {
    for &(setting, wanted, answer) in SETTINGS {
        conn.pragma_update(None, setting, wanted).during(|| format!("setting {setting}"))?;
        let found: rusqlite::types::Value =
            conn.pragma_query_value(None, setting, |row| row.get(0)).during(|| format!("reading {setting}"))?;
        let found = match found {
            rusqlite::types::Value::Integer(number) => number.to_string(),
            rusqlite::types::Value::Text(text) => text,
            other => format!("{other:?}"),
        };
        if found != answer {
            return Err(StoreError::Setting { setting, wanted, found });
        }
    }
    let patience: u32 =
        conn.pragma_query_value(None, "busy_timeout", |row| row.get(0)).during(|| "reading patience")?;
    if u128::from(patience) != PATIENCE.as_millis() {
        return Err(StoreError::Setting { setting: "busy_timeout", wanted: "5000", found: patience.to_string() });
    }
    Ok(())
}

/// Makes an empty ledger under another name and renames it when it is whole, so that a file of ours is never
/// half made, and an empty file at `path` is never taken for a new ledger.
pub(crate) fn make(path: &Path, device: Uuid) -> Result<(), StoreError> {
    assert_no_orphan(path)?;
    let draft = beside(path, ".new");
    if !with_companions(&draft)?.is_empty() {
        Store::move_aside(&draft)?;
    }
    let during = || format!("making {}", draft.display());
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut conn = Connection::open_with_flags(&draft, flags).during(during)?;
    conn.pragma_update(None, "synchronous", "FULL").during(during)?;
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).during(during)?;
    schema::upgrade(&tx, 0)?;
    tx.pragma_update(None, "application_id", APPLICATION_ID).during(during)?;
    tx.execute(
        "INSERT INTO head (only_row, device, sequence, hash) VALUES (1, ?1, 0, zeroblob(32))",
        [device.into_bytes()],
    )
    .during(during)?;
    tx.commit().during(during)?;
    conn.close().map_err(|(_, error)| error).during(during)?;
    fs::rename(&draft, path).map_err(failed(path))?;
    // Until the new name itself is on the disk, nothing written under it would be.
    sync_folder(path)
}

/// Whose file it is, without SQLite touching it: opening another program's database could replay its log.
fn look_at_header(path: &Path) -> Result<(), StoreError> {
    let mut header = [0u8; HEADER];
    let mut file = fs::File::open(path).map_err(failed(path))?;
    let whole = match file.read_exact(&mut header) {
        Ok(()) => true,
        Err(e) if e.kind() == io::ErrorKind::UnexpectedEof => false,
        Err(e) => return Err(failed(path)(e)),
    };
    if !whole || &header[..MAGIC.len()] != MAGIC {
        return Err(StoreError::damaged(format!("{} is no database", path.display())));
    }
    let word = |at: usize| u32::from_be_bytes([header[at], header[at + 1], header[at + 2], header[at + 3]]);
    // Offsets from the SQLite file format, section 1.3.
    let (format, application_id) = (i64::from(word(60) as i32), word(68));
    if application_id != APPLICATION_ID {
        return Err(StoreError::NotOurs { path: path.to_owned(), application_id });
    }
    if format > FORMAT {
        return Err(newer(path, format));
    }
    // Ways of writing that no SQLite has: it would open the file, but only to be read.
    if header[18] > 2 || header[19] > 2 {
        return Err(StoreError::damaged(format!("{} says it is written in no known way", path.display())));
    }
    Ok(())
}

fn newer(path: &Path, found: i64) -> StoreError {
    StoreError::Newer { path: path.to_owned(), found, known: FORMAT }
}

/// Which of the database (an empty suffix) and its companions are there, the database first.
pub(crate) fn with_companions(path: &Path) -> Result<Vec<&'static str>, StoreError> {
    let mut present = Vec::new();
    for suffix in [""].into_iter().chain(COMPANIONS) {
        if exists(&beside(path, suffix))? {
            present.push(suffix);
        }
    }
    Ok(present)
}

pub(crate) fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = OsString::from(path);
    name.push(suffix);
    PathBuf::from(name)
}

/// Something stands at `path`, be it a link to nowhere.
pub(crate) fn exists(path: &Path) -> Result<bool, StoreError> {
    match fs::symlink_metadata(path) {
        Ok(_) => Ok(true),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(false),
        Err(e) => Err(failed(path)(e)),
    }
}

pub(crate) fn failed(path: &Path) -> impl FnOnce(io::Error) -> StoreError {
    let path = path.to_owned();
    move |source| StoreError::Io { path, source }
}

/// Puts names in the folder of `path` on the disk. Only Unix knows how; elsewhere the file system's own
/// journal keeps the order.
pub(crate) fn sync_folder(path: &Path) -> Result<(), StoreError> {
    #[cfg(unix)]
    {
        let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        fs::File::open(folder).and_then(|f| f.sync_all()).map_err(failed(folder))?;
    }
    #[cfg(not(unix))]
    let _ = path;
    Ok(())
}
