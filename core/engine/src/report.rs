//! A job of a ledger as a PDF. The ledger is only read; another may have it open.

use crate::clock;
use evenwire_core::job::Job;
use evenwire_core::record::{Details, Earlier, Sample, Sealed};
use evenwire_core::report::{Asked, LedgerPlace, Report, people_named, samples_of_sweeps, shop_described};
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
    /// The shop that hands it out; none: as the ledger says.
    pub shop: Option<ShopHeader>,
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
    let (details, earlier) = details(&ledger, job, &entries)?;
    let samples = samples(&ledger, &entries)?;
    let people = people(&ledger, &entries)?;
    let asked = Asked {
        language: form.language,
        zone: form.zone.clone(),
        printed: clock::wall(),
        details: details.as_ref(),
        earlier: &earlier,
        people: &people,
        samples: &samples,
        place: entries.last().map(LedgerPlace::of),
    };
    let report = Report::of(&entries, &asked).ok_or(NoReport::NoSuchJob(job))?;
    // A photo that cannot be read is told to be missing, not left out with the whole report.
    let photos = |hash| ledger.picture(job, hash).ok().flatten();
    let described = || Ok::<_, StoreError>(ShopHeader::from(&shop_described(&ledger.entries_of_device()?)));
    let shop = form.shop.clone().map_or_else(described, Ok)?;
    evenwire_paper::write(&report, &shop, form.size, &photos).map_err(|e| NoReport::Paper(e.to_string()))
}

/// The entries of a job.
///
/// # Errors
/// [`NoReport`]; there are none.
pub(crate) fn entries(ledger: &Glance, job: Uuid) -> Result<Vec<Sealed>, NoReport> {
    let entries = ledger.entries_of(job)?;
    if entries.is_empty() { Err(NoReport::NoSuchJob(job)) } else { Ok(entries) }
}

/// The details, if they are here and are those the job has now, and what stood there before.
fn details(ledger: &Glance, job: Uuid, entries: &[Sealed]) -> Result<(Option<Details>, Vec<Earlier>), StoreError> {
    let commitment = Job::from_entries(entries).map(|job| job.personal);
    let Some((kept, commitment)) = ledger.details(job)?.zip(commitment) else { return Ok((None, Vec::new())) };
    Ok((kept.opened(commitment), kept.earlier(commitment)))
}

/// Names of those who are or were on the roster, or came with the job from elsewhere, as they were committed to.
fn people(ledger: &Glance, entries: &[Sealed]) -> Result<BTreeMap<Uuid, String>, StoreError> {
    let kept = ledger.people()?;
    let name =
        |person, commitment| kept.iter().find(|kept| kept.person == person)?.opened(commitment).map(|of| of.name);
    let all: Vec<Sealed> = entries.iter().cloned().chain(ledger.entries_of_device()?).collect();
    Ok(people_named(&all, name))
}

/// Samples of every sweep whose chunks are all here and can be read.
fn samples(ledger: &Glance, entries: &[Sealed]) -> Result<BTreeMap<Uuid, Vec<Sample>>, StoreError> {
    samples_of_sweeps(entries, |hash| Ok(ledger.chunk(hash)?.and_then(|chunk| chunk.samples().ok())))
}
