//! What of that which entries name is not here, of all devices at one look.

use crate::office::model::OfficeMissing;
use crate::storage::connection::Row;
use crate::storage::row::all;
use crate::storage::{DeviceNumber, Storage, StorageError};
use std::collections::BTreeMap;

/// What is not here, and where ledgers part.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Lacks {
    missing: BTreeMap<DeviceNumber, OfficeMissing>,
    parted: BTreeMap<DeviceNumber, u64>,
}

impl Lacks {
    /// What is missing of a device.
    pub fn of(&self, device: DeviceNumber) -> OfficeMissing {
        self.missing.get(&device).copied().unwrap_or_default()
    }

    /// The first number at which a device brought another entry than is here.
    pub fn parted_at(&self, device: DeviceNumber) -> Option<u64> {
        self.parted.get(&device).copied()
    }
}

impl Storage {
    /// What is missing of every device.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn lacks(&self) -> Result<Lacks, StorageError> {
        self.read(|conn| {
            let mut lacks = Lacks::default();
            let sql = "SELECT device, kind, count(DISTINCT hash) FROM beside WHERE wanted = 1 AND present = 0
                       GROUP BY device, kind";
            let read = |row: &Row<'_>| Ok((DeviceNumber(row.get(0)?), row.get::<String>(1)?, row.get(2)?));
            for (device, kind, count) in all(conn, (sql, ()), read, "counting what is missing")? {
                let missing: &mut OfficeMissing = lacks.missing.entry(device).or_default();
                match kind.as_str() {
                    "photo" => missing.photos = count,
                    "details" => missing.details = count,
                    "person" => missing.people = count,
                    // A kind that is not known here is missing all the same.
                    _ => missing.samples += count,
                }
            }
            let sql = "SELECT device, min(sequence) FROM fork GROUP BY device";
            let read = |row: &Row<'_>| Ok((DeviceNumber(row.get(0)?), row.get::<i64>(1)?.unsigned_abs()));
            lacks.parted = all(conn, (sql, ()), read, "reading where ledgers part")?.into_iter().collect();
            Ok(lacks)
        })
        .await
    }

    /// Files of procedures that were sent to all devices, oldest first, and when.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn procedures_sent(&self) -> Result<Vec<(String, i64)>, StorageError> {
        use evenwire_core::sync::Change;
        let sql = "SELECT body, made_ms FROM change WHERE device IS NULL ORDER BY number";
        let read = |row: &Row<'_>| Ok((row.get::<String>(0)?, row.get(1)?));
        let rows = self.read(move |conn| all(conn, (sql, ()), read, "reading what was sent")).await?;
        let file = |(body, at_ms): (String, i64)| match serde_json::from_str(&body) {
            Ok(Change::ProcedureSent { text }) => Some((text, at_ms)),
            _ => None,
        };
        Ok(rows.into_iter().filter_map(file).collect())
    }
}
