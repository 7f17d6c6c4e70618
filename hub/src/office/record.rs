//! The record of a job: every way it went on, its report, its photos, and the end of what is personal in it.

use super::model::{Access, OfficeCode, OfficeRecord, OfficeVersion};
use super::refusal::No;
use super::seat::{Office, Seat, Technician};
use super::sent::{Id, Told, Wanted};
use super::told::{Version, told};
use crate::app::Shared;
use crate::storage::{Deed, DeviceNumber, DeviceRow};
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use evenwire_core::job::Job;
use evenwire_core::record::{Hash, Sealed, told_of};
use evenwire_core::verdict::words::Language;
use evenwire_paper::{PageSize, ShopHeader};
use serde::Deserialize;
use uuid::Uuid;

/// In which language, and of which device's version where they part.
#[derive(Debug, Deserialize)]
pub struct Which {
    #[serde(default)]
    pub(super) language: Option<Language>,
    #[serde(default)]
    pub(super) device: Option<Uuid>,
}

/// The ways a job went on: versions that are the beginning of another one are not told by themselves.
pub(super) fn apart(all: Vec<(DeviceNumber, Vec<Sealed>)>) -> Vec<(DeviceNumber, Vec<Sealed>)> {
    let hashes: Vec<Vec<Hash>> = all.iter().map(|(_, entries)| hashes_of(entries)).collect();
    let goes_on = |own: usize| {
        let beyond = |other: usize| {
            let (one, longer) = (&hashes[own], &hashes[other]);
            other != own && longer.starts_with(one) && (longer.len() > one.len() || other < own)
        };
        (0..hashes.len()).any(beyond)
    };
    let kept = all.into_iter().enumerate().filter(|(at, _)| !goes_on(*at));
    kept.map(|(_, version)| version).collect()
}

/// How many entries, from the first on, all of them have in common.
fn in_all(versions: &[(DeviceNumber, Vec<Sealed>)]) -> usize {
    let all: Vec<Vec<Hash>> = versions.iter().map(|(_, entries)| hashes_of(entries)).collect();
    let Some(first) = all.first() else { return 0 };
    let same = |at: &usize| all.iter().all(|other| other.get(*at) == first.get(*at));
    (0..first.len()).take_while(same).count()
}

/// By these two versions are compared: an entry is the same one in whichever ledger it stands.
fn hashes_of(entries: &[Sealed]) -> Vec<Hash> {
    told_of(entries).into_iter().map(Sealed::hash).collect()
}

async fn versions(app: &Shared, job: Uuid) -> Result<Vec<(DeviceNumber, Vec<Sealed>)>, No> {
    let versions = apart(app.storage.versions(job).await?);
    if versions.is_empty() { Err(OfficeCode::NotHere.into()) } else { Ok(versions) }
}

async fn noted(app: &Shared, what: Access, by: &Seat, job: Uuid) -> Result<(), No> {
    let deed = Deed { person: Some(by.person.id), job: Some(job), ..Deed::default() };
    Ok(app.storage.note(what, deed, (app.clock.now_ms(), 0)).await?)
}

fn device(devices: &[DeviceRow], number: DeviceNumber) -> (Uuid, String) {
    let found = devices.iter().find(|row| row.number == number);
    found.map_or((Uuid::nil(), String::new()), |row| (row.id, row.name.clone()))
}

/// The record. It is written who looks, before it is shown.
pub async fn record(
    State(app): State<Shared>,
    Technician(by): Technician,
    Id(job): Id,
    Wanted(which): Wanted<Which>,
) -> Result<Told<OfficeRecord>, No> {
    let versions = versions(&app, job).await?;
    noted(&app, Access::Record, &by, job).await?;
    let devices = app.storage.devices().await?;
    let shared = u32::try_from(in_all(&versions)).unwrap_or(u32::MAX);
    let jobs: Vec<Option<Job>> = versions.iter().map(|(_, entries)| Job::from_entries(entries)).collect();
    let mut record = OfficeRecord {
        job,
        erased: app.storage.is_erased(job).await?,
        erasable: jobs.iter().flatten().all(|job| job.finished.is_some()),
        versions: Vec::new(),
    };
    for (number, entries) in versions {
        let count = u32::try_from(entries.len()).unwrap_or(u32::MAX);
        let version = Version { job, number, entries, language: which.language.unwrap_or(Language::En) };
        let Some(told) = told(&app, &version).await? else { continue };
        let (device, name) = device(&devices, number);
        record.versions.push(OfficeVersion { device, name, entries: count, common: shared, report: told.report });
    }
    Ok(Told(record))
}

/// That device's version of `all`, or the first one where none is named.
async fn one_of(
    app: &Shared,
    all: Vec<(DeviceNumber, Vec<Sealed>)>,
    wanted: Option<Uuid>,
) -> Result<(DeviceNumber, Vec<Sealed>), No> {
    let devices = app.storage.devices().await?;
    let asked = |number: DeviceNumber| wanted.is_none_or(|wanted| device(&devices, number).0 == wanted);
    all.into_iter().find(|(number, _)| asked(*number)).ok_or(OfficeCode::NotHere.into())
}

/// The order of a version as the name of a file, and its report as a PDF.
pub(super) async fn written(app: &Shared, version: &Version) -> Result<(String, Vec<u8>), No> {
    let (told, job) = (told(app, version).await?.ok_or(OfficeCode::NotHere)?, version.job);
    let order = file_name(&told.report.order);
    let write = move || {
        let photos = |hash: Hash| told.photos.get(&hash).cloned();
        evenwire_paper::write(&told.report, &ShopHeader::from(&told.shop), PageSize::A4, &photos)
    };
    let written = tokio::task::spawn_blocking(write).await.map_err(|_| OfficeCode::Failed)?;
    let pdf = written.map_err(|error| {
        tracing::error!(%error, %job, "a report cannot be written");
        OfficeCode::Failed
    })?;
    Ok((order, pdf))
}

/// Bytes to be kept as a file of that type and name.
pub(super) fn attachment(bytes: Vec<u8>, (kind, name): (&'static str, &str)) -> Response {
    let headers = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")),
        (header::CACHE_CONTROL, "no-store".to_owned()),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff".to_owned()),
    ];
    (headers, bytes).into_response()
}

/// The version somebody takes away, in that language. It is written who takes it, before it is handed out.
pub(super) async fn taken(
    app: &Shared,
    (access, by): (Access, &Seat),
    job: Uuid,
    Which { language, device }: Which,
) -> Result<Version, No> {
    let all = versions(app, job).await?;
    noted(app, access, by, job).await?;
    let (number, entries) = one_of(app, all, device).await?;
    Ok(Version { job, number, entries, language: language.unwrap_or(Language::En) })
}

/// The report as a PDF.
pub async fn report(
    State(app): State<Shared>,
    Technician(by): Technician,
    Id(job): Id,
    Wanted(which): Wanted<Which>,
) -> Result<Response, No> {
    let version = taken(&app, (Access::Report, &by), job, which).await?;
    let (order, pdf) = written(&app, &version).await?;
    Ok(attachment(pdf, ("application/pdf", &format!("{order}.pdf"))))
}

/// An order as the name of a file, whatever was typed there.
fn file_name(order: &str) -> String {
    let safe = |letter: char| if letter.is_ascii_alphanumeric() || letter == '-' { letter } else { '-' };
    let name: String = order.chars().map(safe).take(60).collect();
    let name = name.trim_matches('-');
    if name.is_empty() { "report".to_owned() } else { name.to_owned() }
}

/// A photo of the job. Bytes a device brought are shown as a picture and as nothing else.
pub async fn photo(
    State(app): State<Shared>,
    _seat: Technician,
    Path((job, named)): Path<(Uuid, String)>,
) -> Result<Response, No> {
    let named = Hash::try_from(named).map_err(|_| OfficeCode::NotHere)?;
    if !app.storage.shows(Some(job), named).await? {
        return Err(OfficeCode::NotHere.into());
    }
    let bytes = app.blobs.get(named).await?.ok_or(OfficeCode::NotHere)?;
    let headers = [
        (header::CONTENT_TYPE, "image/jpeg"),
        (header::CONTENT_SECURITY_POLICY, "default-src 'none'; sandbox"),
        (header::CACHE_CONTROL, "no-store"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    ];
    Ok((headers, bytes).into_response())
}

/// Erases what is personal of a closed job, here and, when they are heard, on its devices.
pub async fn erase(State(app): State<Shared>, Office(by): Office, Id(job): Id) -> Result<StatusCode, No> {
    let closed = |(_, entries): &(DeviceNumber, Vec<Sealed>)| {
        Job::from_entries(entries).is_none_or(|job| job.finished.is_some())
    };
    if !versions(&app, job).await?.iter().all(closed) {
        return Err(OfficeCode::NotClosed.into());
    }
    noted(&app, Access::Erased, &by, job).await?;
    app.storage.erase_job(job, app.clock.now_ms()).await?;
    app.work.notify_one();
    Ok(StatusCode::NO_CONTENT)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_order_is_a_file_name_whatever_was_typed() {
        assert_eq!(file_name("W-2041"), "W-2041");
        assert_eq!(file_name("../../etc/passwd\"\r\nx: y"), "etc-passwd---x--y");
        assert_eq!(file_name("Ölspur \u{202e}"), "lspur");
        assert_eq!(file_name("///"), "report");
    }
}
