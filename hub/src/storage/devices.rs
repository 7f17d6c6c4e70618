//! Devices of the shop: who they are, how far their ledgers are here, and who may not come any more.

use super::cell::Read;
use super::connection::{Connection, Row};
use super::row::{all, change, hash, id, one};
use super::{Storage, StorageError};
use evenwire_core::record::{Hash, Head, PublicKey};
use uuid::Uuid;

/// A device within this hub.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct DeviceNumber(pub(crate) i64);

/// A device, and how far its ledger is here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeviceRow {
    /// Its number within this hub.
    pub number: DeviceNumber,
    /// The id it was taken in under.
    pub id: Uuid,
    /// What it is called in the shop.
    pub name: String,
    /// Its key.
    pub key: PublicKey,
    /// When it was taken in.
    pub paired_ms: i64,
    /// When it was heard last.
    pub seen_ms: Option<i64>,
    /// Since when it may not come any more.
    pub revoked_ms: Option<i64>,
    /// Where its ledger ends here. Its device is the one that wrote the last entry.
    pub tail: Head,
    /// How many things its entries name and want that are not here.
    pub missing: u64,
    /// How many entries came that part from those that are here.
    pub forks: u64,
}

/// Whoever shows a token.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bearer {
    /// The device's number within this hub.
    pub number: DeviceNumber,
    /// Its id.
    pub id: Uuid,
    /// Its key.
    pub key: PublicKey,
    /// It may not come any more.
    pub revoked: bool,
}

/// How devices are read; a condition may follow.
const DEVICES: &str = "SELECT number, id, name, key, paired_ms, seen_ms, revoked_ms, tail_device, tail_sequence, \
    tail_hash, (SELECT count(DISTINCT hash) FROM beside WHERE device = number AND wanted = 1 AND present = 0), \
    (SELECT count(*) FROM fork WHERE fork.device = device.number) FROM device";

fn device(row: &Row<'_>) -> Read<DeviceRow> {
    Ok(DeviceRow {
        number: DeviceNumber(row.get(0)?),
        id: id(row, 1)?,
        name: row.get(2)?,
        key: PublicKey(row.get(3)?),
        paired_ms: row.get(4)?,
        seen_ms: row.get(5)?,
        revoked_ms: row.get(6)?,
        tail: Head { device: id(row, 7)?, sequence: row.get::<i64>(8)? as u64, hash: hash(row, 9)? },
        missing: row.get::<i64>(10)? as u64,
        forks: row.get::<i64>(11)? as u64,
    })
}

/// The device of that number.
pub(super) fn by_number(conn: &Connection, number: DeviceNumber) -> Result<DeviceRow, StorageError> {
    let sql = format!("{DEVICES} WHERE number = ?1");
    let found = one(conn, (&sql, (number.0,)), device, "reading a device")?;
    found.ok_or_else(|| StorageError::damaged(format!("device {} is gone", number.0)))
}

/// Where a device's ledger ends here, and does for as long as the transaction lasts, whoever else writes; none if it may
/// not come any more.
pub(super) fn tail_to_go_on(conn: &Connection, number: DeviceNumber) -> Result<Option<Head>, StorageError> {
    let hold = match conn {
        Connection::Sqlite(_) => "",
        Connection::Postgres(_) => "FOR NO KEY UPDATE",
    };
    Ok(standing(conn, number, hold)?.and_then(|(tail, revoked)| (!revoked).then_some(tail)))
}

fn standing(conn: &Connection, number: DeviceNumber, hold: &str) -> Result<Option<(Head, bool)>, StorageError> {
    let sql = format!(
        "SELECT tail_device, tail_sequence, tail_hash, revoked_ms IS NOT NULL FROM device WHERE number = ?1 {hold}"
    );
    let read = |row: &Row<'_>| {
        let tail = Head { device: id(row, 0)?, sequence: row.get::<i64>(1)? as u64, hash: hash(row, 2)? };
        Ok((tail, row.get(3)?))
    };
    one(conn, (&sql, (number.0,)), read, "reading where a ledger ends")
}

/// Its ledger ends there now, and it was heard.
pub(super) fn reach(conn: &Connection, number: DeviceNumber, tail: &Head, at_ms: i64) -> Result<(), StorageError> {
    let sql = "UPDATE device SET tail_device = ?2, tail_sequence = ?3, tail_hash = ?4,
                   seen_ms = CASE WHEN seen_ms > ?5 THEN seen_ms ELSE ?5 END WHERE number = ?1";
    let values = (number.0, tail.device.into_bytes(), tail.sequence as i64, tail.hash.0, at_ms);
    change(conn, (sql, values), "noting where a ledger ends").map(drop)
}

/// The device of that id, if it was ever taken in.
pub(super) fn by_id(conn: &Connection, id: Uuid) -> Result<Option<DeviceRow>, StorageError> {
    one(conn, (&format!("{DEVICES} WHERE id = ?1"), (id.into_bytes(),)), device, "reading a device")
}

/// Whoever may not come any more.
pub(super) fn is_revoked(conn: &Connection, number: DeviceNumber) -> Result<bool, StorageError> {
    Ok(standing(conn, number, "")?.is_none_or(|(_, revoked)| revoked))
}

/// It was heard just now.
pub(super) fn heard(conn: &Connection, number: DeviceNumber, at_ms: i64) -> Result<(), StorageError> {
    let sql = "UPDATE device SET seen_ms = ?2 WHERE number = ?1 AND (seen_ms IS NULL OR seen_ms < ?2)";
    change(conn, (sql, (number.0, at_ms)), "noting that a device was heard").map(drop)
}

/// Takes a device in under `key`, or once more, then under the name it has now and whatever was said against it before.
/// Not where it was taken in under another key: `None`.
pub(super) fn take_in(
    conn: &Connection,
    (of, key): (Uuid, PublicKey),
    name: &str,
    at_ms: i64,
) -> Result<Option<DeviceNumber>, StorageError> {
    let sql = "INSERT INTO device (id, name, key, paired_ms, tail_device, tail_sequence, tail_hash)
               VALUES (?1, ?2, ?3, ?4, ?1, 0, ?5)
               ON CONFLICT (id) DO UPDATE SET name = excluded.name, paired_ms = excluded.paired_ms, revoked_ms = NULL
               WHERE device.key = excluded.key RETURNING number";
    one(
        conn,
        (sql, (of.into_bytes(), name, key.0, at_ms, Hash::ZERO.0)),
        |row| row.get(0).map(DeviceNumber),
        "taking a device in",
    )
}

impl Storage {
    /// Every device that was ever taken in, by name.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn devices(&self) -> Result<Vec<DeviceRow>, StorageError> {
        let sql = format!("{DEVICES} ORDER BY name, number");
        self.read(move |conn| all(conn, (&sql, ()), device, "reading the devices")).await
    }

    /// The device of that id, if it was ever taken in.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn device(&self, id: Uuid) -> Result<Option<DeviceRow>, StorageError> {
        self.read(move |conn| by_id(conn, id)).await
    }

    /// The device may not come any more. What it brought stays. `false`: there is none of that id.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn revoke(&self, id: Uuid, at_ms: i64) -> Result<bool, StorageError> {
        let sql = "UPDATE device SET revoked_ms = coalesce(revoked_ms, ?2) WHERE id = ?1";
        let changed =
            self.write(move |conn| change(conn, (sql, (id.into_bytes(), at_ms)), "revoking a device")).await?;
        Ok(changed > 0)
    }

    /// Calls a device `name`. `false`: there is none of that id.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn call_device(&self, id: Uuid, name: String) -> Result<bool, StorageError> {
        let sql = "UPDATE device SET name = ?2 WHERE id = ?1";
        let changed = self.write(move |conn| change(conn, (sql, (id.into_bytes(), name)), "naming a device")).await?;
        Ok(changed > 0)
    }

    /// Whose token that is, by its hash; what is over is nobody's.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn bearer(&self, token: Hash, at_ms: i64) -> Result<Option<Bearer>, StorageError> {
        self.read(move |conn| {
            let sql = "SELECT number, id, key, revoked_ms IS NOT NULL FROM token JOIN device ON number = token.device
                       WHERE hash = ?1 AND ends_ms > ?2";
            let read = |row: &Row<'_>| {
                let number = DeviceNumber(row.get(0)?);
                Ok(Bearer { number, id: id(row, 1)?, key: PublicKey(row.get(2)?), revoked: row.get(3)? })
            };
            one(conn, (sql, (token.0, at_ms)), read, "reading a token")
        })
        .await
    }
}
