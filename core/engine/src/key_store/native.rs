//! The keychain of macOS and the credential store of Windows. Both say of themselves that they have no such entry, also
//! while they are locked; the system itself asks the person to unlock them.

use super::{APP, Away};
#[cfg(target_os = "macos")]
use apple_native_keyring_store::keychain::Store;
use keyring_core::api::CredentialStoreApi;
use keyring_core::{Entry, Error};
#[cfg(target_os = "windows")]
use windows_native_keyring_store::Store;

/// The secret of this name. `None`: there is none.
pub(super) fn get(name: &str, _prompt_seconds: u64) -> Result<Option<Vec<u8>>, Away> {
    match entry(name)?.get_secret() {
        Ok(secret) => Ok(Some(secret)),
        Err(Error::NoEntry) => Ok(None),
        Err(error) => Err(away(&error)),
    }
}

/// Keeps it.
pub(super) fn put(name: &str, secret: &[u8]) -> Result<(), Away> {
    entry(name)?.set_secret(secret).map_err(|error| away(&error))
}

fn entry(name: &str) -> Result<Entry, Away> {
    let store = Store::new().map_err(|error| away(&error))?;
    store.build(APP, name, None).map_err(|error| away(&error))
}

fn away(error: &Error) -> Away {
    tracing::debug!(%error, "the key store");
    if matches!(error, Error::NoStorageAccess(_)) { Away::Locked } else { Away::Silent }
}
