//! A job of a ledger as a PDF. The ledger is only read; another may have it open.

use crate::clock;
use evenwire_core::record::{Event, Hash, Sample, Sealed};
use evenwire_core::report::{Asked, LedgerPlace, Report};
use evenwire_core::verdict::words::Language;
use evenwire_paper::{PageSize, ShopHeader};
use evenwire_store::{Glance, StoreError};
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use std::path::Path;
use uuid::Uuid;

/// How a report is to look.
#[derive(Clone, Debug)]
pub struct Form {
    /// Its language.
    pub language: Language,
    /// What it is printed on.
    pub size: PageSize,
    /// The shop that hands it out.
    pub shop: ShopHeader,
    /// Where the clock hangs that times are told by; none: as they were written.
    pub zone: Option<TimeZone>,
}

/// Why there is no report.
#[derive(Debug, thiserror::Error)]
pub enum NoReport {
    /// The ledger holds no such job.
    #[error("there is no job {0}")]
    NoSuchJob(Uuid),
    /// The ledger cannot be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The PDF cannot be made.
    #[error("the PDF cannot be made: {0}")]
    Paper(String),
}

/// The report of a job: a PDF.
///
/// # Errors
/// [`NoReport`].
pub fn pdf(database: &Path, job: Uuid, form: &Form) -> Result<Vec<u8>, NoReport> {
    let ledger = Glance::at(database)?;
    let entries = entries(&ledger, job)?;
    let details = details(&ledger, &entries)?;
    let samples = samples(&ledger, &entries)?;
    let people = people(&ledger)?;
    let asked = Asked {
        language: form.language,
        zone: form.zone.clone(),
        printed: clock::wall(),
        details: details.as_ref(),
        people: &people,
        samples: &samples,
        place: entries.last().map(place),
    };
    let report = Report::of(&entries, &asked).ok_or(NoReport::NoSuchJob(job))?;
    // A photo that cannot be read is told to be missing, not left out with the whole report.
    let photos = |hash| ledger.picture(job, hash).ok().flatten();
    evenwire_paper::write(&report, &form.shop, form.size, &photos).map_err(|e| NoReport::Paper(e.to_string()))
}

/// The entries of a job.
///
/// # Errors
/// [`NoReport`]; there are none.
pub(crate) fn entries(ledger: &Glance, job: Uuid) -> Result<Vec<Sealed>, NoReport> {
    let entries = ledger.entries_of(job)?;
    if entries.is_empty() { Err(NoReport::NoSuchJob(job)) } else { Ok(entries) }
}

fn place(newest: &Sealed) -> LedgerPlace {
    LedgerPlace { device: newest.entry().device, sequence: newest.entry().sequence, hash: newest.hash() }
}

/// The details, if they are here and are those the job was opened with.
fn details(ledger: &Glance, entries: &[Sealed]) -> Result<Option<evenwire_core::record::Details>, StoreError> {
    let opened = entries.first().and_then(|first| {
        let entry = first.entry();
        match Event::read(&entry.kind, entry.version, &entry.body)? {
            Event::JobOpened { personal, .. } => Some((entry.job?, personal)),
            _ => None,
        }
    });
    let Some((job, personal)) = opened else { return Ok(None) };
    Ok(ledger.details(job)?.and_then(|kept| kept.opened(personal)))
}

/// Names of those who are or were on the roster, as they were committed to.
fn people(ledger: &Glance) -> Result<BTreeMap<Uuid, String>, StoreError> {
    let of = |sealed: &Sealed| match Event::read(&sealed.entry().kind, sealed.entry().version, &sealed.entry().body)? {
        Event::PersonAdded { person, personal } => Some((person, personal)),
        _ => None,
    };
    let committed: BTreeMap<Uuid, Hash> = ledger.entries_of_device()?.iter().filter_map(of).collect();
    let named = ledger.people()?.into_iter().filter_map(|kept| {
        let details = kept.opened(*committed.get(&kept.person)?)?;
        Some((kept.person, details.name))
    });
    Ok(named.collect())
}

/// Samples of every sweep whose chunks are all here and can be read.
fn samples(ledger: &Glance, entries: &[Sealed]) -> Result<BTreeMap<Uuid, Vec<Sample>>, StoreError> {
    let mut all = BTreeMap::new();
    for entry in entries.iter().map(Sealed::entry) {
        let Some(Event::SweepTaken(sweep)) = Event::read(&entry.kind, entry.version, &entry.body) else { continue };
        let mut samples = Some(Vec::new());
        for hash in &sweep.chunks {
            let decoded = ledger.chunk(*hash)?.and_then(|chunk| chunk.samples().ok());
            samples = samples.zip(decoded).map(|(mut before, more)| {
                before.extend(more);
                before
            });
        }
        all.extend(samples.map(|samples| (sweep.sweep, samples)));
    }
    Ok(all)
}
