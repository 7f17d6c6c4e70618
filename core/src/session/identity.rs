//! The device that writes: it says who it is, and signs what it has written.

use super::{Batch, Output, Session, push_append};
use crate::job::{HandRefusal, Job};
use crate::record::{
    DeviceKey, Event, Head, KeptHead, PublicKey, Renewal, Sealed, SignedHead, SignedJob, Witness, key_named,
};
use crate::unit::Now;
use uuid::Uuid;

/// The key of the device, and whether its ledger knows it.
#[derive(Clone, Debug, Default)]
pub(super) struct Seal {
    key: Option<DeviceKey>,
    named: Option<PublicKey>,
}

impl Seal {
    pub(super) fn new(key: Option<DeviceKey>, device_entries: &[Sealed], device: Uuid) -> Seal {
        Seal { key, named: key_named(device_entries, device) }
    }

    /// The ledger names this key from here on.
    pub(super) fn named(&mut self, key: PublicKey) {
        self.named = Some(key);
    }

    /// The key by which the device is known, if its ledger names it.
    pub(super) fn key(&self) -> Option<&DeviceKey> {
        self.key.as_ref().filter(|key| self.named == Some(key.public()))
    }

    /// The key by which the device is known.
    ///
    /// # Errors
    /// [`HandRefusal::KeyAway`], [`HandRefusal::NoKey`].
    pub(super) fn known(&self) -> Result<&DeviceKey, HandRefusal> {
        let missing =
            if self.key.is_none() && self.named.is_some() { HandRefusal::KeyAway } else { HandRefusal::NoKey };
        self.key().ok_or(missing)
    }

    /// The end of the ledger, signed, where `job` has been closed or handed over. A key the ledger does not name signs nothing:
    /// nobody could tell whose it is.
    pub(super) fn of_sealed(&self, job: &Job, head: &Head) -> Option<KeptHead> {
        let key = self.key()?;
        if job.finished.is_none() && job.hands.away().is_none() {
            return None;
        }
        let job = SignedJob::of(job.id, job.entries.iter().copied());
        let head = SignedHead { device: head.device, sequence: head.sequence, hash: head.hash, job: Some(job) };
        Some(KeptHead::new(&head, key))
    }
}

impl Session {
    /// Takes the key that was not to be had before, and signs `jobs` that were closed or handed over without it: each as
    /// it stands now, at the end of the ledger.
    pub fn take_key(&mut self, key: DeviceKey, jobs: &[Job]) -> Vec<Output> {
        self.seal.key = Some(key);
        let heads = jobs.iter().filter_map(|job| self.seal.of_sealed(job, &self.head)).collect();
        let mut outputs = Vec::new();
        push_append(&mut outputs, Batch { heads, ..Batch::default() });
        outputs
    }

    /// Writes whose ledger this is from here on: that `device` takes it up, where a reason is given, and the key it is
    /// known by.
    pub fn introduce(&mut self, (device, key): (Uuid, PublicKey), renewal: Option<Renewal>, now: &Now) -> Vec<Output> {
        let from = Witness::of(&self.head);
        let renewed = renewal.map(|reason| Event::IdentityRenewed {
            from_device: self.head.device,
            from_sequence: from.sequence,
            from_hash: from.hash,
            reason,
        });
        if renewed.is_some() {
            self.head.device = device;
        }
        let mut outputs = Vec::new();
        self.record(renewed.into_iter().chain([Event::DeviceKeyed { key }]).collect(), now, &mut outputs);
        outputs
    }
}
