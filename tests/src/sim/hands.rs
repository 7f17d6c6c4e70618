//! A job goes from one simulated device to another, as a file that may lie about and be taken by anybody, also twice.

use super::phone::Phone;
use super::wire::held;
use anyhow::{Context, Result, ensure};
use evenwire_core::record::{
    Chunk, Claimed, Event, Hash, KeptDetails, KeptHead, Release, Sealed, SignedHead, SignedJob, told_of, vouched,
};
use evenwire_core::session::Batch;
use evenwire_core::sync::{BesideChange, BesideKind, changes_by};
use evenwire_core::unit::BootId;
use evenwire_store::Glance;
use uuid::Uuid;

/// A job as a device handed it over.
#[derive(Clone, Debug)]
pub struct Given {
    /// Which.
    pub job: Uuid,
    entries: Vec<Sealed>,
    head: SignedHead,
    signed: String,
    details: Option<KeptDetails>,
    chunks: Vec<Chunk>,
    pictures: Vec<(Hash, Vec<u8>)>,
    /// Another device wrote under the same name.
    parted: bool,
}

impl Phone {
    /// Hands a job over; the file of it.
    ///
    /// # Errors
    /// As the store says.
    pub fn give(&mut self, job: Uuid) -> Result<Given> {
        let key = Glance::at(&self.path)?.kept_key()?.and_then(|kept| kept.key()).context("a key")?;
        let mut desk = held(&self.desk);
        let release = Release { to: "whoever comes".into(), key: key.public(), people: Default::default() };
        let sealed = desk.sealed(job, &[Event::JobReleased(release)])?;
        let last = sealed.last().context("one")?;
        let mut all = desk.store().entries_of(job)?;
        all.extend(sealed.iter().cloned());
        let entries: Vec<Sealed> = told_of(&all).into_iter().cloned().collect();
        let proved = SignedJob::of(job, entries.iter().map(Sealed::hash));
        let entry = last.entry();
        let head = SignedHead { device: entry.device, sequence: entry.sequence, hash: last.hash(), job: Some(proved) };
        let kept = KeptHead::new(&head, &key);
        let signed = kept.jws.clone();
        desk.store().append(&Batch { entries: sealed, heads: vec![kept], ..Batch::default() })?;
        let (mut chunks, mut pictures) = (Vec::new(), Vec::new());
        for change in entries.iter().flat_map(changes_by) {
            let BesideChange::Named(of) = change else { continue };
            match of.kind {
                BesideKind::Samples => chunks
                    .extend(desk.store().chunk(of.hash)?.and_then(|chunk| Chunk::of_payload(job, chunk.payload).ok())),
                BesideKind::Photo => {
                    pictures.extend(desk.store().picture(job, of.hash)?.map(|bytes| (of.hash, bytes)));
                }
                BesideKind::Details | BesideKind::Person => {}
            }
        }
        let details = desk.store().details(job)?;
        Ok(Given { job, entries, head, signed, details, chunks, pictures, parted: self.parted })
    }

    /// Takes a job over in one go. False: all of it is here, or it went on here otherwise, and nothing is written.
    ///
    /// # Errors
    /// As the store says; what was handed over does not prove itself.
    pub fn take(&mut self, given: &Given) -> Result<bool> {
        let all: Vec<&Sealed> = given.entries.iter().collect();
        if let Err(fault) = vouched(&all, &given.signed) {
            // Two devices that write under one name do not make one chain.
            ensure!(self.parted || given.parted, "what was handed over does not prove itself: {fault}");
            return Ok(false);
        }
        let mut desk = held(&self.desk);
        let erased = desk.jobs()?.get(&given.job).is_some_and(|stands| stands.erased);
        let here = desk.store().entries_of(given.job)?;
        let ours: Vec<Hash> = told_of(&here).into_iter().map(Sealed::hash).collect();
        let theirs: Vec<Hash> = given.entries.iter().map(Sealed::hash).collect();
        let fresh = theirs.strip_prefix(ours.as_slice()).map_or(0, <[Hash]>::len);
        if fresh == 0 {
            return Ok(false);
        }
        let mut events = Vec::new();
        for sealed in &given.entries[given.entries.len() - fresh..] {
            events.push(Event::Carried { entry: String::from_utf8(sealed.bytes().to_vec())? });
        }
        events.push(Event::JobClaimed(Claimed {
            boot: BootId("sim".into()),
            from_device: given.head.device,
            from_sequence: given.head.sequence,
            from_hash: given.head.hash,
            signed: given.signed.clone(),
        }));
        let entries = desk.sealed(given.job, &events)?;
        let mut batch = Batch { entries, chunks: given.chunks.clone(), ..Batch::default() };
        if !erased {
            batch.details = given.details.iter().cloned().collect();
            batch.pictures = given.pictures.clone();
        }
        desk.store().append(&batch)?;
        Ok(true)
    }
}
