//! Signed ends of the ledger: taken only from the device whose ledger it is, and only if they say what it holds.

use crate::error::{During, StoreError};
use crate::{Store, read, row};
use evenwire_core::record::{
    Hash, Head, KeptHead, PublicKey, Sealed, SignatureError, SignedHead, SignedJob, Telling, key_named,
};
use rusqlite::{Connection, Row, Transaction, params};
use uuid::Uuid;

/// Columns of a signed head.
pub(crate) const HEAD: &str = "sequence, job, jws";

/// Why a signed head is not taken.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum HeadRefused {
    /// No entry names the key of the device, so nobody could tell whose signature it is.
    #[error("the ledger names no key of its device")]
    NoKey,
    /// The key the ledger names did not sign it.
    #[error(transparent)]
    Signature(#[from] SignatureError),
    /// It says something else than the ledger.
    #[error("it does not say what the ledger holds")]
    Other,
}

impl Store {
    /// Signed heads that prove `job`, oldest first.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] when a row cannot be read.
    pub fn heads_of(&self, job: Uuid) -> Result<Vec<KeptHead>, StoreError> {
        heads_of(&self.conn, job)
    }

    /// Jobs that have entries after number `sequence` and no signed head of their newest one or a later, by their newest
    /// entries. Jobs that are open are among them.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn unsigned_after(&self, sequence: u64) -> Result<Vec<Uuid>, StoreError> {
        let sql = "SELECT job, max(sequence) AS newest FROM entry WHERE sequence > ?1 AND job IS NOT NULL
                   GROUP BY job HAVING NOT EXISTS
                   (SELECT 1 FROM signed_head WHERE signed_head.job = entry.job AND signed_head.sequence >= newest)
                   ORDER BY newest";
        let job = |row: &Row<'_>| row.get(0).map(Uuid::from_bytes).during(|| "looking for what is not signed");
        self.all(sql, [row::signed(sequence)], job)
    }

    /// Hash of an entry, all zero for 0; `None` where the ledger has no such entry.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn hash_at(&self, sequence: u64) -> Result<Option<Hash>, StoreError> {
        hash_at(&self.conn, sequence)
    }

    /// Every signed head that is not what the ledger holds, at most `most`, in words.
    pub(crate) fn bad_heads(&self, most: usize) -> Result<Vec<String>, StoreError> {
        let sql = format!("SELECT {HEAD} FROM signed_head ORDER BY number");
        let heads = self.all(&sql, [], head)?;
        let of_device = keyed(&self.conn)?;
        let mut bad = Vec::new();
        for kept in heads {
            if let Err(why) = self.holds(&kept, &of_device)? {
                bad.push(format!("the signature of entry {}: {why}", kept.sequence));
            }
            if bad.len() == most {
                break;
            }
        }
        Ok(bad)
    }

    fn holds(&self, kept: &KeptHead, keyed: &[Sealed]) -> Result<Result<(), HeadRefused>, StoreError> {
        let sql = format!("SELECT {} FROM entry WHERE sequence = ?1", row::ENTRY);
        let Some(entry) = self.all(&sql, [row::signed(kept.sequence)], row::entry)?.pop() else {
            return Ok(Err(HeadRefused::Other));
        };
        let head = Head { device: entry.entry().device, sequence: kept.sequence, hash: entry.hash() };
        let job = kept.job.map(|job| job_up_to(&self.conn, job, kept.sequence)).transpose()?;
        Ok(said(kept, key_named(keyed, head.device), &head, job))
    }
}

/// Writes what is signed of the ledger that ends at `head`.
pub(crate) fn put(tx: &Transaction<'_>, heads: &[KeptHead], head: &Head) -> Result<(), StoreError> {
    if heads.is_empty() {
        return Ok(());
    }
    let key = key_named(&keyed(tx)?, head.device);
    for kept in heads {
        let job = kept.job.map(|job| job_up_to(tx, job, head.sequence)).transpose()?;
        said(kept, key, head, job).map_err(|why| StoreError::Head { sequence: kept.sequence, why })?;
        tx.prepare_cached("INSERT INTO signed_head (sequence, job, jws) VALUES (?1, ?2, ?3)")
            .and_then(|mut insert| {
                let job = kept.job.map(Uuid::into_bytes);
                insert.execute(params![row::signed(kept.sequence), job, kept.jws])
            })
            .during(|| format!("writing the signature of entry {}", kept.sequence))?;
    }
    Ok(())
}

/// The signature is that of the device, over exactly this.
fn said(kept: &KeptHead, key: Option<PublicKey>, head: &Head, job: Option<SignedJob>) -> Result<(), HeadRefused> {
    let signed = SignedHead::verify(&key.ok_or(HeadRefused::NoKey)?, &kept.jws)?;
    let here = SignedHead { device: head.device, sequence: head.sequence, hash: head.hash, job };
    if signed == here && kept.sequence == head.sequence { Ok(()) } else { Err(HeadRefused::Other) }
}

/// Entries that name a key.
fn keyed(conn: &Connection) -> Result<Vec<Sealed>, StoreError> {
    let sql = format!("SELECT {} FROM entry WHERE job IS NULL AND kind = 'device-keyed' ORDER BY sequence", row::ENTRY);
    read::all(conn, &sql, ([], row::entry))
}

/// A job as its entries stand up to one of them.
fn job_up_to(conn: &Connection, job: Uuid, sequence: u64) -> Result<SignedJob, StoreError> {
    // Only of what came from elsewhere the bytes are needed: its own hash stands in them.
    let sql = "SELECT kind, hash, CASE WHEN kind = 'carried' THEN bytes END FROM entry
               WHERE job = ?1 AND sequence <= ?2 ORDER BY sequence";
    let during = || "reading the hash of an entry";
    let told = |row: &Row<'_>| {
        let (kind, hash): (String, Hash) = (row.get(0).during(during)?, row.get(1).map(Hash).during(during)?);
        let bytes: Option<Vec<u8>> = row.get(2).during(during)?;
        let read = bytes.map(Sealed::read).transpose()?;
        Ok(read.map_or((kind, hash), |sealed| (sealed.told().entry().kind.clone(), sealed.told().hash())))
    };
    let mut telling = Telling::default();
    for (kind, hash) in read::all(conn, sql, (params![job.as_bytes(), row::signed(sequence)], told))? {
        telling.add(&kind, hash);
    }
    Ok(SignedJob::of(job, telling.into_hashes()))
}

fn hash_at(conn: &Connection, sequence: u64) -> Result<Option<Hash>, StoreError> {
    if sequence == 0 {
        return Ok(Some(Hash::ZERO));
    }
    let hash = |row: &Row<'_>| row.get(0).map(Hash).during(|| "reading the hash of an entry");
    Ok(read::all(conn, "SELECT hash FROM entry WHERE sequence = ?1", ([row::signed(sequence)], hash))?.pop())
}

/// Signed heads after number `after`, in the order in which they were written, of entries up to `through`, at most `limit`.
pub(crate) fn heads_after(
    conn: &Connection,
    after: u64,
    through: u64,
    limit: u32,
) -> Result<Vec<(u64, KeptHead)>, StoreError> {
    let sql =
        format!("SELECT {HEAD}, number FROM signed_head WHERE number > ?1 AND sequence <= ?2 ORDER BY number LIMIT ?3");
    let numbered = |row: &Row<'_>| Ok((row::count(row, 3).during(|| "reading a signed head")?, head(row)?));
    read::all(conn, &sql, (params![row::signed(after), row::signed(through), limit], numbered))
}

/// See [`Store::heads_of`].
pub(crate) fn heads_of(conn: &Connection, job: Uuid) -> Result<Vec<KeptHead>, StoreError> {
    let sql = format!("SELECT {HEAD} FROM signed_head WHERE job = ?1 ORDER BY number");
    read::all(conn, &sql, ([job.as_bytes()], head))
}

/// A signed head from the columns [`HEAD`].
pub(crate) fn head(row: &Row<'_>) -> Result<KeptHead, StoreError> {
    let during = || "reading a signed head";
    let job: Option<[u8; 16]> = row.get(1).during(during)?;
    let sequence = row::count(row, 0).during(during)?;
    Ok(KeptHead { sequence, job: job.map(Uuid::from_bytes), jws: row.get(2).during(during)? })
}
