//! A file of its own in each test.

use super::*;

use crate::storage::row::{change, one};
use tokio::sync::oneshot;

fn count(conn: &Held) -> Result<i64, StorageError> {
    one(conn, ("SELECT count(*) FROM erased", ()), |row| row.get(0), "counting").map(Option::unwrap_or_default)
}

fn note(conn: &Held, job: u8) -> Result<(), StorageError> {
    change(conn, ("INSERT INTO erased (job, at_ms) VALUES (?1, 0)", ([job; 16],)), "noting").map(drop)
}

#[tokio::test]
async fn what_fails_falls_alone() {
    let folder = tempfile::tempdir().unwrap();
    let file = Sqlite::open(&folder.path().join("hub.sqlite")).unwrap();
    let good = file.write(0, |conn| note(conn, 1));
    let bad = file.write(0, |conn| {
        note(conn, 2)?;
        note(conn, 1)
    });
    let after = file.write(0, |conn| note(conn, 3));
    let (good, bad, after) = tokio::join!(good, bad, after);
    assert_eq!((good.is_ok(), bad.is_ok(), after.is_ok()), (true, false, true));
    assert_eq!(file.read(count).await, Ok(2));
    // And so when nothing stands before it.
    let first = file.write(0, |conn| {
        note(conn, 4)?;
        note(conn, 1)
    });
    assert!(first.await.is_err());
    assert_eq!(file.read(count).await, Ok(2));
    assert_eq!(file.write(0, |conn| note(conn, 5)).await, Ok(()));
    assert_eq!(file.read(count).await, Ok(3));
}

#[tokio::test]
async fn entries_follow_each_other_or_the_file_itself_refuses_them() {
    let folder = tempfile::tempdir().unwrap();
    let file = Sqlite::open(&folder.path().join("hub.sqlite")).unwrap();
    let device = file.write(0, |conn| {
        let sql = "INSERT INTO device (number, id, name, key, paired_ms, tail_device, tail_sequence, tail_hash)
                   VALUES (1, zeroblob(16), '', zeroblob(32), 0, zeroblob(16), 0, zeroblob(32))";
        change(conn, (sql, ()), "inserting").map(drop)
    });
    device.await.unwrap();
    let insert = async |number: i64, entries: i64| {
        let sql = "INSERT INTO batch (place, entries, received_ms, jws, bytes) VALUES (?1, ?2, 0, '', zeroblob(1000))";
        let values = ((1i64 << 40) + number, entries);
        file.write(0, move |conn| change(conn, (sql, values), "inserting").map(drop)).await.is_ok()
    };
    let tail = async |number: i64| {
        let sql = "UPDATE device SET tail_sequence = ?1 WHERE number = 1";
        file.write(0, move |conn| change(conn, (sql, (number,)), "moving the tail").map(drop)).await.is_ok()
    };
    assert!(!insert(2, 1).await, "1 is not there");
    assert!(!insert(1, 0).await && !insert(1, 50).await, "no entry, and more than there are bytes");
    assert!(insert(1, 2).await);
    assert!(!insert(1, 2).await && !insert(2, 1).await, "they are taken");
    assert!(!insert(4, 1).await, "3 is not there");
    assert!(!tail(1).await && !tail(3).await, "the batch ends with 2");
    assert!(tail(2).await);
    assert!(!tail(1).await, "it only moves forward");
    assert!(insert(3, 3).await && !tail(3).await && tail(5).await);
}

#[tokio::test]
async fn where_a_part_cannot_be_ended_nobody_of_its_group_is_told_that_it_is_stored() {
    let folder = tempfile::tempdir().unwrap();
    let file = Sqlite::open(&folder.path().join("hub.sqlite")).unwrap();
    let good = file.write(0, |conn| note(conn, 1));
    let broken = file.write(0, |conn| {
        note(conn, 2)?;
        conn.batch("RELEASE one", "ending what is not its own")
    });
    let (good, broken) = tokio::join!(good, broken);
    let stored = file.read(count).await.unwrap();
    assert_eq!(stored, i64::from(good.is_ok()) + i64::from(broken.is_ok()), "{good:?} {broken:?}");
    assert!(broken.is_err());
    assert_eq!(file.write(0, |conn| note(conn, 3)).await, Ok(()));
    assert_eq!(file.read(count).await, Ok(stored + 1));
}

#[tokio::test]
async fn whatever_waits_goes_into_one_transaction() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("hub.sqlite");
    let file = Sqlite::open(&path).unwrap();
    let (free, held) = std::sync::mpsc::channel::<()>();
    let (begin, begun) = oneshot::channel();
    // The first holds the writer until the others stand before it.
    let first = tokio::spawn({
        let file = file.clone();
        let hold = move |conn: &Held| {
            begin.send(()).map_err(|()| StorageError::Closed)?;
            held.recv().map_err(|_| StorageError::Closed)?;
            note(conn, 0)
        };
        async move { file.write(0, hold).await }
    });
    begun.await.unwrap();
    let others: Vec<_> = (1..=20u8)
        .map(|job| {
            let file = file.clone();
            tokio::spawn(async move { file.write(0, move |conn| note(conn, job)).await })
        })
        .collect();
    while file.writer.capacity() > WAITING - 20 {
        tokio::task::yield_now().await;
    }
    let look = Held::Sqlite(Connection::open(&path).unwrap());
    assert_eq!(count(&look), Ok(0));
    free.send(()).unwrap();
    first.await.unwrap().unwrap();
    // The first was told after the commit, so all that waited with it are there.
    assert_eq!(count(&look), Ok(21));
    for other in others {
        other.await.unwrap().unwrap();
    }
}

#[tokio::test]
async fn the_second_full_batch_is_the_last_of_its_transaction() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("hub.sqlite");
    let file = Sqlite::open(&path).unwrap();
    // What of two writes is on the disk by the time the second is done, where the first says that it has so many entries.
    let stored = |entries: usize| {
        let (file, path) = (file.clone(), path.clone());
        async move {
            let (free, held) = std::sync::mpsc::channel::<()>();
            let (begin, begun) = oneshot::channel();
            let hold = move |_: &Held| {
                begin.send(()).map_err(|()| StorageError::Closed)?;
                held.recv().map_err(|_| StorageError::Closed)
            };
            let first = tokio::spawn({
                let file = file.clone();
                async move { file.write(0, hold).await }
            });
            begun.await.unwrap();
            let batch = file.write(entries, move |conn| note(conn, (entries % 251) as u8));
            let look = file.write(1, move |_: &Held| count(&Held::Sqlite(Connection::open(&path).unwrap())));
            let told = async { free.send(()).unwrap() };
            let (batch, look, ()) = tokio::join!(batch, look, told);
            first.await.unwrap().unwrap();
            batch.unwrap();
            look.unwrap()
        }
    };
    assert_eq!(stored(999).await, 0, "both go into one transaction");
    assert_eq!(stored(1_000).await, 2);
}

#[test]
fn another_programs_file_and_a_newer_one_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other.sqlite");
    Connection::open(&path).unwrap().execute_batch("CREATE TABLE theirs (a)").unwrap();
    let before = std::fs::read(&path).unwrap();
    assert_eq!(Sqlite::open(&path).err(), Some(StorageError::NotOurs));
    assert_eq!(std::fs::read(&path).unwrap(), before);
    let path = folder.path().join("hub.sqlite");
    drop(Sqlite::open(&path).unwrap());
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 99).unwrap();
    assert_eq!(Sqlite::open(&path).err(), Some(StorageError::Newer { found: 99, known: STEPS.len() as i64 }));
    // A file of its own: what the database before it left beside it may not be put away yet.
    let path = folder.path().join("text.sqlite");
    std::fs::write(&path, "no database at all, but long enough to be looked at as one".repeat(4)).unwrap();
    assert_eq!(Sqlite::open(&path).err(), Some(StorageError::NotOurs));
}

#[test]
fn an_older_file_keeps_its_pages_and_as_long_a_log() {
    let folder = tempfile::tempdir().unwrap();
    let settings = |path: &Path| {
        let conn = connect(path, true).unwrap();
        let number = |name: &str| conn.pragma_query_value(None, name, |row| row.get::<_, i64>(0)).unwrap();
        (number("page_size"), number("wal_autocheckpoint"))
    };
    let fresh = folder.path().join("hub.sqlite");
    drop(Sqlite::open(&fresh).unwrap());
    assert_eq!(settings(&fresh), (16_384, 2_048));
    let older = folder.path().join("older.sqlite");
    let conn = Connection::open(&older).unwrap();
    conn.execute_batch("PRAGMA page_size = 4096; PRAGMA journal_mode = WAL").unwrap();
    conn.execute_batch(STEPS[0]).unwrap();
    conn.execute_batch("PRAGMA user_version = 1; PRAGMA application_id = 0x45764862").unwrap();
    drop(conn);
    drop(Sqlite::open(&older).unwrap());
    assert_eq!(settings(&older), (4_096, 8_192));
}

#[tokio::test]
async fn readers_do_not_write() {
    let folder = tempfile::tempdir().unwrap();
    let file = Sqlite::open(&folder.path().join("hub.sqlite")).unwrap();
    assert!(file.read(|conn| note(conn, 1)).await.is_err());
    assert_eq!(file.read(count).await, Ok(0));
}
