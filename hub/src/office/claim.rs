//! A version of a job as a claim file: what devices brought and signed, put together and vouched for by this hub.

use super::model::{Access, OfficeCode};
use super::record::{self, attachment, taken, written};
use super::refusal::No;
use super::seat::Technician;
use super::sent::{Id, Wanted};
use super::told::{Version, wanted};
use crate::app::Shared;
use crate::storage::{DeviceNumber, StorageError};
use axum::extract::State;
use axum::response::Response;
use evenwire_core::claim::{self, Contents};
use evenwire_core::record::Hash;
use evenwire_core::report::export;
use evenwire_core::verdict::words::Language;
use jiff::tz::TimeZone;
use serde::Deserialize;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Of which device's version, with the report in which language, and whether what is personal stays out.
#[derive(Debug, Deserialize)]
pub struct Which {
    #[serde(default)]
    language: Option<Language>,
    #[serde(default)]
    device: Option<Uuid>,
    #[serde(default)]
    impersonal: bool,
}

/// The claim file.
pub async fn claim(
    State(app): State<Shared>,
    Technician(by): Technician,
    Id(job): Id,
    Wanted(which): Wanted<Which>,
) -> Result<Response, No> {
    let Which { language, device, impersonal } = which;
    let what = if impersonal { Access::ClaimWithoutNames } else { Access::Claim };
    let version = taken(&app, (what, &by), job, record::Which { language, device }).await?;
    let (order, pdf) = written(&app, &version).await?;
    let mut contents = contents(&app, version, !impersonal).await?;
    if !impersonal {
        // A report names the customer.
        contents.papers.insert("report.pdf".to_owned(), pdf);
    }
    let (key, hub, made) = (app.certificates.seal().clone(), app.hub, app.clock.stamp());
    let pack = move || claim::pack(&contents, (hub, &key), &made);
    let packed = tokio::task::spawn_blocking(pack).await.map_err(|_| OfficeCode::Failed)?;
    let zip = packed.map_err(|error| {
        tracing::error!(%error, %job, "a claim file cannot be packed");
        OfficeCode::Failed
    })?;
    // Both of a job may lie in one folder.
    let without = match language {
        _ if !impersonal => "",
        Some(Language::De) => "-ohne-Namen",
        _ => "-without-names",
    };
    Ok(attachment(zip, ("application/zip", &format!("{order}{without}.zip"))))
}

/// A job as a device handed it over, with all that is here beside it, for whoever takes it over. It says by itself that it
/// is what that device signed; that the hub put it together says nothing.
pub(crate) async fn handed(app: &Shared, (job, number): (Uuid, DeviceNumber)) -> Result<Option<Vec<u8>>, StorageError> {
    let versions = app.storage.versions(job).await?;
    let Some((_, entries)) = versions.into_iter().find(|(of, _)| *of == number) else { return Ok(None) };
    let contents = contents(app, Version { job, number, entries, language: Language::En }, true).await?;
    let (key, hub, made) = (app.certificates.seal().clone(), app.hub, app.clock.stamp());
    let pack = move || claim::pack(&Contents { papers: BTreeMap::new(), ..contents }, (hub, &key), &made);
    let packed = tokio::task::spawn_blocking(pack).await.map_err(|_| StorageError::Closed)?;
    Ok(packed.inspect_err(|error| tracing::error!(%error, %job, "a job cannot be packed")).ok())
}

/// All of it but the report. What did not come yet, was erased or decayed is left out, and told to be missing by whoever
/// verifies.
async fn contents(app: &Shared, version: Version, personal: bool) -> Result<Contents, StorageError> {
    let Version { job, number, entries, .. } = version;
    let mut device = app.storage.entries_of_device(number, ["device-keyed", "identity-renewed"]).await?;
    device.extend(app.storage.entries_of_device(number, ["person-added", "shop-described"]).await?);
    let mut beside = Vec::new();
    for one in claim::wanted(&entries, &device, personal) {
        let bytes = wanted(app, one.job, one.hash).await?.filter(|bytes| Hash::of(bytes) == one.hash);
        beside.extend(bytes.map(|bytes| (one, bytes)));
    }
    let rows = export::rows(&entries, Some(&TimeZone::system()));
    let papers = rows.map(|rows| ("readings.csv".to_owned(), export::csv(&rows).into_bytes()));
    Ok(Contents {
        heads: app.storage.heads_of(number, job).await?,
        device: claim::telling(&entries, &device, personal),
        papers: papers.into_iter().collect(),
        beside,
        entries,
    })
}
