//! The Secret Service of a Linux desktop, over the person's message bus. By the same C library as the radio, which is
//! built into the program. Secrets cross the bus as they are: it is a socket of this person alone, and whoever may listen
//! there may ask for them as well.

use super::{APP, Away, LABEL};
use dbus_secret_service::{EncryptionType, Error, SecretService};
use std::collections::HashMap;
use std::path::Path;

/// The keyring that is forgotten when the person logs off: nothing is put there.
const SESSION: &str = "/session";

/// The secret of this name. `None`: every keyring is open, and none has it. With 0 seconds nobody is asked to unlock one.
pub(super) fn get(name: &str, prompt_seconds: u64) -> Result<Option<Vec<u8>>, Away> {
    let service = reach(prompt_seconds)?;
    let found = service.search_items(named(name)).map_err(away)?;
    let item = match (found.unlocked.first(), found.locked.first()) {
        (Some(item), _) => item,
        (None, Some(item)) => {
            item.unlock().map_err(away)?;
            item
        }
        (None, None) => return nowhere(&service).map(|()| None),
    };
    item.get_secret().map(Some).map_err(away)
}

/// Keeps it in the person's default keyring, where that is open.
pub(super) fn put(name: &str, secret: &[u8]) -> Result<(), Away> {
    let service = reach(0)?;
    let keyring = service.get_default_collection().map_err(away)?;
    if keyring.path.ends_with(SESSION) {
        return Err(Away::Silent);
    }
    if keyring.is_locked().map_err(away)? {
        return Err(Away::Locked);
    }
    keyring.create_item(LABEL, named(name), secret, true, "text/plain").map(drop).map_err(away)
}

/// Nothing is hidden: there is a default keyring that outlives the session, and none is locked. Some programs show no keyring at all while theirs
/// is locked.
fn nowhere(service: &SecretService) -> Result<(), Away> {
    if service.get_default_collection().map_err(away)?.path.ends_with(SESSION) {
        return Err(Away::Silent);
    }
    for keyring in service.get_all_collections().map_err(away)? {
        if keyring.is_locked().map_err(away)? {
            return Err(Away::Locked);
        }
    }
    Ok(())
}

fn reach(prompt_seconds: u64) -> Result<SecretService, Away> {
    // Where the person has no bus, libdbus would start one of its own.
    let named = std::env::var_os("DBUS_SESSION_BUS_ADDRESS").is_some_and(|address| !address.is_empty());
    let usual = || std::env::var_os("XDG_RUNTIME_DIR").is_some_and(|folder| Path::new(&folder).join("bus").exists());
    if !named && !usual() {
        return Err(Away::Silent);
    }
    SecretService::connect_with_max_prompt_timeout(EncryptionType::Plain, prompt_seconds).map_err(away)
}

fn named(name: &str) -> HashMap<&str, &str> {
    HashMap::from([("application", APP), ("key", name)])
}

fn away(error: Error) -> Away {
    match error {
        Error::Locked | Error::Prompt => Away::Locked,
        error => {
            tracing::debug!(%error, "the key store");
            Away::Silent
        }
    }
}
