//! A job of a ledger as a claim file. The ledger is only read; another may have it open.

use crate::clock;
use crate::key_store::{self, Away};
use crate::report::{self, Form, NoReport};
use evenwire_core::claim::{self, Contents};
use evenwire_core::job::Job;
use evenwire_core::record::{Hash, KeptPerson, Sealed, key_named};
use evenwire_core::report::export;
use evenwire_core::sync::{Beside, BesideKind};
use evenwire_store::{Glance, StoreError};
use std::collections::BTreeMap;
use std::path::Path;
use uuid::Uuid;

/// Why there is no claim file.
#[derive(Debug, thiserror::Error)]
pub enum NoClaim {
    /// The report that goes into it cannot be made.
    #[error(transparent)]
    Report(#[from] NoReport),
    /// The ledger cannot be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The key the ledger names is not beside it: what it signed could not be told from what anybody signs.
    #[error("the key of this ledger is not beside it; open the ledger once with the app, then ask again")]
    NoKey,
    /// Its secret is not to be had for now.
    #[error(transparent)]
    KeyAway(#[from] Away),
    /// The job is not with anybody else.
    #[error("the job was not handed over, or was taken back")]
    NotHanded,
    /// It cannot be packed.
    #[error(transparent)]
    Pack(#[from] claim::NoClaim),
}

/// The claim file of a job: everything that proves it, with its report. `personal`: customer, vehicle, photos and the
/// names of those who signed go along.
///
/// # Errors
/// [`NoClaim`].
pub fn file((database, job): (&Path, Uuid), form: &Form, personal: bool) -> Result<Vec<u8>, NoClaim> {
    let ledger = Glance::at(database)?;
    let mut contents = contents(&ledger, job, personal)?;
    contents.papers = papers((database, job), form, (&contents.entries, personal))?;
    packed(&ledger, &contents)
}

/// A job that was handed over as a file for whoever takes it over: the same without anything to be read by people.
///
/// # Errors
/// [`NoClaim`]; [`NoClaim::NotHanded`] where it was not.
pub fn handed((database, job): (&Path, Uuid)) -> Result<Vec<u8>, NoClaim> {
    let ledger = Glance::at(database)?;
    let contents = contents(&ledger, job, true)?;
    let there = Job::from_entries(&contents.entries).ok_or(NoClaim::Report(NoReport::NoSuchJob(job)))?;
    there.hands.away().ok_or(NoClaim::NotHanded)?;
    packed(&ledger, &contents)
}

/// Packed and signed by the device whose ledger it is.
fn packed(ledger: &Glance, contents: &Contents) -> Result<Vec<u8>, NoClaim> {
    let head = ledger.head()?;
    let kept = ledger.kept_key()?.filter(|kept| kept.device == head.device).ok_or(NoClaim::NoKey)?;
    if key_named(&contents.device, head.device) != Some(kept.public()) {
        return Err(NoClaim::NoKey);
    }
    let key = key_store::key_of(&kept)?;
    note_end(ledger);
    Ok(claim::pack(contents, (head.device, &key), &clock::wall())?)
}

/// Everything that proves a job but what is there to be read. `personal` as in [`file`].
fn contents(ledger: &Glance, job: Uuid, personal: bool) -> Result<Contents, NoClaim> {
    let device_entries = ledger.entries_of_device()?;
    let entries = report::entries(ledger, job)?;
    let mut beside = Vec::new();
    for one in claim::wanted(&entries, &device_entries, personal) {
        // Details of another time of the job, or damaged ones, prove nothing.
        let bytes = bytes_of((ledger, job), one)?.filter(|bytes| Hash::of(bytes) == one.hash);
        beside.extend(bytes.map(|bytes| (one, bytes)));
    }
    Ok(Contents {
        heads: ledger.heads_of(job)?.into_iter().map(|kept| kept.jws).collect(),
        papers: BTreeMap::new(),
        device: claim::telling(&entries, &device_entries, personal),
        beside,
        entries,
    })
}

/// What leaves the device has to be known to have been written. Where that cannot be noted, a folder that nobody may write
/// to for instance, the file is handed out all the same.
pub(crate) fn note_end(ledger: &Glance) {
    if let Err(error) = ledger.note_end() {
        tracing::warn!(%error, "how far the ledger has come was not noted beside it");
    }
}

/// What is damaged is left out, and told to be missing by whoever verifies.
fn whole<T>(read: Result<Option<T>, StoreError>) -> Result<Option<T>, StoreError> {
    match read {
        Err(StoreError::Damaged { .. }) => Ok(None),
        read => read,
    }
}

/// What an entry of `job` or of the roster names, as a device sends it; `None` where it is not here as a whole.
fn bytes_of((ledger, job): (&Glance, Uuid), beside: Beside) -> Result<Option<Vec<u8>>, StoreError> {
    match beside.kind {
        BesideKind::Samples => Ok(whole(ledger.chunk(beside.hash))?.map(|chunk| chunk.payload)),
        BesideKind::Photo => whole(ledger.picture(job, beside.hash)),
        BesideKind::Details => Ok(whole(ledger.details(job))?.map(|kept| kept.to_bytes())),
        BesideKind::Person => {
            Ok(ledger.people()?.iter().find(|kept| kept.commitment() == beside.hash).map(KeptPerson::to_bytes))
        }
    }
}

/// What is there to be read by people. A report names the customer: without what is personal it is left out.
fn papers(
    place: (&Path, Uuid),
    form: &Form,
    (entries, personal): (&[Sealed], bool),
) -> Result<BTreeMap<String, Vec<u8>>, NoClaim> {
    let mut papers = BTreeMap::new();
    if personal {
        papers.insert("report.pdf".to_owned(), report::pdf(place.0, place.1, form)?);
    }
    let rows = export::rows(entries, form.zone.as_ref());
    papers.extend(rows.map(|rows| ("readings.csv".to_owned(), export::csv(&rows).into_bytes())));
    Ok(papers)
}
