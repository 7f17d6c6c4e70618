//! Who looked at or did what. Written, and never changed.

use crate::office::model::Access;
use crate::storage::cell::Read;
use crate::storage::connection::Row;
use crate::storage::row::{all, change};
use crate::storage::{Storage, StorageError};
use uuid::Uuid;

/// Something somebody looked at or did.
#[derive(Clone, Debug, Default)]
pub struct Deed {
    /// Who; nobody where nobody is signed in.
    pub person: Option<Uuid>,
    /// With which device.
    pub device: Option<Uuid>,
    /// With which job.
    pub job: Option<Uuid>,
    /// With what else.
    pub about: String,
}

/// A line of the log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AccessRow {
    /// Its number.
    pub number: i64,
    /// When.
    pub at_ms: i64,
    /// Who, also where they do not belong to the office any more.
    pub name: String,
    /// What.
    pub what: Access,
    /// Order of the job, name of the device, or what else it was about.
    pub about: String,
}

fn word(what: Access) -> &'static str {
    match what {
        Access::Record => "record",
        Access::Report => "report",
        Access::Claim => "claim",
        Access::ClaimWithoutNames => "claim-without-names",
        Access::Erased => "erased",
        Access::Signed => "signed",
        Access::SignedIn => "signed-in",
        Access::Refused => "refused",
        Access::Password => "password",
        Access::Invited => "invited",
        Access::Paired => "paired",
        Access::TurnedAway => "turned-away",
        Access::Revoked => "revoked",
        Access::Person => "person",
        Access::OwnerLink => "owner-link",
        Access::Procedure => "procedure",
        Access::Search => "search",
    }
}

fn row(row: &Row<'_>) -> Read<Option<AccessRow>> {
    let what = serde_json::from_value(serde_json::Value::String(row.get(3)?));
    let (number, at_ms, name, about) = (row.get(0)?, row.get(1)?, row.get(2)?, row.get(4)?);
    // A word of a newer program is not told as something else.
    Ok(what.ok().map(|what| AccessRow { number, at_ms, name, what, about }))
}

impl Storage {
    /// Writes that somebody looked at or did something; once in `pause_ms` for the same person and thing.
    ///
    /// # Errors
    /// [`StorageError`]: what was to be looked at is not shown then.
    pub async fn note(&self, what: Access, deed: Deed, (at_ms, pause_ms): (i64, i64)) -> Result<(), StorageError> {
        let sql = "INSERT INTO access (at_ms, person, device, job, what, about)
                   SELECT ?1, ?2, (SELECT number FROM device WHERE id = ?3), ?4, ?5, ?6
                   WHERE ?7 = 0 OR NOT EXISTS (SELECT 1 FROM access
                       WHERE person IS NOT DISTINCT FROM ?2 AND what = ?5 AND at_ms > ?1 - ?7 AND job IS NOT DISTINCT FROM ?4)";
        self.write(move |conn| {
            let bytes = |id: Option<Uuid>| id.map(Uuid::into_bytes);
            let Deed { person, device, job, about } = deed;
            let values = (at_ms, bytes(person), bytes(device), bytes(job), word(what), about, pause_ms);
            change(conn, (sql, values), "writing who looked at what").map(drop)
        })
        .await
    }

    /// The log before line `before`, newest first, at most `limit` lines.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn access(&self, before: i64, limit: u32) -> Result<Vec<AccessRow>, StorageError> {
        let sql = "SELECT access.number, at_ms, coalesce(person.name, ''), what,
                       coalesce((SELECT order_name FROM line WHERE line.job = access.job ORDER BY line.number LIMIT 1),
                           device.name, about)
                   FROM access LEFT JOIN person ON person.id = access.person
                   LEFT JOIN device ON device.number = access.device
                   WHERE access.number < ?1 ORDER BY access.number DESC LIMIT ?2";
        let rows = self.read(move |conn| all(conn, (sql, (before, limit)), row, "reading the log")).await?;
        Ok(rows.into_iter().flatten().collect())
    }
}
