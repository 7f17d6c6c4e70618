//! Ids and salts: random bytes come in once, when the session begins; what follows is their hash.

use crate::record::Hash;
use crate::unit::Now;
use uuid::{Builder, Uuid};

/// Draws ids and salts from a secret seed. The same seed and inputs give the same ids.
#[derive(Clone, Debug)]
pub(super) struct Ids {
    seed: [u8; 32],
    drawn: u64,
}

impl Ids {
    pub(super) fn new(seed: [u8; 32]) -> Ids {
        Ids { seed, drawn: 0 }
    }

    /// 32 bytes nobody can guess without the seed.
    pub(super) fn salt(&mut self) -> [u8; 32] {
        self.drawn += 1;
        Hash::of_two(&self.seed, &self.drawn.to_be_bytes()).0
    }

    /// A UUIDv7 (RFC 9562).
    pub(super) fn id(&mut self, now: &Now) -> Uuid {
        let random = self.salt();
        let mut ten = [0u8; 10];
        ten.copy_from_slice(&random[..10]);
        let millis = u64::try_from(now.wall.unix_millis()).unwrap_or(0);
        Builder::from_unix_timestamp_millis(millis, &ten).into_uuid()
    }
}
