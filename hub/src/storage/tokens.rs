//! Tokens of devices, and the assertions they were given for.

use super::devices::{self, DeviceNumber};
use super::row::change;
use super::{Storage, StorageError};
use evenwire_core::record::Hash;
use uuid::Uuid;

/// A token to be given.
#[derive(Clone, Copy, Debug)]
pub struct Issue {
    /// To whom.
    pub device: DeviceNumber,
    /// The assertion it is given for, and when that ends.
    pub assertion: (Uuid, i64),
    /// Hash of the token, and when it ends.
    pub token: (Hash, i64),
    /// Now.
    pub at_ms: i64,
}

/// Why no token is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TokenRefused {
    /// The assertion was taken before.
    Again,
    /// The device may not come any more.
    Revoked,
}

impl Storage {
    /// Notes that a token was given; each assertion is taken once. What is over is forgotten.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn issue(&self, issue: Issue) -> Result<Result<(), TokenRefused>, StorageError> {
        self.write(move |conn| {
            if devices::is_revoked(conn, issue.device)? {
                return Ok(Err(TokenRefused::Revoked));
            }
            let during = "noting a token";
            change(conn, ("DELETE FROM token WHERE ends_ms <= ?1", (issue.at_ms,)), during)?;
            change(conn, ("DELETE FROM assertion WHERE ends_ms <= ?1", (issue.at_ms,)), during)?;
            let (jti, ends_ms) = issue.assertion;
            let sql = "INSERT INTO assertion (jti, ends_ms) VALUES (?1, ?2) ON CONFLICT DO NOTHING";
            if change(conn, (sql, (jti.into_bytes(), ends_ms)), during)? == 0 {
                return Ok(Err(TokenRefused::Again));
            }
            let (token, ends_ms) = issue.token;
            let sql = "INSERT INTO token (hash, device, ends_ms) VALUES (?1, ?2, ?3)";
            change(conn, (sql, (token.0, issue.device.0, ends_ms)), during)?;
            devices::heard(conn, issue.device, issue.at_ms)?;
            Ok(Ok(()))
        })
        .await
    }
}
