//! Writing in groups: what waits goes into one transaction, up to two full batches of entries (at a server four), and nobody is
//! told that something is stored before that transaction is on the disk. Each of them stands or falls by itself.

use super::connection::Connection;
use super::devices::DeviceNumber;
use super::error::StorageError;
use evenwire_core::sync::MOST_ENTRIES;
use tokio::sync::{mpsc, oneshot};

/// How much may wait to be written; beyond that whoever asks waits.
pub(super) const WAITING: usize = 1_024;
/// Most that go into one transaction, so that the first of them is told soon.
const GROUP: usize = 128;

/// Tells whoever asked how it came out, once the transaction is on the disk or is not.
type Tell = Box<dyn FnOnce(Result<(), StorageError>) + Send>;
/// Does what is asked; without a transaction only told what stood in the way. Beside how it is told: what it did stands,
/// and others may come after it in the same transaction.
type Work = Box<dyn FnOnce(Result<(&Connection, Place), StorageError>) -> (Tell, bool) + Send>;

/// What nobody else may write for while a task is done, where several write at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Claim {
    /// Anything of the shop.
    Shop,
    /// That device. Of others it writes nothing, and of what is nobody's it reads only what only who has the shop writes.
    Device(DeviceNumber),
}

/// Something to be written.
pub(super) struct Task {
    /// How many entries it writes.
    pub(super) entries: usize,
    pub(super) claim: Claim,
    pub(super) work: Work,
}

/// Which task is asked for of those that wait.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Which {
    /// One that may be done behind those that were.
    Fitting,
    /// Any: none of them can be done.
    Any,
}

/// Where something stands in a transaction.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    /// Nothing stands before it: when it fails, the whole transaction is undone.
    First,
    /// Something does, and has to stay.
    Behind,
}

/// `work`, which writes so many entries under a claim, as a task, and where is told how it came out.
pub(super) fn task<T: Send + 'static>(
    (entries, claim): (usize, Claim),
    work: impl FnOnce(&Connection) -> Result<T, StorageError> + Send + 'static,
) -> (Task, oneshot::Receiver<Result<T, StorageError>>) {
    let (tell, told) = oneshot::channel();
    let work: Work = Box::new(move |conn| {
        let mut stands = true;
        let done = conn.and_then(|(conn, place)| match place {
            // To undo a part, the database has to keep what each page of it was before; the first one is no part yet.
            Place::First => {
                let done = work(conn);
                stands = done.is_ok();
                done
            }
            Place::Behind => by_itself(conn, work).unwrap_or_else(|broken| {
                stands = false;
                Err(broken)
            }),
        });
        // Nobody listens where a connection was cut: what was asked is done all the same.
        (Box::new(move |committed| drop(tell.send(committed.and(done)))), stands)
    });
    (Task { entries, claim, work }, told)
}

/// Does `work` at the only writer and answers once it is on the disk. When it fails, nothing of it was done.
pub(super) async fn write<T: Send + 'static>(
    writer: &mpsc::Sender<Task>,
    entries: usize,
    work: impl FnOnce(&Connection) -> Result<T, StorageError> + Send + 'static,
) -> Result<T, StorageError> {
    let (task, told) = task((entries, Claim::Shop), work);
    writer.send(task).await.map_err(|_| StorageError::Closed)?;
    told.await.map_err(|_| StorageError::Closed)?
}

/// `work` alone: what it did is undone if it fails, and the others of its group stay. The outer error: it could neither be
/// begun nor ended as a part, so that nothing can be said of the transaction any more.
fn by_itself<T>(
    conn: &Connection,
    work: impl FnOnce(&Connection) -> Result<T, StorageError>,
) -> Result<Result<T, StorageError>, StorageError> {
    conn.batch("SAVEPOINT one", "beginning to write")?;
    let done = work(conn);
    let end = match (&done, conn) {
        // A server ends it with the transaction, and to ask for it costs a way there and back.
        (Ok(_), Connection::Postgres(_)) => return Ok(done),
        (Ok(_), Connection::Sqlite(_)) => "RELEASE one",
        (Err(_), _) => "ROLLBACK TO one; RELEASE one",
    };
    conn.batch(end, "ending a part of a transaction")?;
    Ok(done)
}

/// Writes whatever comes until nobody can ask any more; `begin` begins a transaction.
pub(super) fn write_all(
    mut conn: Connection,
    mut waiting: mpsc::Receiver<Task>,
    begin: impl Fn(&mut Connection) -> Result<(), StorageError>,
) {
    while let Some(first) = waiting.blocking_recv() {
        write_group(&mut conn, &begin, first, |_| waiting.try_recv().ok());
    }
}

/// Entries after which nothing more goes into a transaction. Were all batches that wait written at once, all devices would
/// be told at once and send at once: the writer would rest while that is read, and the other cores while it is written.
/// At a server each commit is a round trip and a flush, and four batches share one.
fn enough(conn: &Connection) -> usize {
    match conn {
        Connection::Sqlite(_) => 2 * MOST_ENTRIES,
        Connection::Postgres(_) => 4 * MOST_ENTRIES,
    }
}

/// Writes `first` and what waits behind it in one transaction.
pub(super) fn write_group(
    conn: &mut Connection,
    begin: impl Fn(&mut Connection) -> Result<(), StorageError>,
    first: Task,
    mut next: impl FnMut(Which) -> Option<Task>,
) {
    let mut tells: Vec<Tell> = Vec::new();
    let ended = match begin(conn) {
        Ok(()) => {
            let mut entries = first.entries;
            let (tell, stands) = (first.work)(Ok((conn, Place::First)));
            tells.push(tell);
            let mut whole = stands;
            while whole && tells.len() < GROUP && entries < enough(conn) && conn.in_transaction() {
                let Some(task) = next(Which::Fitting) else { break };
                entries += task.entries;
                let (tell, stands) = (task.work)(Ok((conn, Place::Behind)));
                tells.push(tell);
                whole = stands;
            }
            match (stands, whole) {
                (_, true) => end(conn),
                (true, false) => undo(conn).and(Err(broken())),
                (false, false) => undo(conn),
            }
        }
        Err(error) => {
            // Whoever waits now would wait as long again, one after the other.
            tells.push((first.work)(Err(error.clone())).0);
            while let Some(task) = next(Which::Any) {
                tells.push((task.work)(Err(error.clone())).0);
            }
            Err(error)
        }
    };
    if let Err(error) = &ended {
        tracing::error!(%error, waiting = tells.len(), "nothing of a group was stored");
    }
    tells.into_iter().for_each(|tell| tell(ended.clone()));
}

/// What those are told whose group was undone because of another one in it.
fn broken() -> StorageError {
    StorageError::Failed { during: "writing in a group", why: "a part of it could not be ended".into() }
}

fn end(conn: &Connection) -> Result<(), StorageError> {
    let ended = conn.commit();
    if ended.is_err() {
        undo(conn)?;
    }
    ended
}

fn undo(conn: &Connection) -> Result<(), StorageError> {
    if conn.in_transaction() { conn.batch("ROLLBACK", "ending a transaction") } else { Ok(()) }
}
