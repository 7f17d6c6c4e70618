//! Whose ledger the bench works on: its key is looked at beside the ledger, made where there is none, and a device
//! that cannot be sure to be alone goes on under a new id. Before anything else is written.

use super::StartError;
use evenwire_core::record::{KeptKey, Renewal, Standing, key_named, standing};
use evenwire_core::session::{Beginning, Output, Session};
use evenwire_core::unit::Now;
use evenwire_store::{Store, StoreError};
use uuid::{Builder, Uuid};

/// Who writes from here on.
#[derive(Clone, Debug)]
pub struct Identity {
    /// Its key, as kept beside the ledger.
    pub kept: KeptKey,
    /// It took the ledger up just now, for this reason.
    pub renewed: Option<Renewal>,
}

/// Finds out whose ledger it is, and writes it into the ledger where it does not stand there. Nothing may be written to
/// the ledger before, or when this fails: it would be under a wrong id.
///
/// # Errors
/// [`StartError`] when ledger or key cannot be read or written, or the system gives no random bytes.
pub(crate) fn of(store: &mut Store, now: &Now) -> Result<Identity, StartError> {
    let draw = || {
        let mut bytes = [0; 32];
        getrandom::fill(&mut bytes).map(|()| bytes).map_err(|e| StartError::System(e.to_string()))
    };
    let random = [draw()?, draw()?, draw()?];
    settle(store, random, now).map_err(|source| StartError::Store { path: store.path().to_owned(), source })
}

/// The same with a device's id, a key and the ids of entries drawn from these random bytes.
///
/// The key is on the disk before the ledger names it: killed in between, the next start takes up the same key.
///
/// # Errors
/// [`StoreError`] when ledger or key cannot be read or written.
pub fn settle(store: &mut Store, [device, key, ids]: [[u8; 32]; 3], now: &Now) -> Result<Identity, StoreError> {
    let (head, device_entries) = (store.head()?, store.entries_of_device()?);
    let there = store.kept_key()?;
    let witnessed = there.as_ref().map(|kept| store.hash_at(kept.witness.sequence)).transpose()?.flatten();
    let stands = standing(&head, key_named(&device_entries, head.device), there.as_ref(), witnessed);
    let made = match stands {
        Standing::Known | Standing::Unnamed | Standing::Begun(_) => None,
        Standing::Unkeyed => Some(KeptKey::new((head.device, key), &head, None)),
        Standing::Anew(reason) => Some(KeptKey::new((id(device), key), &head, Some(reason))),
    };
    if let Some(made) = &made {
        store.keep_key(made)?;
    }
    let kept = made.or(there).expect("a key that is known, unnamed or begun is there");
    let renewed = match stands {
        Standing::Anew(reason) | Standing::Begun(reason) => Some(reason),
        _ => None,
    };
    if stands != Standing::Known {
        let (key, seed) = (Some(kept.key()), ids);
        let (people, profiles) = (Vec::new(), Vec::new());
        let mut session =
            Session::new(Beginning { head, device_entries, people, key, seed, profiles, now: now.clone() });
        for output in session.introduce(kept.device, renewed, now) {
            if let Output::Append(batch) = output {
                store.append(&batch)?;
            }
        }
    }
    let kept = witness(store, &kept)?;
    Ok(Identity { kept, renewed })
}

/// Notes beside the ledger how far it has come. Where that cannot be noted, a full disk for instance, what stands there
/// is still true, and keeps nobody from working.
pub(crate) fn witness(store: &Store, key: &KeptKey) -> Result<KeptKey, StoreError> {
    let seen = key.seen(&store.head()?);
    if let Err(error) = store.keep_key(&seen) {
        tracing::warn!(%error, "how far the ledger has come was not noted beside it");
    }
    Ok(seen)
}

fn id(random: [u8; 32]) -> Uuid {
    let mut half = [0; 16];
    half.copy_from_slice(&random[..16]);
    Builder::from_random_bytes(half).into_uuid()
}
