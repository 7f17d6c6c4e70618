//! One round: step by step until everything is there, or something is in the way. It may be dropped at any place.

use super::client::{Client, Fault, Meant, Who};
use super::worker::Worker;
use crate::claim::note_end;
use crate::key_store;
use evenwire_core::record::{Hash, Sealed};
use evenwire_core::sync::{
    BesideKind, Doing, Heads, Known, MOST_ASKED, MOST_BLOB_BYTES, MOST_ENTRIES, MOST_HEADS, Missing, PushAsk, PushHead,
    Step, Stored, TailSays, Trouble, look_at_tail, next_step,
};
use evenwire_store::{Delivery, Glance, Named, PairedHub, StoreError, There};
use serde_json::value::RawValue;
use std::collections::BTreeSet;

/// Entries that are looked at in one go.
const LOOK: u32 = 500;
/// Batches that begin at another number than the hub wants, in a round: then it is a fault.
const MOST_GAPS: u32 = 3;

/// What is known only as long as the hub can be reached.
#[derive(Debug)]
pub(super) struct Round {
    client: Client,
    tail: Option<u64>,
    /// Changes were not fetched yet.
    changes: bool,
    gaps: u32,
    /// Things the hub did not want after it had said that it lacks them.
    unwanted: BTreeSet<Hash>,
}

/// What has to be at hand for a step.
struct Desk {
    who: Who,
    paired: PairedHub,
    ledger: Glance,
}

pub(super) fn on_disk(error: &StoreError) -> Trouble {
    tracing::warn!(%error, "what is known of the hub cannot be read or written");
    Trouble::Disk
}

impl Worker {
    /// Goes on until everything is there.
    pub(super) async fn round(&mut self) -> Result<(), Trouble> {
        let desk = self.desk()?;
        self.book(|book| book.seek_again())?;
        let meant = Meant {
            hub: desk.paired.hub,
            addresses: desk.paired.addresses.clone(),
            authority: desk.paired.authority.clone(),
        };
        let client = Client::reach(&self.outside, &meant).await?;
        let name = client.card.name.clone();
        if name != desk.paired.shop {
            self.book(|book| book.call_shop(&name))?;
        }
        let mut round = Round { client, tail: None, changes: true, gaps: 0, unwanted: BTreeSet::new() };
        loop {
            let step = next_step(&self.known(&desk, &round)?, self.pace);
            if matches!(step, Step::Send { .. } | Step::Put(_)) {
                self.doing = Doing::Sending;
            }
            match step {
                Step::AskTail => self.ask_tail(&desk, &mut round).await?,
                Step::Look { after } => {
                    let entries = desk.ledger.entries_after(after, LOOK).map_err(|e| on_disk(&e))?;
                    self.book(|book| book.look_at(&entries))?;
                }
                Step::Send { after, bytes } => self.send((after, bytes), &desk, &mut round).await?,
                Step::SendHeads => self.send_heads(&desk, &mut round).await?,
                Step::AskMissing => self.ask_missing(&desk, &mut round).await?,
                Step::Put(_) => self.put(&desk, &mut round).await?,
                Step::FetchChanges => {
                    let after = self.book(|book| book.standing())?.change;
                    let changes = round.client.changes(&desk.who, after).await.map_err(Fault::trouble)?;
                    round.changes = changes.more && !changes.changes.is_empty();
                    round.changes &= self.take_news(changes).await?;
                }
                Step::Rest => return self.note_complete(),
            }
            // It answers: whatever was in the way is not any more.
            self.trouble = None;
            self.publish();
        }
    }

    fn note_complete(&mut self) -> Result<(), Trouble> {
        let standing = self.book(|book| book.standing())?;
        if standing.there == standing.named {
            let wall = self.outside.wall();
            self.book(|book| book.complete(&wall))?;
        }
        Ok(())
    }

    /// With whom, and who asks: the device that was paired, and no other.
    fn desk(&mut self) -> Result<Desk, Trouble> {
        let paired = self.book(|book| book.paired())?.ok_or(Trouble::NotPaired)?;
        let ledger = Glance::at(&self.ledger).map_err(|e| on_disk(&e))?;
        let kept = ledger.kept_key().map_err(|e| on_disk(&e))?;
        let head = ledger.head().map_err(|e| on_disk(&e))?;
        let kept = kept.filter(|kept| kept.device == paired.device && head.device == paired.device);
        // Taken by the bench before: what was closed without the key is signed by then.
        let key = key_store::held(&kept.ok_or(Trouble::OtherIdentity)?).ok_or(Trouble::KeyAway)?;
        Ok(Desk { who: Who { device: paired.device, key }, paired, ledger })
    }

    fn known(&mut self, desk: &Desk, round: &Round) -> Result<Known, Trouble> {
        let end = desk.ledger.head().map_err(|e| on_disk(&e))?.sequence;
        let (tail, changes) = (round.tail, round.changes);
        let brought = self.book(|book| book.standing())?.heads;
        let heads = desk.ledger.heads_after(brought, tail.unwrap_or(0), 1).map_err(|e| on_disk(&e))?;
        self.book(|book| {
            let unasked = tail.map_or(Ok(Vec::new()), |tail| book.unasked(tail, 1))?;
            Ok(Known {
                end,
                looked: book.standing()?.looked,
                tail,
                heads: !heads.is_empty(),
                unasked: !unasked.is_empty(),
                missing: book.missing()?.map(|named| named.hash),
                changes,
            })
        })
    }

    async fn ask_tail(&mut self, desk: &Desk, round: &mut Round) -> Result<(), Trouble> {
        let tail = round.client.tail(&desk.who).await.map_err(Fault::trouble)?;
        let before = self.book(|book| book.standing())?;
        let there = tail.next_sequence.saturating_sub(1);
        match look_at_tail(&tail, before.stored_through, hash_at(&desk.ledger, there)?) {
            TailSays::GoesOn => self.book(|book| book.stored(there))?,
            TailSays::FellBack => {
                tracing::warn!(there, before = before.stored_through, "the hub lost entries; they are sent again");
                self.book(|book| book.fell_back(there))?;
            }
            TailSays::Parted { sequence } => return Err(Trouble::Fork { sequence }),
        }
        // It lacks more of what its entries name than is known to be lacking. What later entries name is no part of it.
        if tail.missing > self.book(|book| book.lacking(there))? {
            self.book(Delivery::ask_again)?;
        }
        round.tail = Some(there);
        Ok(())
    }

    async fn send(&mut self, (after, bytes): (u64, usize), desk: &Desk, round: &mut Round) -> Result<(), Trouble> {
        let limits = round.client.card.limits;
        let most = u32::try_from(MOST_ENTRIES.min(limits.entries).max(1)).unwrap_or(1);
        let entries = desk.ledger.entries_after(after, most).map_err(|e| on_disk(&e))?;
        let batch = first_bytes(&entries, bytes.min(limits.batch_bytes));
        let Some(last) = batch.last() else { return Err(Trouble::Disk) };
        let head = PushHead {
            hub: desk.paired.hub,
            device: desk.who.device,
            sequence: last.entry().sequence,
            hash: last.hash(),
        };
        let raw = |sealed: &Sealed| {
            // The bytes as they were hashed, to the last blank.
            let text = String::from_utf8(sealed.bytes().to_vec()).ok()?;
            RawValue::from_string(text).ok()
        };
        let entries: Option<Vec<_>> = batch.iter().map(raw).collect();
        let ask = PushAsk {
            first_sequence: after + 1,
            entries: entries.ok_or(Trouble::NotUnderstood)?,
            head: head.sign(&desk.who.key),
        };
        // What is sent may have been recorded since this round began.
        note_end(&desk.ledger);
        let began = self.outside.boot();
        let answer = round.client.push(&desk.who, &ask).await;
        match answer {
            Ok(stored) => {
                self.pace = self.pace.came_through(self.outside.boot().since(began));
                self.note_stored(stored, desk, round)
            }
            // It was lost and came back between two batches: asked once more where it ends.
            Err(fault) if fault.is("gap") && round.gaps < MOST_GAPS => {
                round.gaps += 1;
                round.tail = None;
                Ok(())
            }
            Err(fault) => {
                self.pace = self.pace.lost();
                Err(fault.trouble())
            }
        }
    }

    /// Believed only where it is what was sent.
    fn note_stored(&mut self, stored: Stored, desk: &Desk, round: &mut Round) -> Result<(), Trouble> {
        let through = stored.stored_through;
        if hash_at(&desk.ledger, through)? != Some(stored.hash) {
            return Err(Trouble::Fork { sequence: through });
        }
        // One that does not go forward would be sent to for ever.
        if round.tail.is_some_and(|tail| through <= tail) {
            return Err(Trouble::NotUnderstood);
        }
        round.tail = Some(through);
        self.book(|book| book.stored(through))
    }

    async fn send_heads(&mut self, desk: &Desk, round: &mut Round) -> Result<(), Trouble> {
        let (brought, tail) = (self.book(|book| book.standing())?.heads, round.tail.unwrap_or(0));
        let most = u32::try_from(MOST_HEADS).unwrap_or(1);
        let heads = desk.ledger.heads_after(brought, tail, most).map_err(|e| on_disk(&e))?;
        // By their own numbers: what was closed without the key is signed later, many jobs at one entry.
        let last = heads.last().map_or(brought, |(number, _)| *number);
        let said = Heads { heads: heads.into_iter().map(|(_, head)| head.jws).collect() };
        let came = round.client.heads(&desk.who, &said).await.map_err(Fault::trouble)?;
        if came.passed_over > 0 {
            tracing::warn!(came.passed_over, "signed heads prove nothing to the hub");
        }
        self.book(|book| book.brought_heads(last))
    }

    async fn ask_missing(&mut self, desk: &Desk, round: &mut Round) -> Result<(), Trouble> {
        let most = u32::try_from(MOST_ASKED.min(round.client.card.limits.asked).max(1)).unwrap_or(1);
        let asked = self.book(|book| book.unasked(round.tail.unwrap_or(0), most))?;
        let question = Missing { hashes: asked };
        let missing = round.client.missing(&desk.who, &question).await.map_err(Fault::trouble)?;
        let lacks: BTreeSet<Hash> = missing.hashes.into_iter().collect();
        let known: Vec<(Hash, There)> = question
            .hashes
            .into_iter()
            .map(|hash| (hash, if lacks.contains(&hash) { There::No } else { There::Yes }))
            .collect();
        self.book(|book| book.know(&known))
    }

    async fn put(&mut self, desk: &Desk, round: &mut Round) -> Result<(), Trouble> {
        let Some(named) = self.book(|book| book.missing())? else { return Ok(()) };
        let most = MOST_BLOB_BYTES.min(round.client.card.limits.blob_bytes);
        let Some(bytes) = fetched(&desk.ledger, named)?.filter(|bytes| bytes.len() <= most) else {
            tracing::warn!(hash = %named.hash, kind = ?named.kind, "it is not on this device any more");
            return self.book(|book| book.know(&[(named.hash, There::Lost)]));
        };
        match round.client.put(&desk.who, named.hash, &bytes).await {
            Ok(()) => self.book(|book| book.know(&[(named.hash, There::Yes)])),
            // Erased there in the meantime, perhaps: it is asked about once more.
            Err(fault) if fault.is("not-wanted") && round.unwanted.insert(named.hash) => {
                self.book(|book| book.know(&[(named.hash, There::Unknown)]))
            }
            Err(fault) => Err(fault.trouble()),
        }
    }
}

/// As many of the first entries as have so many bytes; one at least.
fn first_bytes(entries: &[Sealed], most: usize) -> &[Sealed] {
    let mut sum = 0;
    let fit = entries.iter().take_while(|sealed| {
        sum += sealed.bytes().len();
        sum <= most
    });
    let count = fit.count().max(1).min(entries.len());
    &entries[..count]
}

/// Hash of an entry; that before the first is known to everybody.
fn hash_at(ledger: &Glance, sequence: u64) -> Result<Option<Hash>, Trouble> {
    let Some(before) = sequence.checked_sub(1) else { return Ok(Some(Hash::ZERO)) };
    let found = ledger.entries_after(before, 1).map_err(|e| on_disk(&e))?.pop();
    Ok(found.filter(|sealed| sealed.entry().sequence == sequence).map(|sealed| sealed.hash()))
}

/// Bytes of a thing; `None`: it is not here, or not as it was.
fn fetched(ledger: &Glance, named: Named) -> Result<Option<Vec<u8>>, Trouble> {
    let found = match (named.kind, named.job) {
        (BesideKind::Samples, _) => ledger.chunk(named.hash).map(|chunk| chunk.map(|chunk| chunk.payload)),
        (BesideKind::Photo, Some(job)) => ledger.picture(job, named.hash),
        (BesideKind::Details, Some(job)) => ledger.details(job).map(|kept| kept.map(|kept| kept.to_bytes())),
        (BesideKind::Person, _) => ledger
            .people()
            .map(|people| people.into_iter().find(|kept| kept.commitment() == named.hash).map(|kept| kept.to_bytes())),
        (BesideKind::Photo | BesideKind::Details, None) => Ok(None),
    };
    match found {
        Ok(bytes) => Ok(bytes.filter(|bytes| Hash::of(bytes) == named.hash)),
        Err(StoreError::Damaged { .. }) => Ok(None),
        Err(error) => Err(on_disk(&error)),
    }
}
