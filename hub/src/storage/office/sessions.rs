//! Who sits at the page: sessions, and the links by which somebody sits down for the first time.

use super::people::{Person, add, by_id, role_of};
use crate::office::model::Role;
use crate::storage::connection::Row;
use crate::storage::row::{change, id, one};
use crate::storage::{Storage, StorageError};
use evenwire_core::record::Hash;
use uuid::Uuid;

/// A session as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SessionRow {
    /// Whose.
    pub person: Person,
    /// What goes with everything that changes something.
    pub csrf: String,
}

/// Somebody who comes in by a link.
#[derive(Clone, Debug)]
pub struct SetUp {
    /// Hash of the token of the link.
    pub token: Hash,
    /// The id the first owner gets.
    pub id: Uuid,
    /// What the first owner is called.
    pub name: String,
    /// What the first owner calls the shop.
    pub shop: String,
    /// Hash of the password.
    pub password: String,
    /// Now.
    pub at_ms: i64,
}

impl Storage {
    /// Somebody came in: by the link of the first start as its owner, or by one that was made for them. `None`: the
    /// link opens nothing. Sessions they had before end.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn set_up(&self, set_up: SetUp) -> Result<Option<Person>, StorageError> {
        self.write(move |conn| {
            let during = "coming in by a link";
            let sql = "UPDATE hub SET setup = NULL, name = ?2 WHERE setup = ?1";
            if change(conn, (sql, (set_up.token.0, set_up.shop.trim())), during)? > 0 {
                let first = Person { id: set_up.id, name: set_up.name.trim().to_owned(), role: Role::Owner };
                let added = add(conn, &first, &set_up.password, set_up.at_ms)?;
                return if added {
                    Ok(Some(first))
                } else {
                    Err(StorageError::damaged("the first owner is not first"))
                };
            }
            let sql = "DELETE FROM link WHERE token = ?1 AND ends_ms > ?2 RETURNING person";
            let opened = one(conn, (sql, (set_up.token.0, set_up.at_ms)), |row| id(row, 0), during)?;
            let Some(row) = opened.map(|of| by_id(conn, of)).transpose()?.flatten() else { return Ok(None) };
            let of = row.person.id.into_bytes();
            change(conn, ("UPDATE person SET password = ?2 WHERE id = ?1", (of, &set_up.password)), during)?;
            change(conn, ("DELETE FROM session WHERE person = ?1", (of,)), during)?;
            Ok(Some(row.person))
        })
        .await
    }

    /// Somebody has another password from now on; both are told by their hashes. All their sessions end but the one that
    /// `stays`, and so does a link that was made for them. `false`: `old` is not theirs any more, and nothing changed.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn change_password(
        &self,
        of: Uuid,
        (old, new): (String, String),
        stays: Hash,
    ) -> Result<bool, StorageError> {
        self.write(move |conn| {
            let (during, of) = ("changing a password", of.into_bytes());
            let sql = "UPDATE person SET password = ?3 WHERE id = ?1 AND password = ?2 AND ended_ms IS NULL";
            if change(conn, (sql, (of, old, new)), during)? == 0 {
                return Ok(false);
            }
            change(conn, ("DELETE FROM session WHERE person = ?1 AND token <> ?2", (of, stays.0)), during)?;
            change(conn, ("DELETE FROM link WHERE person = ?1", (of,)), during)?;
            Ok(true)
        })
        .await
    }

    /// Whether the link of the first start waits for somebody.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn waits_for_owner(&self) -> Result<bool, StorageError> {
        let sql = "SELECT setup IS NOT NULL FROM hub";
        self.read(move |conn| Ok(one(conn, (sql, ()), |row| row.get(0), "reading the hub")?.unwrap_or(true))).await
    }

    /// Begins a session. Those that are over are forgotten.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn begin_session(
        &self,
        of: Uuid,
        (token, csrf): (Hash, String),
        (at_ms, ends_ms): (i64, i64),
    ) -> Result<(), StorageError> {
        self.write(move |conn| {
            let during = "beginning a session";
            change(conn, ("DELETE FROM session WHERE ends_ms <= ?1", (at_ms,)), during)?;
            let sql = "INSERT INTO session (token, person, csrf, made_ms, seen_ms, ends_ms)
                       VALUES (?1, ?2, ?3, ?4, ?4, ?5)";
            change(conn, (sql, (token.0, of.into_bytes(), csrf, at_ms, ends_ms)), during).map(drop)
        })
        .await
    }

    /// Whose session it is, if it is one and not over.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn session(&self, token: Hash, at_ms: i64) -> Result<Option<SessionRow>, StorageError> {
        self.read(move |conn| {
            let sql = "SELECT person.id, name, role, csrf FROM session JOIN person ON person.id = session.person
                       WHERE token = ?1 AND ends_ms > ?2 AND ended_ms IS NULL";
            let read = |row: &Row<'_>| {
                let role = role_of(&row.get::<String>(2)?);
                Ok(SessionRow { person: Person { id: id(row, 0)?, name: row.get(1)?, role }, csrf: row.get(3)? })
            };
            one(conn, (sql, (token.0, at_ms)), read, "reading a session")
        })
        .await
    }

    /// Ends a session.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn end_session(&self, token: Hash) -> Result<(), StorageError> {
        let sql = "DELETE FROM session WHERE token = ?1";
        self.write(move |conn| change(conn, (sql, (token.0,)), "ending a session").map(drop)).await
    }
}
