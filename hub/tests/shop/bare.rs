//! The barest thing that could keep what devices bring: what a hub's ingest is held against.

use super::server::connect;
use evenwire_core::record::Sealed;
use evenwire_hub::storage::ServerAddress;
use std::borrow::Cow;
use std::fs::{self, File};
use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};
use uuid::Uuid;

/// What is kept of an entry.
#[derive(Clone)]
pub struct Row {
    pub bytes: Vec<u8>,
    pub job: Option<[u8; 16]>,
    pub kind: String,
    pub hash: [u8; 32],
}

impl From<&Sealed> for Row {
    fn from(sealed: &Sealed) -> Row {
        let entry = sealed.entry();
        let job = entry.job.map(Uuid::into_bytes);
        Row { bytes: sealed.bytes().to_vec(), job, kind: entry.kind.clone(), hash: sealed.hash().0 }
    }
}

/// How much of it.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// Its bytes and their place.
    Bytes,
    /// What entries are looked up by as well, in columns of their own and an index of jobs.
    All,
    /// Their bytes, those of a batch in one row, as a hub keeps them.
    Batches,
}

impl Kept {
    pub const EACH: [Kept; 3] = [Kept::Bytes, Kept::All, Kept::Batches];
}

/// Rows of each ledger, a batch after the other, in a file of its own: one transaction each, on the disk before the next
/// begins.
pub fn rows(folder: &Path, ledgers: &[Vec<Row>], batch: usize, kept: Kept) -> Duration {
    let file = folder.join(format!("bare-{}.db", kept as u8));
    let mut conn = rusqlite::Connection::open(file).expect("a file");
    // The first two as SQLite comes, the last as the hub sets it; the log grows to as many bytes in either.
    let (page, pages) = if kept == Kept::Batches { (16_384, 2_000) } else { (4_096, 8_000) };
    conn.pragma_update(None, "page_size", page).expect("a page");
    let mode: String = conn.query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0)).expect("an answer");
    assert_eq!(mode, "wal");
    conn.execute_batch("PRAGMA synchronous = FULL").expect("a setting");
    conn.pragma_update(None, "wal_autocheckpoint", pages).expect("a setting");
    conn.execute_batch(match kept {
        Kept::Bytes | Kept::Batches => "CREATE TABLE entry (place INTEGER PRIMARY KEY, bytes BLOB NOT NULL) STRICT",
        Kept::All => {
            "CREATE TABLE entry (place INTEGER PRIMARY KEY, job BLOB, kind TEXT NOT NULL, hash BLOB NOT NULL,
                                 bytes BLOB NOT NULL) STRICT;
             CREATE INDEX entry_by_job ON entry (job) WHERE job IS NOT NULL"
        }
    })
    .expect("a table");
    let sent = batches(ledgers, batch, kept);
    let mut begun = Instant::now();
    for (place, rows) in [before(ledgers)].iter().chain(&sent) {
        if *place == sent[0].0 {
            begun = Instant::now();
        }
        let tx = conn.transaction().expect("a transaction");
        {
            let mut insert = tx
                .prepare_cached(match kept {
                    Kept::Bytes | Kept::Batches => "INSERT INTO entry (place, bytes) VALUES (?1, ?2)",
                    Kept::All => "INSERT INTO entry (place, bytes, job, kind, hash) VALUES (?1, ?2, ?3, ?4, ?5)",
                })
                .expect("a statement");
            for (place, row) in (*place..).zip(rows.iter()) {
                match kept {
                    Kept::Bytes | Kept::Batches => insert.execute((place, &row.bytes)),
                    Kept::All => insert.execute((place, &row.bytes, row.job, &row.kind, row.hash)),
                }
                .expect("a row");
            }
        }
        tx.commit().expect("committed");
    }
    begun.elapsed()
}

/// Batches of all ledgers, each with the place of its first entry, and what of them is kept.
fn batches(ledgers: &[Vec<Row>], batch: usize, kept: Kept) -> Vec<(i64, Cow<'_, [Row]>)> {
    let whole = |rows: &[Row]| {
        let bytes = rows.iter().flat_map(|row| row.bytes.iter().copied()).collect();
        Row { bytes, ..rows[0].clone() }
    };
    let kept = |rows| if kept == Kept::Batches { Cow::Owned(vec![whole(rows)]) } else { Cow::Borrowed(rows) };
    let mut sent = Vec::new();
    for (number, rows) in (1i64..).zip(ledgers) {
        sent.extend((number << 40..).step_by(batch).zip(rows.chunks(batch).map(kept)));
    }
    sent
}

/// What is there before anything is timed: one row, in a place of its own.
fn before(ledgers: &[Vec<Row>]) -> (i64, Cow<'_, [Row]>) {
    (0, Cow::Borrowed(&ledgers[0][..1]))
}

/// The same at a server, each batch copied in as PostgreSQL does it fastest.
pub fn copied(store: &ServerAddress, ledgers: &[Vec<Row>], batch: usize, kept: Kept) -> Duration {
    let mut client = connect(store);
    let (table, copy) = match kept {
        Kept::Bytes => (
            "CREATE TABLE bare (place BIGINT PRIMARY KEY, bytes BYTEA NOT NULL)",
            "COPY bare (place, bytes) FROM STDIN BINARY",
        ),
        Kept::Batches => (
            "CREATE TABLE whole (place BIGINT PRIMARY KEY, bytes BYTEA NOT NULL);
             ALTER TABLE whole ALTER COLUMN bytes SET STORAGE EXTERNAL",
            "COPY whole (place, bytes) FROM STDIN BINARY",
        ),
        Kept::All => (
            "CREATE TABLE same (place BIGINT PRIMARY KEY, job BYTEA, kind TEXT NOT NULL, hash BYTEA NOT NULL,
                                bytes BYTEA NOT NULL);
             CREATE INDEX same_by_job ON same (job, place) WHERE job IS NOT NULL",
            "COPY same (place, bytes, job, kind, hash) FROM STDIN BINARY",
        ),
    };
    client.batch_execute(table).expect("a table");
    let sent = batches(ledgers, batch, kept);
    let mut begun = Instant::now();
    for (place, rows) in [before(ledgers)].iter().chain(&sent) {
        if *place == sent[0].0 {
            begun = Instant::now();
        }
        let mut writer = client.copy_in(copy).expect("a way in");
        writer.write_all(b"PGCOPY\n\xff\r\n\0\0\0\0\0\0\0\0\0").expect("a beginning");
        for (place, row) in (*place..).zip(rows.iter()) {
            let place = place.to_be_bytes();
            let mut values: Vec<Option<&[u8]>> = vec![Some(&place), Some(&row.bytes)];
            if kept == Kept::All {
                values.extend([row.job.as_ref().map(|job| &job[..]), Some(row.kind.as_bytes()), Some(&row.hash)]);
            }
            writer.write_all(&copied_row(&values)).expect("a row");
        }
        writer.write_all(&(-1i16).to_be_bytes()).expect("an end");
        writer.finish().expect("copied");
    }
    begun.elapsed()
}

/// A row as COPY takes it.
fn copied_row(values: &[Option<&[u8]>]) -> Vec<u8> {
    let mut row = (values.len() as i16).to_be_bytes().to_vec();
    for value in values {
        row.extend(value.map_or(-1, |value| value.len() as i32).to_be_bytes());
        row.extend(value.unwrap_or_default());
    }
    row
}

/// Files, one after the other, each on the disk before the next begins.
pub fn files(folder: &Path, photos: &[Vec<u8>]) -> Duration {
    let folder = folder.join("bare");
    fs::create_dir(&folder).expect("a folder");
    let begun = Instant::now();
    for (number, bytes) in photos.iter().enumerate() {
        let mut file = File::create(folder.join(number.to_string())).expect("a file");
        file.write_all(bytes).expect("written");
        file.sync_all().expect("on the disk");
    }
    begun.elapsed()
}
