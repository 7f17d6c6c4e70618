//! Rows to values and back, with the sums that tell when a row decayed.

use crate::error::{During, StoreError};
use evenwire_core::job::Line;
use evenwire_core::record::{Chunk, Hash, Head, KeptDetails, Sealed};
use evenwire_core::unit::{Millis, Stamp};
use rusqlite::Row;
use serde_json::json;
use uuid::Uuid;

pub(crate) const ENTRY: &str = "sequence, job, kind, hash, bytes";
pub(crate) const CHUNK: &str = "id, job, session, generation, closed, samples, first_at_ms, last_at_ms, min_digits, \
                                max_digits, first_digits, last_digits, places, codec, sum, hash, payload";
pub(crate) const DETAILS: &str = "job, salt, sum, text";
pub(crate) const LINE: &str = "opened_by, job, search, order_name, vehicle, customer, opened, stage, verdict, \
                               condemned_by, taken, wanted, open_items, erased, sum";

/// Ends every search text as it is stored: three characters begin at each character of the text itself, the last too.
pub(crate) const END: &str = "\n\n";

/// The same 64 bits as a number SQLite can hold.
pub(crate) fn signed(number: u64) -> i64 {
    number as i64
}

/// A number SQLite held, as it was before [`signed`].
pub(crate) fn unsigned(number: i64) -> u64 {
    number as u64
}

/// The head from `device, sequence, hash`.
pub(crate) fn head(row: &Row<'_>) -> rusqlite::Result<Head> {
    Ok(Head { device: id(row, 0)?, sequence: count(row, 1)?, hash: Hash(row.get(2)?) })
}

/// An entry from the columns [`ENTRY`], compared with its bytes.
pub(crate) fn entry(row: &Row<'_>) -> Result<Sealed, StoreError> {
    let sequence: i64 = row.get(0).during(|| "reading the number of an entry")?;
    let during = || format!("reading entry {sequence}");
    let job: Option<[u8; 16]> = row.get(1).during(during)?;
    let hash: [u8; 32] = row.get(3).during(during)?;
    let bytes: Vec<u8> = row.get(4).during(during)?;
    let sealed = Sealed::read(bytes).map_err(|e| StoreError::damaged(format!("entry {sequence}: {e}")))?;
    let said = sealed.entry();
    let bad = |what: &str| Err(StoreError::damaged(format!("entry {sequence}: {what}")));
    if sealed.hash().0 != hash {
        return bad("its bytes are not those that were written");
    }
    if signed(said.sequence) != sequence {
        return bad("it stands under another number than its own");
    }
    if said.job.map(Uuid::into_bytes) != job {
        return bad("it stands under another job than its own");
    }
    if row.get_ref(2).during(during)?.as_str().ok() != Some(said.kind.as_str()) {
        return bad("it stands under another kind than its own");
    }
    Ok(sealed)
}

/// A chunk from the columns [`CHUNK`], compared with its sum and the hash of its payload.
pub(crate) fn chunk(row: &Row<'_>) -> Result<Chunk, StoreError> {
    let during = || "reading a chunk";
    let chunk = chunk_as_it_is(row).during(during)?;
    let sum: i64 = row.get(14).during(during)?;
    if chunk_sum(&chunk) != sum || Hash::of(&chunk.payload) != chunk.hash {
        return Err(StoreError::damaged(format!("chunk {} is not as it was written", chunk.id)));
    }
    Ok(chunk)
}

fn chunk_as_it_is(row: &Row<'_>) -> rusqlite::Result<Chunk> {
    Ok(Chunk {
        id: id(row, 0)?,
        job: row.get::<_, Option<_>>(1)?.map(Uuid::from_bytes),
        session: id(row, 2)?,
        generation: row.get(3)?,
        closed: row.get(4)?,
        count: row.get(5)?,
        first_at: Millis(unsigned(row.get(6)?)),
        last_at: Millis(unsigned(row.get(7)?)),
        min: row.get(8)?,
        max: row.get(9)?,
        first: row.get(10)?,
        last: row.get(11)?,
        places: row.get(12)?,
        codec: row.get(13)?,
        hash: Hash(row.get(15)?),
        payload: row.get(16)?,
    })
}

/// Personal details from the columns [`DETAILS`].
pub(crate) fn details(row: &Row<'_>) -> Result<KeptDetails, StoreError> {
    let during = || "reading personal details";
    let kept = (|| Ok(KeptDetails { job: id(row, 0)?, salt: row.get(1)?, text: row.get(3)? }))().during(during)?;
    let sum: i64 = row.get(2).during(during)?;
    if details_sum(&kept) != sum {
        return Err(StoreError::damaged(format!("the details of job {} are not as they were written", kept.job)));
    }
    Ok(kept)
}

/// A line from the columns [`LINE`].
pub(crate) fn line(row: &Row<'_>) -> Result<Line, StoreError> {
    let during = || "reading a line of the job list";
    let text = |index: usize| row.get::<_, String>(index).during(during);
    let job = id(row, 1).during(during)?;
    let bad = |what: &str| StoreError::damaged(format!("the line of job {job}: {what}"));
    let line = Line {
        job,
        opened_by: count(row, 0).during(during)?,
        search: text(2)?.strip_suffix(END).ok_or_else(|| bad("its search text has no end"))?.to_owned(),
        order: text(3)?,
        vehicle: text(4)?,
        customer: text(5)?,
        opened: Stamp::parse(&text(6)?).map_err(|e| bad(&e.to_string()))?,
        stage: serde_json::from_value(text(7)?.into()).map_err(|_| bad("no such stage"))?,
        verdict: match text(8)?.as_str() {
            "" => None,
            name => Some(serde_json::from_value(name.into()).map_err(|_| bad("no such verdict"))?),
        },
        condemned_by: text(9)?,
        taken: row.get(10).during(during)?,
        wanted: row.get(11).during(during)?,
        open: serde_json::from_str(&text(12)?).map_err(|_| bad("no such open item"))?,
        erased: row.get(13).during(during)?,
    };
    let sum: i64 = row.get(14).during(during)?;
    if line_sum(&line) != sum { Err(bad("it is not as it was written")) } else { Ok(line) }
}

/// The name of a line's stage, as it is stored.
pub(crate) fn stage(line: &Line) -> String {
    name(line.stage)
}

/// The name of a line's verdict, as it is stored; empty before the first one.
pub(crate) fn verdict(line: &Line) -> String {
    line.verdict.map(name).unwrap_or_default()
}

/// What is open, as it is stored.
pub(crate) fn open_items(line: &Line) -> String {
    json!(line.open).to_string()
}

fn name(of: impl serde::Serialize) -> String {
    match serde_json::to_value(of) {
        Ok(serde_json::Value::String(name)) => name,
        _ => unreachable!("a variant without fields is written as its name"),
    }
}

/// A number that counts something and so is never below zero.
pub(crate) fn count(row: &Row<'_>, index: usize) -> rusqlite::Result<u64> {
    let number: i64 = row.get(index)?;
    u64::try_from(number).map_err(|_| rusqlite::Error::IntegralValueOutOfRange(index, number))
}

fn id(row: &Row<'_>, index: usize) -> rusqlite::Result<Uuid> {
    row.get(index).map(Uuid::from_bytes)
}

/// Sum of a chunk's columns. The payload takes part through its hash.
pub(crate) fn chunk_sum(c: &Chunk) -> i64 {
    let values = json!([c.min, c.max, c.first, c.last, c.places]);
    let times = json!([c.first_at, c.last_at, c.count]);
    sum(&json!([c.id, c.job, c.session, c.generation, c.closed, times, values, c.codec, c.hash]))
}

/// Sum of personal details.
pub(crate) fn details_sum(d: &KeptDetails) -> i64 {
    sum(&json!([d.job, d.salt, d.text]))
}

/// Sum of a line.
pub(crate) fn line_sum(l: &Line) -> i64 {
    let texts = json!([l.search, l.order, l.vehicle, l.customer, l.opened, l.verdict, l.condemned_by]);
    sum(&json!([l.opened_by, l.job, texts, l.stage, l.taken, l.wanted, l.open, l.erased]))
}

/// The sum of a row's columns.
pub(crate) fn sum(columns: &serde_json::Value) -> i64 {
    let [a, b, c, d, e, f, g, h, ..] = Hash::of(columns.to_string().as_bytes()).0;
    i64::from_be_bytes([a, b, c, d, e, f, g, h])
}
