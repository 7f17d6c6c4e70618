//! What every answer needs: what is kept, who this hub is, its clock, and how often it may be asked.

use crate::blobs::Blobs;
pub use crate::rates::Rates;
use crate::storage::{HubRow, PairingRow, Setup, Storage, StorageError};
use crate::tls::Certificates;
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD as BASE64URL;
use evenwire_core::record::Hash;
use evenwire_core::sync::{Invitation, one_time_code, six_digits};
use evenwire_core::unit::Stamp;
use std::sync::Arc;
use tokio::sync::Notify;
use uuid::Uuid;

/// The wall clock: milliseconds since 1970 (UTC).
#[derive(Clone)]
pub struct Clock(Arc<dyn Fn() -> i64 + Send + Sync>);

impl Clock {
    /// The machine's.
    pub fn of_machine() -> Clock {
        Clock::told(|| jiff::Timestamp::now().as_millisecond())
    }

    /// Whatever `now` says.
    pub fn told(now: impl Fn() -> i64 + Send + Sync + 'static) -> Clock {
        Clock(Arc::new(now))
    }

    /// Now, ms.
    pub fn now_ms(&self) -> i64 {
        (self.0)()
    }

    /// Now, as it is written.
    pub fn stamp(&self) -> Stamp {
        stamp(self.now_ms())
    }
}

impl std::fmt::Debug for Clock {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Clock({})", self.now_ms())
    }
}

/// A time of the hub as it is written: RFC 3339, UTC. Times outside of what can be written are moved to its ends.
pub fn stamp(at_ms: i64) -> Stamp {
    let at = jiff::Timestamp::from_millisecond(at_ms).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
    Stamp::parse(&at.to_string()).expect("a time stamp is one")
}

/// The running hub.
#[derive(Debug)]
pub struct App {
    /// Rows.
    pub storage: Storage,
    /// What stands beside the entries.
    pub blobs: Blobs,
    /// Its id.
    pub hub: Uuid,
    /// What devices trust.
    pub certificates: Certificates,
    /// Where it is reached, written into invitations: address and port.
    pub addresses: Vec<String>,
    /// The time.
    pub clock: Clock,
    /// How often may be asked.
    pub rates: Rates,
    /// Told when lines are stale or blobs have to go.
    pub work: Notify,
}

/// What answers are given from.
pub type Shared = Arc<App>;

impl App {
    /// Which hub this is, and the token of the link by which its first owner comes in, if nobody came yet.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn begin(storage: &Storage, clock: &Clock) -> Result<(HubRow, Option<String>), StorageError> {
        let token = secret();
        let setup = Setup { id: random_id(), token: Hash::of(token.as_bytes()), at_ms: clock.now_ms() };
        let hub = storage.begin(setup).await?;
        let open = hub.waits_for_setup.then_some(token);
        Ok((hub, open))
    }

    /// An invitation for one device, good for [`crate::storage::INVITATION_MS`]; `by` is who made it.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn invite(&self, by: Option<Uuid>) -> Result<Invitation, StorageError> {
        let code = one_time_code(random());
        self.storage.invite(Hash::of(code.as_bytes()), by, self.clock.now_ms()).await?;
        Ok(Invitation {
            hub: self.hub,
            name: self.storage.shop_name().await?,
            addresses: self.addresses.clone(),
            authority: BASE64URL.encode(self.certificates.authority()),
            code,
        })
    }

    /// The six digits that both screens show for a device that waits.
    pub fn digits_of(&self, pairing: &PairingRow) -> String {
        six_digits(self.hub, self.certificates.authority(), pairing.device, &pairing.key)
    }
}

/// `N` random bytes of the operating system.
///
/// # Panics
/// When it gives none: nothing that is kept secret could be made.
pub fn random<const N: usize>() -> [u8; N] {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).expect("the operating system gives random bytes");
    bytes
}

/// A random id (UUIDv4).
pub fn random_id() -> Uuid {
    uuid::Builder::from_random_bytes(random()).into_uuid()
}

/// A secret of 256 bits as text.
pub fn secret() -> String {
    BASE64URL.encode(random::<32>())
}
