//! Signed heads of jobs, by which a job can be proved without the entries that stand between its own.

use super::connection::Connection;
use super::devices::{self, DeviceNumber};
use super::row::{MOST_SEQUENCE, all, change};
use super::{From, Storage, StorageError, batches};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD as BASE64URL;
use evenwire_core::record::{MAX_JWS, PublicKey, Sealed, SignedHead, SignedJob, key_named};
use evenwire_core::sync::{HeadsStored, MOST_HEADS};
use uuid::Uuid;

impl Storage {
    /// Keeps those of `heads` that prove a job of that device's ledger as it is here; at most [`MOST_HEADS`] are looked
    /// at. `None`: the device may not come any more.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn put_heads(&self, from: From, heads: Vec<String>) -> Result<Option<HeadsStored>, StorageError> {
        self.write(move |conn| {
            if devices::is_revoked(conn, from.number)? {
                return Ok(None);
            }
            let keys = batches::of_kind(conn, from.number, "device-keyed")?;
            let mut came = HeadsStored::default();
            for jws in heads.into_iter().take(MOST_HEADS) {
                let Some((job, sequence)) = proved(conn, from, (&jws, &keys))? else {
                    came.passed_over += 1;
                    continue;
                };
                let sql = "INSERT INTO job_head (device, job, sequence, jws) VALUES (?1, ?2, ?3, ?4)
                           ON CONFLICT DO NOTHING";
                let values = (from.number.0, job.into_bytes(), sequence as i64, jws);
                change(conn, (sql, values), "keeping a signed head")?;
                came.stored += 1;
            }
            Ok(Some(came))
        })
        .await
    }

    /// The signed heads of a job in one device's ledger, oldest first.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn heads_of(&self, number: DeviceNumber, job: Uuid) -> Result<Vec<String>, StorageError> {
        self.read(move |conn| {
            let sql = "SELECT jws FROM job_head WHERE device = ?1 AND job = ?2 ORDER BY sequence";
            all(conn, (sql, (number.0, job.into_bytes())), |row| row.get(0), "reading signed heads")
        })
        .await
    }
}

/// The job a head proves and where it ends, if it was signed by whom it says and says what is here.
fn proved(
    conn: &Connection,
    from: From,
    (jws, naming): (&str, &[Sealed]),
) -> Result<Option<(Uuid, u64)>, StorageError> {
    let Some(claimed) = claimed(jws) else { return Ok(None) };
    let own = (claimed.device == from.device).then_some(from.key);
    let signed_by = |key: PublicKey| SignedHead::verify(&key, jws).ok() == Some(claimed.clone());
    let Some(job) = claimed.job.filter(|_| key_named(naming, claimed.device).or(own).is_some_and(signed_by)) else {
        return Ok(None);
    };
    if claimed.sequence > MOST_SEQUENCE {
        return Ok(None);
    }
    let last = batches::hashes(conn, from.number, claimed.sequence..claimed.sequence + 1)?;
    let hashes = batches::told(conn, from.number, (job.id, claimed.sequence))?;
    let is_here = last == [claimed.hash] && SignedJob::of(job.id, hashes) == job;
    Ok(is_here.then_some((job.id, claimed.sequence)))
}

/// What a JWS says that it is, before anything of it is believed.
fn claimed(jws: &str) -> Option<SignedHead> {
    let payload = jws.split('.').nth(1).filter(|_| jws.len() <= MAX_JWS)?;
    serde_json::from_slice(&BASE64URL.decode(payload).ok()?).ok()
}
