//! Jobs that one device handed over and none has taken over yet, as far as their entries are here.

use super::connection::{Connection, Row};
use super::devices::{self, DeviceNumber};
use super::row::{all, change, hash, id, one};
use super::{Storage, StorageError};
use evenwire_core::record::Hash;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Jobs told at once at most, the newest: nobody leaves more lying.
const MOST: i64 = 100;

/// A job that waits to be taken over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HandedOver {
    /// Which.
    pub job: Uuid,
    /// Whose ledger it is from.
    pub number: DeviceNumber,
    /// SHA-256 of the hashes of its entries in a row.
    pub version: Hash,
    /// Order number or name.
    pub order: String,
    /// Vehicle in short words.
    pub vehicle: String,
    /// What the shop calls the device that handed it over.
    pub from: String,
    /// Who said that it takes it over, as the shop calls that device, and whether that is whoever asks.
    pub taken: Option<(String, bool)>,
}

const WAITING: &str = "SELECT line.job, line.device, entries_hash, order_name, vehicle, giver.name, taker.name,
        handover.device = ?1
    FROM line JOIN device AS giver ON giver.number = line.device
    LEFT JOIN handover ON handover.job = line.job AND handover.version = line.entries_hash
    LEFT JOIN device AS taker ON taker.number = handover.device
    WHERE stage = 'handed-over' AND counts = 1 AND line.device <> ?1
        AND NOT EXISTS (SELECT 1 FROM beside WHERE beside.device = line.device AND wanted = 1 AND present = 0
            AND (beside.job = line.job OR beside.kind = 'person'))";

fn waiting(row: &Row<'_>) -> super::cell::Read<HandedOver> {
    let by: Option<String> = row.get(6)?;
    let own: Option<bool> = row.get(7)?;
    Ok(HandedOver {
        job: id(row, 0)?,
        number: DeviceNumber(row.get(1)?),
        version: hash(row, 2)?,
        order: row.get(3)?,
        vehicle: row.get(4)?,
        from: row.get(5)?,
        taken: by.map(|by| (by, own.unwrap_or_default())),
    })
}

fn of_job(conn: &Connection, number: DeviceNumber, job: Uuid) -> Result<Option<HandedOver>, StorageError> {
    let sql = format!("{WAITING} AND line.job = ?2 ORDER BY line.device LIMIT 1");
    one(conn, (&sql, (number.0, job.into_bytes())), waiting, "looking for a job that was handed over")
}

impl Storage {
    /// Jobs of other devices that wait for somebody and are here whole, newest first. Where a job waits in two versions,
    /// the one that [`Storage::handed_over_job`] hands out.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn handed_over(&self, to: DeviceNumber) -> Result<Vec<HandedOver>, StorageError> {
        self.read(move |conn| {
            let sql = format!("{WAITING} ORDER BY line.number DESC LIMIT ?2");
            let mut found = all(conn, (&sql, (to.0, MOST)), waiting, "reading what was handed over")?;
            let mut first: BTreeMap<Uuid, DeviceNumber> = BTreeMap::new();
            for one in &found {
                let device = first.entry(one.job).or_insert(one.number);
                *device = one.number.min(*device);
            }
            found.retain(|one| first.get(&one.job) == Some(&one.number));
            Ok(found)
        })
        .await
    }

    /// That job, if it waits for somebody else than whoever handed it over.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn handed_over_job(&self, to: DeviceNumber, job: Uuid) -> Result<Option<HandedOver>, StorageError> {
        self.read(move |conn| of_job(conn, to, job)).await
    }

    /// A device says that it takes the job over. Of several the first one has it, and hears so each time; `None`: it does
    /// not wait, or the device may not come any more.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn take_over(&self, by: DeviceNumber, job: Uuid, at_ms: i64) -> Result<Option<HandedOver>, StorageError> {
        self.write(move |conn| {
            if devices::is_revoked(conn, by)? {
                return Ok(None);
            }
            let Some(found) = of_job(conn, by, job)? else { return Ok(None) };
            let sql =
                "INSERT INTO handover (job, version, device, at_ms) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING";
            let values = (job.into_bytes(), found.version.0, by.0, at_ms);
            change(conn, (sql, values), "noting who takes a job over")?;
            of_job(conn, by, job)
        })
        .await
    }
}
