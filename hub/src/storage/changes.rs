//! What the office has for devices.

use super::connection::{Connection, Row};
use super::devices::DeviceNumber;
use super::row::{all, change};
use super::{Storage, StorageError};
use evenwire_core::sync::{Change, Changes, Numbered};
use uuid::Uuid;

/// Changes told at once at most.
const MOST: usize = 100;

/// Adds a change for one device, or for all.
pub(super) fn add(
    conn: &Connection,
    device: Option<DeviceNumber>,
    what: &Change,
    at_ms: i64,
) -> Result<(), StorageError> {
    let body = serde_json::to_string(what).expect("a change has only text keys");
    let sql = "INSERT INTO change (device, made_ms, body) VALUES (?1, ?2, ?3)";
    change(conn, (sql, (device.map(|device| device.0), at_ms, body)), "adding a change").map(drop)
}

impl Storage {
    /// What is for that device after change `after`, oldest first.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn changes(&self, device: DeviceNumber, after: u64) -> Result<Changes, StorageError> {
        self.read(move |conn| {
            let sql = "SELECT number, body FROM change WHERE number > ?2 AND (device IS NULL OR device = ?1)
                       ORDER BY number LIMIT ?3";
            let values = (device.0, i64::try_from(after).unwrap_or(i64::MAX), MOST as i64 + 1);
            let read = |row: &Row<'_>| Ok((row.get::<i64>(0)? as u64, row.get::<String>(1)?));
            let mut rows = all(conn, (sql, values), read, "reading what is new")?;
            let more = rows.len() > MOST;
            rows.truncate(MOST);
            // What cannot be read any more is passed over by the device.
            let change = |body: String| serde_json::from_str(&body).unwrap_or(Change::Unknown);
            let changes = rows.into_iter().map(|(number, body)| Numbered { number, change: change(body) }).collect();
            Ok(Changes { changes, more })
        })
        .await
    }

    /// Numbers that were given may have been given after this copy was made: new ones begin beyond them all. They count on
    /// from milliseconds since 1970, of which there are more than there ever were changes.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn leap(&self, at_ms: i64) -> Result<(), StorageError> {
        self.write(move |conn| {
            let during = "numbering changes anew";
            change(conn, ("DELETE FROM sqlite_sequence WHERE name = 'change'", ()), during)?;
            let sql = "INSERT INTO sqlite_sequence (name, seq) VALUES ('change', ?1)";
            change(conn, (sql, (at_ms,)), during).map(drop)
        })
        .await
    }

    /// Tells one device (by its id) or all of them something. `false`: there is no such device.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn tell(&self, device: Option<Uuid>, what: Change, at_ms: i64) -> Result<bool, StorageError> {
        self.write(move |conn| {
            let number = match device {
                None => None,
                Some(id) => match super::devices::by_id(conn, id)? {
                    Some(row) => Some(row.number),
                    None => return Ok(false),
                },
            };
            add(conn, number, &what, at_ms).map(|()| true)
        })
        .await
    }
}
