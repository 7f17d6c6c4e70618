//! The barest thing that could keep what devices bring: what a hub's ingest is held against.

use super::server::connect;
use evenwire_hub::storage::ServerAddress;
use std::fs::{self, File};
use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};

/// Rows of each ledger, a batch after the other, in a file of its own: one transaction each, on the disk before the next
/// begins.
pub fn rows(folder: &Path, ledgers: &[Vec<Vec<u8>>], batch: usize) -> Duration {
    let mut conn = rusqlite::Connection::open(folder.join("bare.db")).expect("a file");
    let mode: String = conn.query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0)).expect("an answer");
    assert_eq!(mode, "wal");
    conn.execute_batch(
        "PRAGMA synchronous = FULL; PRAGMA wal_autocheckpoint = 8000;
         CREATE TABLE entry (place INTEGER PRIMARY KEY, bytes BLOB NOT NULL) STRICT",
    )
    .expect("a table");
    let begun = Instant::now();
    for (ledger, rows) in (1i64..).zip(ledgers) {
        for (first, rows) in (0i64..).step_by(batch).zip(rows.chunks(batch)) {
            let tx = conn.transaction().expect("a transaction");
            {
                let sql = "INSERT INTO entry (place, bytes) VALUES (?1, ?2)";
                let mut insert = tx.prepare_cached(sql).expect("a statement");
                for (number, bytes) in (first..).zip(rows) {
                    insert.execute((ledger << 40 | number, bytes)).expect("a row");
                }
            }
            tx.commit().expect("committed");
        }
    }
    begun.elapsed()
}

/// The same at a server, each batch copied in as PostgreSQL does it fastest.
pub fn copied(store: &ServerAddress, ledgers: &[Vec<Vec<u8>>], batch: usize) -> Duration {
    let mut client = connect(store);
    client.batch_execute("CREATE TABLE bare (place BIGINT PRIMARY KEY, bytes BYTEA NOT NULL)").expect("a table");
    let begun = Instant::now();
    for (ledger, rows) in (1i64..).zip(ledgers) {
        for (first, rows) in (0i64..).step_by(batch).zip(rows.chunks(batch)) {
            let mut writer = client.copy_in("COPY bare (place, bytes) FROM STDIN BINARY").expect("a way in");
            writer.write_all(b"PGCOPY\n\xff\r\n\0\0\0\0\0\0\0\0\0").expect("a beginning");
            for (number, bytes) in (first..).zip(rows) {
                let length = (bytes.len() as i32).to_be_bytes();
                let place = (ledger << 40 | number).to_be_bytes();
                let row = [&2i16.to_be_bytes()[..], &8i32.to_be_bytes(), &place, &length, bytes].concat();
                writer.write_all(&row).expect("a row");
            }
            writer.write_all(&(-1i16).to_be_bytes()).expect("an end");
            writer.finish().expect("copied");
        }
    }
    begun.elapsed()
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
