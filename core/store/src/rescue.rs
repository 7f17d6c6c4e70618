//! Rescuing what can be read of a damaged ledger. The damaged file is only read, then moved aside; nothing of it is ever
//! deleted, and a new ledger takes its place with everything that is still chained.
//!
//! The order makes it repeatable: the new ledger is built whole under a name of its own (`<path>.rescue`) while the
//! damaged one stands where it was; then the damaged one is moved aside; then the new one takes its name. Whoever was
//! killed in between begins again or, once the damaged one is on its way out, finishes what is left.

mod old;
mod told;

use crate::error::{During, StoreError};
use crate::lock::Lock;
use crate::open::{assert_version, beside, exists, failed, make, move_all, sync_folder, with_companions};
use crate::{Store, append, heads, people, row};
use evenwire_core::record::{Head, KeptHead, Sealed};
use old::Old;
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use told::Told;
use uuid::Uuid;

/// What the new ledger is called until the damaged one is out of the way.
pub(crate) const READY: &str = ".rescue";
/// What it is called while it is built.
const BUILDING: &str = ".rescuing";

/// What was rescued. Everything else is in the file that was moved aside.
#[derive(Clone, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Rescue {
    /// Where the damaged file is now; none: nothing was damaged, and nothing was changed.
    pub aside: Option<PathBuf>,
    /// A text file that tells of the rescue: the later entries that could still be read, and these figures.
    pub told: Option<PathBuf>,
    /// Entries that are whole and follow from each other from the first on; they stand in the new ledger.
    pub entries: u64,
    /// Signatures of these entries in the new ledger.
    pub signatures: u64,
    /// Rows of later entries that could be read; they stand in the text file.
    pub loose: u64,
    /// Chunks of samples in the new ledger.
    pub chunks: u64,
    /// Personal details in the new ledger.
    pub details: u64,
    /// People in the new ledger.
    pub people: u64,
    /// Photos in the new ledger.
    pub pictures: u64,
    /// Rows beside the entries that are not whole, or belong to no rescued job: they are only in the file moved aside.
    pub left: u64,
}

impl Store {
    /// Puts a new ledger in the place of the damaged one at `path`: the longest row of entries from the first on that
    /// are whole and follow from each other, of the same device, with the chunks, people, details and photos that are
    /// whole. Lines of the job list are derived and not brought over. What can be read of later entries is written
    /// beside it, `<path>.rescued-N`, as JSON lines; the last line has the figures. The damaged file is moved to
    /// `<path>.aside-N`, whatever could be read of it; where no entry could, the new ledger is empty and is that of
    /// `fresh_device`.
    ///
    /// A ledger that opens and is whole is left as it is. A rescue that was killed is finished by the next.
    ///
    /// # Errors
    /// [`StoreError::InUse`] while a store has it open; [`StoreError::Newer`] and [`StoreError::NotOurs`] for files that
    /// are just that; [`StoreError::Full`], [`StoreError::ReadOnly`] and [`StoreError::Io`] when the new ledger cannot
    /// be written, or there is no file. What was damaged is where it was then, and can be rescued later.
    pub fn rescue(path: &Path, fresh_device: Uuid) -> Result<Rescue, StoreError> {
        assert_version()?;
        let ready = beside(path, READY);
        if with_companions(path)?.is_empty() && !exists(&ready)? {
            return Err(failed(path)(std::io::ErrorKind::NotFound.into()));
        }
        if let Some(whole) = as_it_is(path, fresh_device)? {
            return Ok(whole);
        }
        let _lock = Lock::take(path)?;
        // Without the damaged file there is nothing to begin with again: the one before had it moved already.
        if exists(path)? || !exists(&ready)? {
            build(path, fresh_device)?;
        }
        let rescue = told::newest(path)?;
        if let Some(aside) = &rescue.aside {
            move_all(path, aside)?;
        }
        fs::rename(&ready, path).map_err(failed(path))?;
        sync_folder(path)?;
        Ok(rescue)
    }
}

/// The ledger as it stands, if it is whole.
fn as_it_is(path: &Path, fresh_device: Uuid) -> Result<Option<Rescue>, StoreError> {
    let store = match Store::open(path, fresh_device) {
        Ok(store) => store,
        // One bit of the header decides whose file it is. Tables like ours are nobody else's.
        Err(StoreError::Newer { .. } | StoreError::NotOurs { .. }) if Old::at(path).has_our_tables() => {
            return Ok(None);
        }
        Err(StoreError::Damaged { .. } | StoreError::Sqlite { .. }) => return Ok(None),
        Err(other) => return Err(other),
    };
    let report = store.check()?;
    let figures = Rescue { entries: report.entries, chunks: report.chunks, ..Rescue::default() };
    Ok(report.is_whole().then_some(figures))
}

/// Builds the new ledger up to its last name but one, and the text beside it.
fn build(path: &Path, fresh_device: Uuid) -> Result<(), StoreError> {
    let (building, ready) = (beside(path, BUILDING), beside(path, READY));
    // What a rescue before left half done holds nothing that is not in the damaged file.
    for draft in [&building, &ready] {
        for suffix in with_companions(draft)? {
            let half = beside(draft, suffix);
            fs::remove_file(&half).map_err(failed(&half))?;
        }
    }
    let mut told = Told::begin(path)?;
    let old = Old::at(path);
    let device = old.first_entry().map_or(fresh_device, |first| first.entry().device);
    make(&building, device)?;
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let during = || format!("writing {}", building.display());
    let mut conn = Connection::open_with_flags(&building, flags).during(during)?;
    conn.pragma_update(None, "synchronous", "FULL").during(during)?;
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).during(during)?;
    let mut rescue = Rescue::default();
    let jobs = bring_entries((&old, &tx), Head::empty(device), (&mut told, &mut rescue))?;
    bring_rows((&old, &tx), &jobs, &mut rescue)?;
    tx.commit().during(during)?;
    conn.close().map_err(|(_, error)| error).during(during)?;
    drop(old);
    told.end(rescue)?;
    fs::rename(&building, &ready).map_err(failed(&ready))?;
    sync_folder(path)
}

/// The entries that are chained go into the ledger, the others into the text. Gives the jobs they are of.
fn bring_entries(
    (old, tx): (&Old, &Transaction<'_>),
    mut head: Head,
    (told, rescue): (&mut Told, &mut Rescue),
) -> Result<BTreeSet<Uuid>, StoreError> {
    let (mut jobs, mut chained) = (BTreeSet::new(), true);
    let mut signed = signatures(old, rescue);
    for sequence in old.numbers("entry", "sequence") {
        let Some((hash, bytes)) = old.entry_bytes(sequence) else {
            (rescue.left, chained) = (rescue.left + 1, false);
            continue;
        };
        let read = Sealed::read(bytes.clone()).ok().filter(|read| read.hash() == hash);
        // The bytes are what counts: the columns beside them are read from them anew.
        let next = read.as_ref().filter(|_| chained).and_then(|read| Some((head.after(read).ok()?, read)));
        match next {
            Some((after, read)) => {
                head = after;
                append::put_entries(tx, std::slice::from_ref(read))?;
                jobs.extend(read.entry().job);
                rescue.entries += 1;
                for kept in signed.remove(&head.sequence).unwrap_or_default() {
                    match heads::put(tx, &[kept], &head) {
                        Ok(()) => rescue.signatures += 1,
                        Err(StoreError::Head { .. }) => rescue.left += 1,
                        Err(other) => return Err(other),
                    }
                }
            }
            None => {
                chained = false;
                told.loose(sequence, (hash, &bytes), read.is_some())?;
                rescue.loose += 1;
            }
        }
    }
    rescue.left += signed.values().map(|of| of.len() as u64).sum::<u64>();
    Ok(jobs)
}

/// What the device signed, by the number of the entry that was the end then.
fn signatures(old: &Old, rescue: &mut Rescue) -> BTreeMap<u64, Vec<KeptHead>> {
    let mut signed: BTreeMap<u64, Vec<KeptHead>> = BTreeMap::new();
    let sql = format!("SELECT {} FROM signed_head NOT INDEXED WHERE number = ?1", heads::HEAD);
    for number in old.numbers("signed_head", "number") {
        match old.row(&sql, number, heads::head) {
            Some(kept) => signed.entry(kept.sequence).or_default().push(kept),
            None => rescue.left += 1,
        }
    }
    signed
}

/// Everything beside the entries that is whole.
fn bring_rows(
    (old, tx): (&Old, &Transaction<'_>),
    jobs: &BTreeSet<Uuid>,
    rescue: &mut Rescue,
) -> Result<(), StoreError> {
    for number in old.numbers("chunk", "number") {
        let chunk =
            old.row(&format!("SELECT {} FROM chunk NOT INDEXED WHERE number = ?1", row::CHUNK), number, row::chunk);
        match chunk.map(|chunk| append::put_chunk(tx, &chunk)) {
            Some(Ok(())) => rescue.chunks += 1,
            // Two rows of one chunk, one of them older.
            None | Some(Err(StoreError::Chunk { .. })) => rescue.left += 1,
            Some(Err(other)) => return Err(other),
        }
    }
    for key in old.keys("details", "job") {
        let details = old.row(&format!("SELECT {} FROM details WHERE job = ?1", row::DETAILS), key, row::details);
        match details.filter(|details| jobs.contains(&details.job)) {
            Some(details) => append::put_details(tx, &details).map(|()| rescue.details += 1)?,
            None => rescue.left += 1,
        }
    }
    for key in old.keys("person", "id") {
        match old.row(&format!("SELECT {} FROM person WHERE id = ?1", people::PERSON), key, people::person) {
            Some(person) => people::put(tx, &person).map(|()| rescue.people += 1)?,
            None => rescue.left += 1,
        }
    }
    for number in old.numbers("picture", "rowid") {
        match old.picture(number).filter(|(job, ..)| jobs.contains(job)) {
            Some((job, hash, bytes)) => {
                append::put_picture(tx, job, (hash, &bytes))?;
                rescue.pictures += 1;
            }
            None => rescue.left += 1,
        }
    }
    Ok(())
}
