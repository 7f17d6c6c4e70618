//! The key store of the system, where the secret of a device's key lies if there is one: Secret Service on Linux,
//! keychain on macOS, credential store on Windows. One that is locked or says nothing is not one without the key: only
//! where it surely has none is the key taken for lost.
//!
//! An entry is named by the fingerprint of its key, so that every ledger has one of its own and none is ever written over
//! by another. Nothing is deleted here.

#[cfg(any(target_os = "macos", target_os = "windows"))]
#[path = "key_store/native.rs"]
mod system;
#[cfg(not(any(target_os = "linux", target_os = "macos", target_os = "windows")))]
#[path = "key_store/nowhere.rs"]
mod system;
#[cfg(target_os = "linux")]
#[path = "key_store/linux.rs"]
mod system;

use evenwire_core::record::{DeviceKey, Hash, KeptKey, PublicKey};
use std::collections::BTreeMap;
use std::sync::mpsc::channel;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

/// How long whoever starts, or waits for a file, waits for the key store. Each call of it has a shorter limit of its own.
const PATIENCE: Duration = Duration::from_secs(5);
/// How long a person may take to unlock it when the system asks, seconds.
const PROMPT_SECONDS: u64 = 120;
/// What entries are of, and what a person sees of them there.
const APP: &str = crate::place::FOLDER;
const LABEL: &str = "Evenwire: key of this device";

/// Keys that were fetched, so that nobody is asked twice in a run.
static HELD: Mutex<BTreeMap<PublicKey, DeviceKey>> = Mutex::new(BTreeMap::new());

/// Where a person wants the secret.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum KeyPlace {
    /// Where it is; a new one in the file beside the ledger.
    #[default]
    AsItIs,
    /// In the file.
    InFile,
    /// In the key store of the system, where there is one that is open; else in the file.
    InStore,
}

/// Why a secret is not to be had for now.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Away {
    /// The key store is locked.
    #[error("the key of this device is locked in the system's key store: unlock it, then try again")]
    Locked,
    /// There is none, it does not answer in time, or not as it should.
    #[error("the system's key store, in which the key of this device lies, does not answer")]
    Silent,
}

/// What came of asking for a secret.
pub(crate) enum Found {
    /// This is it.
    Key(Box<DeviceKey>),
    /// The key store is open, and surely has none: the key is lost, or was never here.
    Lost,
    /// It may be there.
    Away(Away),
}

/// The key of a ledger, from its file or from the key store, which is waited for at most five seconds and never shows a
/// prompt for it.
pub(crate) fn find(kept: &KeptKey) -> Found {
    if let Some(key) = held(kept) {
        return Found::Key(Box::new(key));
    }
    let wanted = kept.clone();
    match in_time(move || seed_in_store(&wanted, 0)) {
        Ok(Some(seed)) => Found::Key(Box::new(DeviceKey::from_seed(seed))),
        Ok(None) => Found::Lost,
        Err(away) => Found::Away(away),
    }
}

/// The same where a lost one is as good as one that is away: nothing is decided by it.
///
/// # Errors
/// [`Away`].
pub(crate) fn key_of(kept: &KeptKey) -> Result<DeviceKey, Away> {
    match find(kept) {
        Found::Key(key) => Ok(*key),
        Found::Lost => Err(Away::Silent),
        Found::Away(away) => Err(away),
    }
}

/// The key where nobody has to be asked for it: it is in the file, or was taken before.
pub(crate) fn held(kept: &KeptKey) -> Option<DeviceKey> {
    let held = || HELD.lock().unwrap_or_else(PoisonError::into_inner).get(&kept.public()).cloned();
    kept.key().or_else(held)
}

/// Everybody in this program has the key from here on.
pub(crate) fn hold(key: &DeviceKey) {
    HELD.lock().unwrap_or_else(PoisonError::into_inner).insert(key.public(), key.clone());
}

/// The key, and the system may ask the person to unlock it. Waits for that, and for whoever is slow.
pub(crate) fn ask_person(kept: &KeptKey) -> Option<DeviceKey> {
    seed_in_store(kept, PROMPT_SECONDS).ok().flatten().map(DeviceKey::from_seed)
}

/// The key without a prompt, however long that takes.
pub(crate) fn ask_again(kept: &KeptKey) -> Option<DeviceKey> {
    seed_in_store(kept, 0).ok().flatten().map(DeviceKey::from_seed)
}

/// `kept` with its secret where it is wanted. It leaves the file only when it was written into the key store and read back
/// from there; where that cannot be done it stays where it is, and the next start tries again.
pub(crate) fn moved(kept: KeptKey, place: KeyPlace) -> KeptKey {
    match (place, kept.seed()) {
        (KeyPlace::InStore, Some(seed)) => match in_time(move || put_and_read(seed)) {
            Ok(()) => kept.in_store(),
            Err(away) => {
                tracing::info!(%away, "the secret of the device's key stays in its file");
                kept
            }
        },
        (KeyPlace::InFile, None) => {
            let wanted = kept.clone();
            let seed = in_time(move || seed_in_store(&wanted, 0)).ok().flatten();
            seed.and_then(|seed| kept.with_seed(seed)).unwrap_or(kept)
        }
        _ => kept,
    }
}

fn put_and_read(seed: [u8; 32]) -> Result<(), Away> {
    let name = DeviceKey::from_seed(seed).public().fingerprint();
    let text = Hash(seed).to_string();
    system::put(&name, text.as_bytes())?;
    match system::get(&name, 0)? {
        Some(there) if there == text.as_bytes() => Ok(()),
        _ => Err(Away::Silent),
    }
}

/// `None`: it is surely not there. One that belongs to another key is none that could be believed.
fn seed_in_store(kept: &KeptKey, prompt_seconds: u64) -> Result<Option<[u8; 32]>, Away> {
    let Some(bytes) = system::get(&kept.public().fingerprint(), prompt_seconds)? else { return Ok(None) };
    let seed = String::from_utf8(bytes).ok().and_then(|text| Hash::try_from(text).ok());
    match seed.and_then(|seed| kept.with_seed(seed.0)).and_then(|kept| kept.seed()) {
        Some(seed) => Ok(Some(seed)),
        None => Err(Away::Silent),
    }
}

/// Whoever does not answer in time is left alone; what it says later is heard by nobody.
fn in_time<T: Send + 'static>(ask: impl FnOnce() -> Result<T, Away> + Send + 'static) -> Result<T, Away> {
    let (told, came) = channel();
    let thread = std::thread::Builder::new().name("evenwire-key".into());
    let asking = thread.spawn(move || drop(told.send(ask())));
    if let Err(error) = asking {
        tracing::warn!(%error, "nobody asks the key store");
        return Err(Away::Silent);
    }
    came.recv_timeout(PATIENCE).unwrap_or(Err(Away::Silent))
}
