//! What a record is made of beside the job's entries.

use crate::storage::row::one;
use crate::storage::{DeviceNumber, Storage, StorageError, batches};
use evenwire_core::record::{Hash, Sealed};
use uuid::Uuid;

impl Storage {
    /// A device's own entries of these kinds that belong to no job, in their order.
    ///
    /// # Errors
    /// [`StorageError::Damaged`] when one is not as it was written.
    pub async fn entries_of_device(
        &self,
        number: DeviceNumber,
        kinds: [&'static str; 2],
    ) -> Result<Vec<Sealed>, StorageError> {
        self.read(move |conn| {
            let mut found = Vec::new();
            for kind in kinds {
                found.extend(batches::of_kind(conn, number, kind)?);
            }
            found.sort_by_key(|sealed| sealed.entry().sequence);
            Ok(found)
        })
        .await
    }

    /// Whether what is personal of a job was erased.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn is_erased(&self, job: Uuid) -> Result<bool, StorageError> {
        let sql = "SELECT 1 FROM erased WHERE job = ?1";
        let found = self.read(move |conn| one(conn, (sql, (job.into_bytes(),)), |_| Ok(()), "looking for an erasure"));
        Ok(found.await?.is_some())
    }

    /// Whether the file of `named` may be shown: an entry of `job` (none: of a device) wants it, and it is here.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn shows(&self, job: Option<Uuid>, named: Hash) -> Result<bool, StorageError> {
        self.read(move |conn| {
            let sql = "SELECT 1 FROM beside WHERE hash = ?1 AND job = ?2 AND wanted = 1 AND present = 1";
            let job = job.map(Uuid::into_bytes);
            let job = job.as_ref().map_or(&[][..], |job| &job[..]);
            Ok(one(conn, (sql, (named.0, job)), |_| Ok(()), "looking for a file")?.is_some())
        })
        .await
    }
}
