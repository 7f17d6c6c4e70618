//! People of the office.

use crate::office::model::Role;
use crate::storage::cell::Read;
use crate::storage::connection::{Connection, Row};
use crate::storage::row::{all, change, id, one};
use crate::storage::{Storage, StorageError};
use evenwire_core::record::{Hash, folded};
use uuid::Uuid;

/// Somebody who belongs to the office.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Person {
    /// Id.
    pub id: Uuid,
    /// Name.
    pub name: String,
    /// What they may do.
    pub role: Role,
}

/// Somebody with what a password is compared with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PersonRow {
    /// Who.
    pub person: Person,
    /// Hash of the password; empty as long as none was chosen.
    pub password: String,
}

/// Why people are not changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PersonRefused {
    /// Somebody is called so.
    Taken,
    /// Nobody of that id belongs to the office.
    Nobody,
    /// It is the last owner who has a password.
    LastOwner,
}

const PEOPLE: &str = "SELECT id, name, role, password FROM person WHERE ended_ms IS NULL";

pub(super) fn role_word(role: Role) -> &'static str {
    match role {
        Role::Technician => "technician",
        Role::Office => "office",
        Role::Owner => "owner",
    }
}

pub(super) fn role_of(word: &str) -> Role {
    match word {
        "owner" => Role::Owner,
        "office" => Role::Office,
        // What is not known may the least.
        _ => Role::Technician,
    }
}

fn person(row: &Row<'_>) -> Read<PersonRow> {
    let role = role_of(&row.get::<String>(2)?);
    Ok(PersonRow { person: Person { id: id(row, 0)?, name: row.get(1)?, role }, password: row.get(3)? })
}

pub(super) fn by_id(conn: &Connection, of: Uuid) -> Result<Option<PersonRow>, StorageError> {
    one(conn, (&format!("{PEOPLE} AND id = ?1"), (of.into_bytes(),)), person, "reading who it is")
}

/// Whether somebody is left who can add people, were it not for `of`.
fn other_owner(conn: &Connection, of: Uuid) -> Result<bool, StorageError> {
    let sql = "SELECT count(*) FROM person WHERE role = 'owner' AND ended_ms IS NULL AND password <> '' AND id <> ?1";
    let others = one(conn, (sql, (of.into_bytes(),)), |row| row.get::<i64>(0), "counting owners")?;
    Ok(others.unwrap_or_default() > 0)
}

/// Writes somebody new; `false` where somebody is called so.
pub(super) fn add(conn: &Connection, of: &Person, password: &str, at_ms: i64) -> Result<bool, StorageError> {
    let sql = "INSERT INTO person (id, name, folded, role, password, made_ms) VALUES (?1, ?2, ?3, ?4, ?5, ?6)
               ON CONFLICT (folded) DO NOTHING";
    let row = (of.id.into_bytes(), of.name.trim(), folded(&of.name), role_word(of.role), password, at_ms);
    Ok(change(conn, (sql, row), "adding somebody")? > 0)
}

/// Puts a link in place of whatever link there was for somebody.
fn put_link(conn: &Connection, of: Uuid, (token, ends_ms): (Hash, i64)) -> Result<(), StorageError> {
    let sql = "INSERT INTO link (person, token, ends_ms) VALUES (?1, ?2, ?3)
               ON CONFLICT (person) DO UPDATE SET token = excluded.token, ends_ms = excluded.ends_ms";
    change(conn, (sql, (of.into_bytes(), token.0, ends_ms)), "making a link").map(drop)
}

impl Storage {
    /// Everybody who belongs to the office, by name.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn people(&self) -> Result<Vec<PersonRow>, StorageError> {
        self.read(|conn| all(conn, (&format!("{PEOPLE} ORDER BY folded"), ()), person, "reading the people")).await
    }

    /// Whoever is called `name`.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn person_named(&self, name: String) -> Result<Option<PersonRow>, StorageError> {
        let sql = format!("{PEOPLE} AND folded = ?1");
        self.read(move |conn| one(conn, (&sql, (folded(&name),)), person, "looking for somebody")).await
    }

    /// Adds somebody without a password, who chooses one by the link of that token.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn add_person(
        &self,
        of: Person,
        link: (Hash, i64),
        at_ms: i64,
    ) -> Result<Result<(), PersonRefused>, StorageError> {
        self.write(move |conn| {
            if !add(conn, &of, "", at_ms)? {
                return Ok(Err(PersonRefused::Taken));
            }
            put_link(conn, of.id, link).map(Ok)
        })
        .await
    }

    /// Gives somebody a new link. The password they have holds until another one was chosen by it.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn link_person(
        &self,
        of: Uuid,
        link: (Hash, i64),
    ) -> Result<Result<Person, PersonRefused>, StorageError> {
        self.write(move |conn| {
            let Some(row) = by_id(conn, of)? else { return Ok(Err(PersonRefused::Nobody)) };
            put_link(conn, of, link)?;
            Ok(Ok(row.person))
        })
        .await
    }

    /// Somebody may do something else from now on.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn turn_person(&self, of: Uuid, role: Role) -> Result<Result<Person, PersonRefused>, StorageError> {
        self.write(move |conn| {
            let Some(row) = by_id(conn, of)? else { return Ok(Err(PersonRefused::Nobody)) };
            if row.person.role == Role::Owner && role != Role::Owner && !other_owner(conn, of)? {
                return Ok(Err(PersonRefused::LastOwner));
            }
            let sql = "UPDATE person SET role = ?2 WHERE id = ?1";
            change(conn, (sql, (of.into_bytes(), role_word(role))), "changing a role")?;
            Ok(Ok(row.person))
        })
        .await
    }

    /// Somebody does not belong to the office any more: no session and no link of theirs opens anything, and the name
    /// may be another's. What they did stays theirs.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn end_person(&self, of: Uuid, at_ms: i64) -> Result<Result<Person, PersonRefused>, StorageError> {
        self.write(move |conn| {
            let Some(row) = by_id(conn, of)? else { return Ok(Err(PersonRefused::Nobody)) };
            if row.person.role == Role::Owner && !other_owner(conn, of)? {
                return Ok(Err(PersonRefused::LastOwner));
            }
            let during = "taking somebody off";
            change(conn, ("DELETE FROM session WHERE person = ?1", (of.into_bytes(),)), during)?;
            change(conn, ("DELETE FROM link WHERE person = ?1", (of.into_bytes(),)), during)?;
            let sql = "UPDATE person SET ended_ms = ?2, password = '', folded = ?3 WHERE id = ?1";
            change(conn, (sql, (of.into_bytes(), at_ms, format!("{:X}", of.simple()))), during)?;
            Ok(Ok(row.person))
        })
        .await
    }
}
