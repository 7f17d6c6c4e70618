//! Copies of a ledger: made while another program has it open, put back where there is none. A copy is looked at
//! whole before it gets its name, and never holds the key.

use crate::error::{During, StoreError};
use crate::lock::Lock;
use crate::open::{beside, exists, failed, sync_folder, with_companions};
use crate::{APPLICATION_ID, Glance, Store, key};
use evenwire_core::record::{Head, KeptKey, Renewal};
use std::fs::{self, OpenOptions};
use std::path::Path;
use uuid::Uuid;

impl Glance {
    /// Writes a copy of this ledger to `out`, as the ledger stands now, and gives its end. Whoever has the ledger open
    /// goes on meanwhile.
    ///
    /// # Errors
    /// [`StoreError::InTheWay`] when something is at `out`; [`StoreError::NotOurs`], [`StoreError::Newer`] for what is
    /// no ledger of ours; [`StoreError::Damaged`] when the copy is not whole, as the ledger then is not either. Nothing
    /// is at `out` then.
    pub fn back_up(&self, out: &Path) -> Result<Head, StoreError> {
        assert_free(out)?;
        let draft = beside(out, ".copying");
        let copied = self.copy(&draft).and_then(|head| {
            assert_free(out)?;
            fs::rename(&draft, out).map_err(failed(out))?;
            sync_folder(out)?;
            Ok(head)
        });
        swept(&draft, copied)
    }

    /// A copy at `draft`, checked whole and on the disk.
    fn copy(&self, draft: &Path) -> Result<Head, StoreError> {
        let during = || format!("copying to {}", draft.display());
        let application_id: u32 = self.0.pragma_query_value(None, "application_id", |row| row.get(0)).during(during)?;
        if application_id != APPLICATION_ID {
            return Err(StoreError::NotOurs { path: self.0.path().unwrap_or_default().into(), application_id });
        }
        let before = self.head()?;
        clear(draft)?;
        let name = draft.to_str().ok_or_else(|| failed(draft)(std::io::ErrorKind::InvalidFilename.into()))?;
        self.0.execute("VACUUM INTO ?1", [name]).during(during)?;
        let store = Store::open(draft, Uuid::nil())?;
        let report = store.check()?;
        let head = store.head()?;
        let gone = head.sequence < before.sequence || store.hash_at(before.sequence)? != Some(before.hash);
        let fault = report.bad_entry.map(|bad| format!("entry {}: {}", bad.sequence, bad.why));
        let fault = fault.or_else(|| report.bad_chunks.first().map(|bad| bad.why.clone()));
        let fault = fault.or_else(|| report.others.first().cloned());
        let fault = fault.or_else(|| gone.then(|| format!("entry {} is missing from the copy", before.sequence)));
        if let Some(what) = fault {
            return Err(StoreError::Damaged { what });
        }
        // One file that can be read from a place where nothing can be written.
        store.conn.pragma_update(None, "journal_mode", "DELETE").during(during)?;
        drop(store);
        OpenOptions::new().write(true).open(draft).and_then(|file| file.sync_all()).map_err(failed(draft))?;
        Ok(head)
    }
}

/// Puts the ledger in `backup` back as `ledger`, and gives its end. Whoever opens it next goes on under the id and key
/// drawn from `random`: what was written after the backup may have been read elsewhere. A key that is left of a ledger
/// that was there is put aside.
///
/// # Errors
/// [`StoreError::InTheWay`] when something is at `ledger`, [`StoreError::InUse`] when a program is about to make one;
/// as [`Glance::back_up`] for what is wrong with `backup`. Nothing is at `ledger` then.
pub fn restore(backup: &Path, ledger: &Path, random: (Uuid, [u8; 32])) -> Result<Head, StoreError> {
    assert_free(ledger)?;
    let _lock = Lock::take(ledger)?;
    let draft = beside(ledger, ".copying");
    let restored = Glance::at(backup).and_then(|glance| glance.copy(&draft)).and_then(|head| {
        // Before the ledger is there: from the first moment on it is not the one that was backed up.
        key::keep(&key::place(ledger)?, &KeptKey::new(random, &head, Some(Renewal::Restored)))?;
        assert_free(ledger)?;
        fs::rename(&draft, ledger).map_err(failed(ledger))?;
        sync_folder(ledger)?;
        Ok(head)
    });
    swept(&draft, restored)
}

fn assert_free(path: &Path) -> Result<(), StoreError> {
    match with_companions(path)?.first() {
        Some(suffix) => Err(StoreError::InTheWay { path: beside(path, suffix) }),
        None => Ok(()),
    }
}

/// What is left of a copy that was cut off goes; it never had a name of its own.
fn clear(draft: &Path) -> Result<(), StoreError> {
    for suffix in with_companions(draft)?.into_iter().chain([".lock"]) {
        let left = beside(draft, suffix);
        if exists(&left)? {
            fs::remove_file(&left).map_err(failed(&left))?;
        }
    }
    Ok(())
}

/// Told after nothing is left of the draft.
fn swept(draft: &Path, told: Result<Head, StoreError>) -> Result<Head, StoreError> {
    let cleared = clear(draft);
    let head = told?;
    cleared.map(|()| head)
}
