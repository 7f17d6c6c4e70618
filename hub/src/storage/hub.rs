//! The hub itself: which it is, and how its first owner comes in.

use super::connection::{Connection, Row};
use super::row::{change, id, one};
use super::{Storage, StorageError};
use evenwire_core::record::Hash;
use uuid::Uuid;

/// Which hub this is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HubRow {
    /// Its id: random, given once.
    pub id: Uuid,
    /// The shop's name; empty until somebody says it.
    pub name: String,
    /// Nobody came in by the set-up link yet.
    pub waits_for_setup: bool,
}

/// What a new hub begins with.
#[derive(Clone, Copy, Debug)]
pub struct Setup {
    /// The id it gets if it has none.
    pub id: Uuid,
    /// Hash of the token in the set-up link.
    pub token: Hash,
    /// Now.
    pub at_ms: i64,
}

/// The hub among these rows, made if there is none.
pub(super) fn begin_here(conn: &Connection, setup: Setup) -> Result<HubRow, StorageError> {
    let made = "INSERT INTO hub (only_row, id, name, begun_ms, setup) VALUES (1, ?1, '', ?2, ?3)
                ON CONFLICT (only_row) DO UPDATE SET setup = excluded.setup WHERE hub.setup IS NOT NULL";
    change(conn, (made, (setup.id.into_bytes(), setup.at_ms, setup.token.0)), "beginning a hub")?;
    let sql = "SELECT id, name, setup IS NOT NULL FROM hub";
    let read = |row: &Row<'_>| Ok(HubRow { id: id(row, 0)?, name: row.get(1)?, waits_for_setup: row.get(2)? });
    one(conn, (sql, ()), read, "reading which hub this is")?.ok_or(StorageError::damaged("it is no hub"))
}

impl Storage {
    /// The hub; a new one of `setup` where there is none. As long as nobody came in by a set-up link, each start makes
    /// another one, and those before end: a link that was lost opens nothing.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn begin(&self, setup: Setup) -> Result<HubRow, StorageError> {
        self.write(move |conn| begin_here(conn, setup)).await
    }

    /// Which hub this is.
    ///
    /// # Errors
    /// [`StorageError`], also when none was begun here.
    pub async fn known(&self) -> Result<Uuid, StorageError> {
        let found =
            self.read(|conn| one(conn, ("SELECT id FROM hub", ()), |row| id(row, 0), "reading which hub it is"));
        found.await?.ok_or(StorageError::damaged("no hub was begun here"))
    }

    /// The shop's name, to be told to whoever asks.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn shop_name(&self) -> Result<String, StorageError> {
        self.read(|conn| {
            let name = one(conn, ("SELECT name FROM hub", ()), |row| row.get(0), "reading the shop's name")?;
            Ok(name.unwrap_or_default())
        })
        .await
    }

    /// Calls the shop `name`.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn call_shop(&self, name: String) -> Result<(), StorageError> {
        self.write(move |conn| change(conn, ("UPDATE hub SET name = ?1", (name,)), "naming the shop").map(drop)).await
    }

    /// The writer is there and can begin and end a transaction. Writes nothing, so that asking costs nothing.
    ///
    /// # Errors
    /// [`StorageError`] when it cannot.
    pub async fn try_out(&self) -> Result<(), StorageError> {
        self.write(|_| Ok(())).await
    }
}
