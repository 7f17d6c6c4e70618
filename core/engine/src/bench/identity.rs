//! Whose ledger the bench works on: its key is looked at beside the ledger, made where there is none, and a device
//! that cannot be sure to be alone goes on under a new id. Before anything else is written. A key whose secret is not to
//! be had for now stays the key: the device goes on and signs nothing until it is.

use super::StartError;
use crate::key_store::{self, Away, Found, KeyPlace};
use evenwire_core::record::{DeviceKey, KeptKey, Renewal, Standing, key_named, standing};
use evenwire_core::session::{Beginning, Output, Session};
use evenwire_core::unit::Now;
use evenwire_store::{Store, StoreError};
use uuid::{Builder, Uuid};

/// Who writes from here on.
#[derive(Clone, Debug)]
pub struct Identity {
    /// Its key, as kept beside the ledger.
    pub kept: KeptKey,
    /// The key itself, or why it is not to be had for now.
    pub key: Result<DeviceKey, Away>,
    /// It took the ledger up just now, for this reason.
    pub renewed: Option<Renewal>,
}

/// Finds out whose ledger it is, and writes it into the ledger where it does not stand there. Nothing may be written to
/// the ledger before, or when this fails: it would be under a wrong id.
///
/// # Errors
/// [`StartError`] when ledger or key cannot be read or written, or the system gives no random bytes.
pub(crate) fn of(store: &mut Store, now: &Now, place: KeyPlace) -> Result<Identity, StartError> {
    let draw = || {
        let mut bytes = [0; 32];
        getrandom::fill(&mut bytes).map(|()| bytes).map_err(|e| StartError::System(e.to_string()))
    };
    let random = [draw()?, draw()?, draw()?];
    settle(store, random, (now, place)).map_err(|source| StartError::Store { path: store.path().to_owned(), source })
}

/// The same with a device's id, a key and the ids of entries drawn from these random bytes, and the secret kept where
/// it is wanted.
///
/// The key is on the disk, or in the key store, before the ledger names it: killed in between, the next start takes up
/// the same key.
///
/// # Errors
/// [`StoreError`] when ledger or key cannot be read or written.
pub fn settle(
    store: &mut Store,
    [device, key, ids]: [[u8; 32]; 3],
    (now, place): (&Now, KeyPlace),
) -> Result<Identity, StoreError> {
    let (head, device_entries) = (store.head()?, store.entries_of_device()?);
    let there = store.kept_key()?;
    let witnessed = there.as_ref().map(|kept| store.hash_at(kept.witness.sequence)).transpose()?.flatten();
    let fits = standing(&head, key_named(&device_entries, head.device), there.as_ref(), witnessed);
    let (stands, secret) = secret_of(there.as_ref(), fits);
    let made = match stands {
        Standing::Known | Standing::Unnamed | Standing::Begun(_) => None,
        Standing::Unkeyed => Some(KeptKey::new((head.device, key), &head, None)),
        Standing::Anew(reason) => Some(KeptKey::new((id(device), key), &head, Some(reason))),
    };
    let secret = made.as_ref().map_or(secret, |made| Ok(made.key().expect("it was made just now")));
    let kept = match made {
        Some(made) => {
            let made = key_store::moved(made, place);
            store.keep_key(&made)?;
            made
        }
        None => key_store::moved(there.expect("a key that is known, unnamed or begun is there"), place),
    };
    let renewed = match stands {
        Standing::Anew(reason) | Standing::Begun(reason) => Some(reason),
        _ => None,
    };
    if stands != Standing::Known {
        let (key, seed) = (secret.as_ref().ok().cloned(), ids);
        let (people, profiles) = (Vec::new(), Vec::new());
        let mut session =
            Session::new(Beginning { head, device_entries, people, key, seed, profiles, now: now.clone() });
        for output in session.introduce((kept.device, kept.public()), renewed, now) {
            if let Output::Append(batch) = output {
                store.append(&batch)?;
            }
        }
    }
    let mut kept = kept;
    if secret.is_err() && kept.unsigned_after.is_none() {
        kept.unsigned_after = Some(store.head()?.sequence);
    }
    let kept = witness(store, &kept)?;
    Ok(Identity { kept, key: secret, renewed })
}

/// How a key stands whose secret was looked for, and what came of that: a key store that is locked or silent changes
/// nothing in whose ledger it is, one that surely has no such secret is as good as no key.
fn secret_of(there: Option<&KeptKey>, fits: Standing) -> (Standing, Result<DeviceKey, Away>) {
    let Some(kept) = there.filter(|_| matches!(fits, Standing::Known | Standing::Unnamed | Standing::Begun(_))) else {
        return (fits, Err(Away::Silent));
    };
    match key_store::find(kept) {
        Found::Key(key) => (fits, Ok(*key)),
        Found::Lost => (fits.without_secret(), Err(Away::Silent)),
        Found::Away(away) => (fits, Err(away)),
    }
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
