//! A version of a job as a report: its entries, with what stands beside them as far as it is here.

use super::refusal::No;
use crate::app::Shared;
use crate::storage::{DeviceNumber, StorageError};
use evenwire_core::job::Job;
use evenwire_core::record::{Event, Hash, KeptDetails, PersonDetails, Sample, Sealed, Shop, chunk};
use evenwire_core::report::{
    Asked, LedgerPlace, Report, Unsigned, people_named, samples_of_sweeps, shop_described, unsigned,
};
use evenwire_core::sync::{Beside, BesideChange, BesideKind, changes_by};
use evenwire_core::verdict::words::Language;
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use uuid::Uuid;

/// One way a job went on.
#[derive(Debug)]
pub(crate) struct Version {
    /// Which job.
    pub job: Uuid,
    /// Whose ledger.
    pub number: DeviceNumber,
    /// The job's entries there.
    pub entries: Vec<Sealed>,
    /// What the report is told in.
    pub language: Language,
}

/// A report, and what its layout needs.
#[derive(Debug)]
pub(super) struct AsTold {
    /// The report.
    pub report: Report,
    /// The shop at its head.
    pub shop: Shop,
    /// Photos that are here.
    pub photos: BTreeMap<Hash, Vec<u8>>,
    /// The job.
    pub job: Job,
    /// Names of people, as far as they are here.
    pub people: BTreeMap<Uuid, String>,
    /// What waits for a second person.
    pub unsigned: Vec<Unsigned>,
}

/// The bytes of what entries of `job` name and want; `None` for what is erased, superseded or not here. A file that
/// decayed is told in the log and is missing.
pub(super) async fn wanted(app: &Shared, job: Option<Uuid>, hash: Hash) -> Result<Option<Vec<u8>>, StorageError> {
    if !app.storage.shows(job, hash).await? {
        return Ok(None);
    }
    match app.blobs.get(hash).await {
        Err(StorageError::Damaged { what }) => {
            tracing::error!(%what, "a file is damaged");
            Ok(None)
        }
        found => found,
    }
}

/// Names of the people the device's roster ever had and of those who came with the job, as far as they are here.
async fn people(app: &Shared, version: &Version, roster: &[Sealed]) -> Result<BTreeMap<Uuid, String>, StorageError> {
    let mut names: BTreeMap<Hash, String> = BTreeMap::new();
    let all: Vec<Sealed> = version.entries.iter().chain(roster).cloned().collect();
    for change in all.iter().flat_map(changes_by) {
        let BesideChange::Named(Beside { kind: BesideKind::Person, hash, .. }) = change else { continue };
        let details = wanted(app, None, hash).await?.and_then(|bytes| PersonDetails::from_bytes(&bytes));
        names.extend(details.map(|details| (hash, details.name)));
    }
    Ok(people_named(&all, |_, commitment| names.get(&commitment).cloned()))
}

/// Samples of the job's sweeps, as far as they are here.
async fn samples(app: &Shared, version: &Version) -> Result<BTreeMap<Uuid, Vec<Sample>>, StorageError> {
    let mut chunks: BTreeMap<Hash, Vec<Sample>> = BTreeMap::new();
    for event in version.entries.iter().filter_map(Sealed::event) {
        let Event::SweepTaken(sweep) = event else { continue };
        for hash in sweep.chunks {
            let payload = wanted(app, Some(version.job), hash).await?;
            let read = payload.and_then(|payload| chunk::samples_of(&payload).ok());
            chunks.extend(read.map(|samples| (hash, samples)));
        }
    }
    samples_of_sweeps(&version.entries, |hash| Ok(chunks.get(&hash).cloned()))
}

async fn photos(app: &Shared, version: &Version) -> Result<BTreeMap<Hash, Vec<u8>>, StorageError> {
    let mut photos = BTreeMap::new();
    for change in version.entries.iter().flat_map(changes_by) {
        let BesideChange::Named(Beside { kind: BesideKind::Photo, hash, .. }) = change else { continue };
        photos.extend(wanted(app, Some(version.job), hash).await?.map(|bytes| (hash, bytes)));
    }
    Ok(photos)
}

/// The report of a version; `None` where its entries make no job.
pub(super) async fn told(app: &Shared, version: &Version) -> Result<Option<AsTold>, No> {
    let Some(job) = Job::from_entries(&version.entries) else { return Ok(None) };
    let roster = app.storage.entries_of_device(version.number, ["person-added", "shop-described"]).await?;
    let kept = wanted(app, Some(version.job), job.personal).await?;
    let kept = kept.and_then(|bytes| KeptDetails::from_bytes(version.job, &bytes));
    let (people, samples) = (people(app, version, &roster).await?, samples(app, version).await?);
    let photos = photos(app, version).await?;
    let details = kept.as_ref().and_then(|kept| kept.opened(job.personal));
    let earlier = kept.as_ref().map(|kept| kept.earlier(job.personal)).unwrap_or_default();
    let asked = Asked {
        language: version.language,
        zone: Some(TimeZone::system()),
        printed: app.clock.stamp(),
        details: details.as_ref(),
        earlier: &earlier,
        people: &people,
        samples: &samples,
        place: version.entries.last().map(LedgerPlace::of),
    };
    let Some(report) = Report::of(&version.entries, &asked) else { return Ok(None) };
    let unsigned = unsigned(&version.entries, &asked);
    Ok(Some(AsTold { report, shop: shop_described(&roster), photos, job, people, unsigned }))
}
