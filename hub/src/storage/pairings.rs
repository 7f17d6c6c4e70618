//! Taking devices in: invitations of the office, what devices asked with them, and what the office said.

use super::cell::Read;
use super::connection::{Connection, Row};
use super::devices;
use super::row::{all, change, id, id_or_none, one};
use super::{Storage, StorageError};
use evenwire_core::record::{Hash, PublicKey};
use evenwire_core::sync::PairingState;
use uuid::Uuid;

/// How long an invitation is good, ms.
pub const INVITATION_MS: i64 = 10 * 60 * 1000;
/// How long a device waits for the office's yes, ms.
pub const WAIT_MS: i64 = 10 * 60 * 1000;

/// A device that asks. Its proof was looked at before.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The name this pairing gets if it is a new one: random.
    pub pairing: Uuid,
    /// Hash of the code of the invitation.
    pub code: Hash,
    /// The device.
    pub device: Uuid,
    /// What it is called.
    pub name: String,
    /// Its key.
    pub key: PublicKey,
    /// Now.
    pub at_ms: i64,
}

/// A pairing as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PairingRow {
    /// Which.
    pub pairing: Uuid,
    /// The device.
    pub device: Uuid,
    /// What it is called.
    pub name: String,
    /// Its key.
    pub key: PublicKey,
    /// When it asked.
    pub asked_ms: i64,
    /// When it is over.
    pub ends_ms: i64,
    /// How far it has come.
    pub state: PairingState,
}

/// Why a device is not taken in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PairingRefused {
    /// The code is none, was used, or is over.
    Code,
    /// The device was taken in under another key.
    OtherKey,
    /// It does not wait (any more).
    NotWaiting,
}

const PAIRINGS: &str = "SELECT id, device, name, key, asked_ms, ends_ms, state FROM pairing";

fn pairing(row: &Row<'_>, at_ms: i64) -> Read<PairingRow> {
    let ends_ms = row.get(5)?;
    let state = match row.get::<String>(6)?.as_str() {
        "accepted" => PairingState::Accepted,
        "refused" => PairingState::Refused,
        _ if ends_ms <= at_ms => PairingState::Over,
        _ => PairingState::Waiting,
    };
    Ok(PairingRow {
        pairing: id(row, 0)?,
        device: id(row, 1)?,
        name: row.get(2)?,
        key: PublicKey(row.get(3)?),
        asked_ms: row.get(4)?,
        ends_ms,
        state,
    })
}

fn find(conn: &Connection, of: Uuid, at_ms: i64) -> Result<Option<PairingRow>, StorageError> {
    let sql = format!("{PAIRINGS} WHERE id = ?1");
    one(conn, (&sql, (of.into_bytes(),)), |row| pairing(row, at_ms), "reading a pairing")
}

impl Storage {
    /// Keeps an invitation by the hash of its code, good for [`INVITATION_MS`]. Those that are over are forgotten.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn invite(&self, code: Hash, by: Option<Uuid>, at_ms: i64) -> Result<(), StorageError> {
        self.write(move |conn| {
            let during = "keeping an invitation";
            change(conn, ("DELETE FROM invitation WHERE ends_ms <= ?1", (at_ms,)), during)?;
            let sql = "INSERT INTO invitation (code, made_by, made_ms, ends_ms) VALUES (?1, ?2, ?3, ?4)";
            change(conn, (sql, (code.0, by.map(Uuid::into_bytes), at_ms, at_ms + INVITATION_MS)), during).map(drop)
        })
        .await
    }

    /// A device asks with a code. The same device may ask again with the same code and key, if an answer was lost, and
    /// is told the same.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn ask_pairing(&self, asked: Asked) -> Result<Result<PairingRow, PairingRefused>, StorageError> {
        self.write(move |conn| {
            let during = "keeping a pairing";
            let sql = "SELECT pairing FROM invitation WHERE code = ?1 AND ends_ms > ?2";
            let invited = one(conn, (sql, (asked.code.0, asked.at_ms)), |row| id_or_none(row, 0), during)?;
            let Some(used_for) = invited else { return Ok(Err(PairingRefused::Code)) };
            if let Some(before) = used_for.map(|of| find(conn, of, asked.at_ms)).transpose()?.flatten() {
                let same = (before.device, before.key) == (asked.device, asked.key);
                return Ok(if same { Ok(before) } else { Err(PairingRefused::Code) });
            }
            if devices::by_id(conn, asked.device)?.is_some_and(|known| known.key != asked.key) {
                return Ok(Err(PairingRefused::OtherKey));
            }
            let pairing = asked.pairing.into_bytes();
            let sql = "UPDATE invitation SET pairing = ?2 WHERE code = ?1";
            change(conn, (sql, (asked.code.0, pairing)), during)?;
            let sql = "INSERT INTO pairing (id, device, name, key, asked_ms, ends_ms, state)
                       VALUES (?1, ?2, ?3, ?4, ?5, ?6, 'waiting')";
            let ends_ms = asked.at_ms + WAIT_MS;
            let row = (pairing, asked.device.into_bytes(), &asked.name, asked.key.0, asked.at_ms, ends_ms);
            change(conn, (sql, row), during)?;
            find(conn, asked.pairing, asked.at_ms)?.ok_or(StorageError::damaged("a pairing is gone")).map(Ok)
        })
        .await
    }

    /// A pairing; `None` where there is none of that name.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn pairing(&self, of: Uuid, at_ms: i64) -> Result<Option<PairingRow>, StorageError> {
        self.read(move |conn| find(conn, of, at_ms)).await
    }

    /// Devices that wait for the office's yes, longest first.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn pairings_waiting(&self, at_ms: i64) -> Result<Vec<PairingRow>, StorageError> {
        let sql = format!("{PAIRINGS} WHERE state = 'waiting' AND ends_ms > ?1 ORDER BY asked_ms, id");
        self.read(move |conn| all(conn, (&sql, (at_ms,)), |row| pairing(row, at_ms), "reading who waits")).await
    }

    /// The office says yes or no to a device that waits.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn decide_pairing(
        &self,
        of: Uuid,
        yes: bool,
        (by, at_ms): (Option<Uuid>, i64),
    ) -> Result<Result<PairingRow, PairingRefused>, StorageError> {
        self.write(move |conn| {
            let waits = find(conn, of, at_ms)?.filter(|row| row.state == PairingState::Waiting);
            let Some(row) = waits else { return Ok(Err(PairingRefused::NotWaiting)) };
            if yes && devices::take_in(conn, (row.device, row.key), &row.name, at_ms)?.is_none() {
                return Ok(Err(PairingRefused::OtherKey));
            }
            let (word, state) =
                if yes { ("accepted", PairingState::Accepted) } else { ("refused", PairingState::Refused) };
            let sql = "UPDATE pairing SET state = ?2, decided_by = ?3, decided_ms = ?4 WHERE id = ?1";
            let values = (of.into_bytes(), word, by.map(Uuid::into_bytes), at_ms);
            change(conn, (sql, values), "deciding about a pairing")?;
            Ok(Ok(PairingRow { state, ..row }))
        })
        .await
    }
}
