//! What was acknowledged, and whether a ledger still says so.

use super::whole::Shown;
use anyhow::{Result, bail, ensure};
use evenwire_core::record::Hash;
use evenwire_core::session::Batch;
use evenwire_store::Store;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Everything that was ever committed, by what tells it from everything else.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Truth {
    /// Entries by number.
    pub entries: BTreeMap<u64, Hash>,
    /// Every state a chunk was in.
    pub chunks: BTreeSet<(Uuid, Hash, bool)>,
    /// Every state personal details and people were in, as a hash of what is said of them.
    pub beside: BTreeSet<Hash>,
    /// Photos by job.
    pub pictures: BTreeSet<(Uuid, Hash)>,
    /// Jobs.
    pub jobs: BTreeSet<Uuid>,
    /// What a screen said of jobs.
    pub shown: BTreeMap<Uuid, Shown>,
}

/// How much of it a ledger holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Holds {
    /// Entries, from the first without a gap.
    pub entries: u64,
    /// Chunks of jobs.
    pub chunks: u64,
    /// Photos.
    pub pictures: u64,
    /// Details and people.
    pub beside: u64,
}

fn said(of: &impl std::fmt::Debug) -> Hash {
    Hash::of(format!("{of:?}").as_bytes())
}

impl Truth {
    /// `batch` was committed.
    pub fn learn(&mut self, batch: &Batch) {
        for sealed in &batch.entries {
            self.entries.insert(sealed.entry().sequence, sealed.hash());
            self.jobs.extend(sealed.entry().job);
        }
        self.chunks.extend(batch.chunks.iter().map(|chunk| (chunk.id, chunk.hash, chunk.closed)));
        self.beside.extend(batch.details.iter().map(said));
        self.beside.extend(batch.people.iter().map(said));
        let job = batch.entries.iter().find_map(|sealed| sealed.entry().job);
        self.pictures.extend(batch.pictures.iter().filter_map(|(hash, _)| Some((job?, *hash))));
    }

    /// How many entries there are; their numbers have no gap.
    pub fn newest(&self) -> u64 {
        self.entries.last_key_value().map_or(0, |(sequence, _)| *sequence)
    }

    /// How much of it `store` holds, when what it holds is nothing else. What a read refuses as damaged is not held.
    ///
    /// # Errors
    /// It holds something that never was, says it without a word.
    pub fn held_by(&self, store: &Store) -> Result<Holds> {
        let mut holds = Holds::default();
        let entries = store.entries_after(0, u32::MAX).unwrap_or_default();
        for (number, sealed) in (1..).zip(&entries) {
            ensure!(
                sealed.entry().sequence == number,
                "entry {} stands in the place of {number}",
                sealed.entry().sequence
            );
            ensure!(self.entries.get(&number) == Some(&sealed.hash()), "entry {number} is not what was written");
            holds.entries = number;
        }
        for job in &self.jobs {
            for chunk in store.chunks_of(*job).unwrap_or_default() {
                ensure!(self.chunks.contains(&(chunk.id, chunk.hash, chunk.closed)), "chunk {} never was", chunk.id);
                holds.chunks += 1;
            }
            if let Ok(Some(details)) = store.details(*job) {
                ensure!(self.beside.contains(&said(&details)), "details of job {job} never were");
                holds.beside += 1;
            }
        }
        for (job, hash) in &self.pictures {
            holds.pictures += u64::from(matches!(store.picture(*job, *hash), Ok(Some(_))));
        }
        for person in store.people().unwrap_or_default() {
            ensure!(self.beside.contains(&said(&person)), "person {} never was", person.person);
            holds.beside += 1;
        }
        Ok(holds)
    }

    /// `store` is whole and has everything that was acknowledged.
    ///
    /// # Errors
    /// What is missing, or what its own check finds.
    pub fn all_in(&self, store: &Store) -> Result<()> {
        let report = store.check()?;
        ensure!(report.is_whole(), "not whole: {report:?}");
        let entries = store.entries_after(0, u32::MAX)?;
        let stored: BTreeMap<u64, Hash> =
            entries.iter().map(|sealed| (sealed.entry().sequence, sealed.hash())).collect();
        for (sequence, hash) in &self.entries {
            match stored.get(sequence) {
                Some(found) if found == hash => {}
                Some(_) => bail!("entry {sequence} is another than was acknowledged"),
                None => bail!("entry {sequence} was acknowledged and is not there; the newest is {}", entries.len()),
            }
        }
        for (id, hash, closed) in &self.chunks {
            // An open one may have grown since.
            ensure!(!closed || store.chunk(*hash)?.is_some(), "chunk {id} was acknowledged and is not there");
        }
        for (job, hash) in &self.pictures {
            ensure!(store.picture(*job, *hash)?.is_some(), "photo {hash} was acknowledged and is not there");
        }
        self.shown.iter().try_for_each(|(job, shown)| shown.is_in(store, *job))
    }
}
