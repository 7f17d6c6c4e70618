//! Second signatures that were given at the office, on their way to the devices.

use super::people::Person;
use crate::storage::connection::{Connection, Row};
use crate::storage::row::{all, change, id, one};
use crate::storage::{DeviceNumber, Storage, StorageError, changes};
use evenwire_core::record::{Hash, KeptPerson, OfficeSigned, PersonDetails, PinHash, SignedJob};
use evenwire_core::sync::{Change, Countersigned};
use evenwire_core::unit::Stamp;
use uuid::Uuid;

/// A signature as it is given.
#[derive(Clone, Debug)]
pub struct Given {
    /// Its name.
    pub signature: Uuid,
    /// The device whose version of the job was signed.
    pub device: DeviceNumber,
    /// The step.
    pub step: String,
    /// Which settling of it.
    pub doing: u32,
    /// All of the job that was seen.
    pub seen: SignedJob,
    /// Who signed.
    pub by: Person,
    /// When, as it is written down.
    pub at: Stamp,
}

/// A signature that was given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignatureRow {
    /// Its name.
    pub signature: Uuid,
    /// The device whose version of the job was signed.
    pub device: DeviceNumber,
    /// The step.
    pub step: String,
    /// Which settling of it.
    pub doing: u32,
    /// Who signed, also where they do not belong to the office any more.
    pub name: String,
    /// When.
    pub at_ms: i64,
}

/// The salt of whatever somebody signed before: one name has one commitment, on however many devices.
fn salt_of(conn: &Connection, person: Uuid) -> Result<Option<[u8; 32]>, StorageError> {
    let sql = "SELECT salt FROM signature WHERE person = ?1 LIMIT 1";
    one(conn, (sql, (person.into_bytes(),)), |row| row.get(0), "looking for what somebody signed")
}

/// The signature as it goes to the device.
fn countersigned(given: &Given, salt: [u8; 32]) -> Countersigned {
    let details = PersonDetails { name: given.by.name.clone(), role: String::new() };
    let kept = KeptPerson::new(given.by.id, salt, &details, PinHash::default());
    let signed = OfficeSigned {
        signature: given.signature,
        step: given.step.clone(),
        doing: given.doing,
        seen: given.seen,
        person: given.by.id,
        personal: kept.commitment(),
        at: given.at.clone(),
    };
    Countersigned { signed, salt: Hash(salt), text: kept.text }
}

impl Storage {
    /// Keeps a signature and sends it to its device. `fresh`: 32 random bytes, for somebody who never signed.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn countersign(&self, given: Given, fresh: [u8; 32]) -> Result<(), StorageError> {
        self.write(move |conn| {
            let (salt, at_ms) = (salt_of(conn, given.by.id)?.unwrap_or(fresh), given.at.unix_millis());
            let sql = "INSERT INTO signature (id, job, device, step, doing, person, salt, at_ms)
                       VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)";
            let (signature, job) = (given.signature.into_bytes(), given.seen.id.into_bytes());
            let (device, step) = (given.device.0, given.step.as_str());
            let values = (signature, job, device, step, given.doing, given.by.id.into_bytes(), salt, at_ms);
            change(conn, (sql, values), "keeping a signature")?;
            let sent = Change::StepSigned(Box::new(countersigned(&given, salt)));
            changes::add(conn, Some(given.device), &sent, at_ms)
        })
        .await
    }

    /// Signatures that were given under a job, oldest first.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn signatures_of(&self, job: Uuid) -> Result<Vec<SignatureRow>, StorageError> {
        let sql = "SELECT signature.id, device, step, doing, coalesce(person.name, ''), at_ms FROM signature
                   LEFT JOIN person ON person.id = signature.person
                   WHERE job = ?1 ORDER BY at_ms, signature.id";
        let read = |row: &Row<'_>| {
            let (signature, device, step) = (id(row, 0)?, DeviceNumber(row.get(1)?), row.get(2)?);
            Ok(SignatureRow { signature, device, step, doing: row.get(3)?, name: row.get(4)?, at_ms: row.get(5)? })
        };
        self.read(move |conn| all(conn, (sql, (job.into_bytes(),)), read, "reading signatures")).await
    }
}
