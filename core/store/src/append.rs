//! Writing a batch: all of it, or nothing.

use crate::error::{During, StoreError};
use crate::{Store, erase, heads, people, row};
use evenwire_core::job::Line;
use evenwire_core::record::{Chunk, Hash, Head, KeptDetails, Sealed};
use evenwire_core::session::Batch;
use rusqlite::{OptionalExtension, Transaction, TransactionBehavior, named_params, params};
use std::fmt;
use uuid::Uuid;

/// Why a chunk is not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChunkRefused {
    /// The stored one is closed and is another.
    Closed,
    /// It holds fewer notifications than the stored one.
    Shrunk,
    /// Its hash is not that of its payload.
    WrongHash,
}

impl fmt::Display for ChunkRefused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            ChunkRefused::Closed => "it is closed already, with other contents",
            ChunkRefused::Shrunk => "it holds fewer notifications than were written before",
            ChunkRefused::WrongHash => "its hash is not that of its payload",
        })
    }
}

impl Store {
    /// Writes `batch` in one transaction that is on the disk when this returns.
    ///
    /// Entries must follow the stored head, which is looked up inside the transaction. An open chunk may grow and
    /// be closed; a closed one may come again, unchanged. Details, people and lines take the place of
    /// older ones of their own. A signed head must be of the end of the ledger after these entries, and of the key the
    /// ledger names. A line must name the entry that opened its job.
    /// The details and photos of jobs that are to be erased go; [`Store::checkpoint`] takes them out of the log as well.
    /// An empty batch does nothing.
    ///
    /// # Errors
    /// [`StoreError::Chain`], [`StoreError::Head`], [`StoreError::Chunk`], [`StoreError::Line`] for what does not belong;
    /// [`StoreError::Full`], [`StoreError::Busy`] and the like as named. After any error the file holds what it
    /// held before.
    pub fn append(&mut self, batch: &Batch) -> Result<(), StoreError> {
        if batch.is_empty() {
            return Ok(());
        }
        match self.write(batch) {
            // What is derived must not stand in the way: the index of the lines is made anew, once.
            Err(StoreError::Damaged { what }) if !batch.lines.is_empty() => {
                self.index_anew().map_err(|_| StoreError::Damaged { what })?;
                self.write(batch)
            }
            written => written,
        }
    }

    fn write(&mut self, batch: &Batch) -> Result<(), StoreError> {
        let during = || deed(batch);
        let tx = self.conn.transaction_with_behavior(TransactionBehavior::Immediate).during(during)?;
        put_entries(&tx, &batch.entries)?;
        heads::put(&tx, &batch.heads, &stored_head(&tx)?)?;
        batch.details.iter().try_for_each(|d| put_details(&tx, d))?;
        batch.chunks.iter().try_for_each(|c| put_chunk(&tx, c))?;
        batch.people.iter().try_for_each(|p| people::put(&tx, p))?;
        put_pictures(&tx, batch)?;
        batch.lines.iter().try_for_each(|l| put_line(&tx, l))?;
        erase::take_out(&tx, &batch.erased).during(during)?;
        tx.commit().during(during)
    }
}

fn deed(batch: &Batch) -> String {
    match (batch.entries.first(), batch.entries.last()) {
        (Some(first), Some(last)) => format!("writing entries {} to {}", first.entry().sequence, last.entry().sequence),
        _ => format!("writing {} chunks and {} lines", batch.chunks.len(), batch.lines.len()),
    }
}

pub(crate) fn put_entries(tx: &Transaction<'_>, entries: &[Sealed]) -> Result<(), StoreError> {
    let Some(first) = entries.first() else { return Ok(()) };
    let mut head = stored_head(tx)?;
    for sealed in entries {
        // What was just sealed may be longer or nested deeper than what can be read again; in the ledger it would
        // stand in the way of everything after it. So it is the bytes that are asked, here as on every reading.
        let read = Sealed::read(sealed.bytes().to_vec())?;
        head = head.after(&read)?;
        let entry = read.entry();
        tx.prepare_cached("INSERT INTO entry (sequence, job, kind, hash, bytes) VALUES (?1, ?2, ?3, ?4, ?5)")
            .and_then(|mut insert| {
                let job = entry.job.map(|j| j.into_bytes());
                insert.execute(params![row::signed(entry.sequence), job, entry.kind, read.hash().0, read.bytes()])
            })
            .during(|| format!("writing entry {}", entry.sequence))?;
    }
    tx.prepare_cached("UPDATE head SET device = ?1, sequence = ?2, hash = ?3")
        .and_then(|mut update| update.execute(params![head.device.as_bytes(), row::signed(head.sequence), head.hash.0]))
        .during(|| format!("moving the head from before entry {}", first.entry().sequence))?;
    Ok(())
}

/// The head as it stands in the transaction.
fn stored_head(tx: &Transaction<'_>) -> Result<Head, StoreError> {
    tx.prepare_cached("SELECT device, sequence, hash FROM head")
        .and_then(|mut select| select.query_row([], row::head))
        .during(|| "reading the head")
}

/// Each under the job of the entry that names it.
fn put_pictures(tx: &Transaction<'_>, batch: &Batch) -> Result<(), StoreError> {
    let job = batch.entries.iter().find_map(|sealed| sealed.entry().job);
    for (hash, bytes) in &batch.pictures {
        let owner = job.filter(|_| Hash::of(bytes) == *hash).ok_or(StoreError::Picture { hash: *hash })?;
        put_picture(tx, owner, (*hash, bytes))?;
    }
    Ok(())
}

pub(crate) fn put_picture(tx: &Transaction<'_>, job: Uuid, (hash, bytes): (Hash, &[u8])) -> Result<(), StoreError> {
    tx.prepare_cached("INSERT INTO picture (job, hash, bytes) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING")
        .and_then(|mut insert| insert.execute(params![job.as_bytes(), hash.0, bytes]))
        .during(|| format!("writing a photo of job {job}"))?;
    Ok(())
}

pub(crate) fn put_details(tx: &Transaction<'_>, details: &KeptDetails) -> Result<(), StoreError> {
    let sql = "INSERT INTO details (job, salt, sum, text) VALUES (?1, ?2, ?3, ?4)
               ON CONFLICT (job) DO UPDATE SET salt = excluded.salt, sum = excluded.sum, text = excluded.text";
    let values = params![details.job.as_bytes(), details.salt, row::details_sum(details), details.text];
    tx.prepare_cached(sql)
        .and_then(|mut insert| insert.execute(values))
        .during(|| format!("writing the details of job {}", details.job))?;
    Ok(())
}

pub(crate) fn put_chunk(tx: &Transaction<'_>, chunk: &Chunk) -> Result<(), StoreError> {
    let refused = |why| StoreError::Chunk { id: chunk.id, why };
    if Hash::of(&chunk.payload) != chunk.hash {
        return Err(refused(ChunkRefused::WrongHash));
    }
    if let Some(stored) = stored_chunk(tx, chunk)? {
        if stored.closed {
            return if stored == *chunk { Ok(()) } else { Err(refused(ChunkRefused::Closed)) };
        }
        if chunk.count < stored.count {
            return Err(refused(ChunkRefused::Shrunk));
        }
    }
    let sql = "INSERT INTO chunk (id, job, session, generation, closed, samples, first_at_ms, last_at_ms, min_digits,
                   max_digits, first_digits, last_digits, places, codec, sum, hash, payload)
               VALUES (:id, :job, :session, :generation, :closed, :samples, :first_at, :last_at, :min, :max, :first,
                   :last, :places, :codec, :sum, :hash, :payload)
               ON CONFLICT (id) DO UPDATE SET job = :job, session = :session, generation = :generation,
                   closed = :closed, samples = :samples, first_at_ms = :first_at, last_at_ms = :last_at,
                   min_digits = :min, max_digits = :max, first_digits = :first, last_digits = :last,
                   places = :places, codec = :codec, sum = :sum, hash = :hash, payload = :payload";
    let values = named_params! {
        ":id": chunk.id.as_bytes(), ":job": chunk.job.map(|j| j.into_bytes()), ":session": chunk.session.as_bytes(),
        ":generation": chunk.generation, ":closed": chunk.closed, ":samples": chunk.count,
        ":first_at": row::signed(chunk.first_at.0), ":last_at": row::signed(chunk.last_at.0),
        ":min": chunk.min, ":max": chunk.max, ":first": chunk.first, ":last": chunk.last,
        ":places": chunk.places, ":codec": chunk.codec, ":sum": row::chunk_sum(chunk), ":hash": chunk.hash.0,
        ":payload": chunk.payload,
    };
    tx.prepare_cached(sql)
        .and_then(|mut insert| insert.execute(values))
        .during(|| format!("writing chunk {}", chunk.id))?;
    Ok(())
}

fn stored_chunk(tx: &Transaction<'_>, like: &Chunk) -> Result<Option<Chunk>, StoreError> {
    let during = || format!("looking for chunk {}", like.id);
    let mut select = tx.prepare_cached(&format!("SELECT {} FROM chunk WHERE id = ?1", row::CHUNK)).during(during)?;
    let mut rows = select.query([like.id.as_bytes()]).during(during)?;
    rows.next().during(during)?.map(row::chunk).transpose()
}

/// Writes a line in place of an older one of its job.
pub(crate) fn put_line(tx: &Transaction<'_>, line: &Line) -> Result<(), StoreError> {
    let during = || format!("writing the line of job {}", line.job);
    let misplaced = || StoreError::Line { job: line.job, opened_by: line.opened_by };
    let opened_by = i64::try_from(line.opened_by).map_err(|_| misplaced())?;
    let of_job: Option<Option<[u8; 16]>> = tx
        .prepare_cached("SELECT job FROM entry WHERE sequence = ?1")
        .and_then(|mut select| select.query_row([opened_by], |r| r.get(0)).optional())
        .during(during)?;
    if of_job.flatten() != Some(line.job.into_bytes()) {
        return Err(misplaced());
    }
    let sql = "INSERT INTO line (opened_by, job, search, order_name, vehicle, customer, opened, stage, verdict,
                   condemned_by, taken, wanted, open_items, erased, sum)
               VALUES (:opened_by, :job, :search, :order, :vehicle, :customer, :opened, :stage, :verdict,
                   :condemned_by, :taken, :wanted, :open_items, :erased, :sum)
               ON CONFLICT (job) DO UPDATE SET opened_by = :opened_by, search = :search, order_name = :order,
                   vehicle = :vehicle, customer = :customer, opened = :opened, stage = :stage, verdict = :verdict,
                   condemned_by = :condemned_by, taken = :taken, wanted = :wanted,
                   open_items = :open_items, erased = :erased, sum = :sum";
    let values = named_params! {
        ":opened_by": opened_by, ":job": line.job.as_bytes(), ":search": format!("{}{}", line.search, row::END), ":order": line.order,
        ":vehicle": line.vehicle, ":customer": line.customer, ":opened": line.opened.as_str(),
        ":stage": row::stage(line), ":verdict": row::verdict(line), ":condemned_by": line.condemned_by,
        ":taken": line.taken, ":wanted": line.wanted, ":open_items": row::open_items(line),
        ":erased": line.erased, ":sum": row::line_sum(line),
    };
    tx.prepare_cached(sql).and_then(|mut insert| insert.execute(values)).during(during)?;
    Ok(())
}
