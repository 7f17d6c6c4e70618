//! Jobs that go from one device of the shop to another.

use super::body::named;
use super::caller::Caller;
use crate::app::Shared;
use crate::office::claim;
use crate::problem::{Code, Refused};
use crate::storage::HandedOver;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use evenwire_core::sync::{Handovers, Problem, WaitingJob};
use uuid::Uuid;

fn told(of: HandedOver) -> WaitingJob {
    let (taken_by, yours) = of.taken.unzip();
    WaitingJob {
        job: of.job,
        order: of.order,
        vehicle: of.vehicle,
        from: of.from,
        taken_by,
        yours: yours.unwrap_or_default(),
    }
}

fn not_waiting() -> Refused {
    Code::NotFound.because("No such job waits to be taken over.")
}

/// Jobs that other devices of the shop handed over and nobody's ledger has taken over yet.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(get, path = "/v1/handovers", operation_id = "handovers", security(("token" = [])), responses(
    (status = 200, body = Handovers),
    (status = "4XX", body = Problem, content_type = "application/problem+json", description = "`token`, `revoked`"),
))]
pub async fn waiting(State(app): State<Shared>, Caller(by): Caller) -> Result<axum::Json<Handovers>, Refused> {
    let jobs = app.storage.handed_over(by.number).await?.into_iter().map(told).collect();
    Ok(axum::Json(Handovers { jobs }))
}

/// Says that the device takes the job over. Of several that say so the first one has it; the others are told who.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(post, path = "/v1/handovers/{job}/claims", operation_id = "claim_handover", security(("token" = [])),
    params(("job" = Uuid, Path, description = "The job")), responses(
    (status = 200, body = WaitingJob),
    (status = "4XX", body = Problem, content_type = "application/problem+json",
     description = "`not-found`, `token`, `revoked`"),
))]
pub async fn take(
    State(app): State<Shared>,
    Caller(by): Caller,
    job: Result<Path<Uuid>, PathRejection>,
) -> Result<axum::Json<WaitingJob>, Refused> {
    let taken = app.storage.take_over(by.number, named(job)?, app.clock.now_ms()).await?;
    Ok(axum::Json(told(taken.ok_or_else(not_waiting)?)))
}

/// The job with all that stands beside it, as one file that its device's signature proves.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(get, path = "/v1/handovers/{job}", operation_id = "handover", security(("token" = [])),
    params(("job" = Uuid, Path, description = "The job")), responses(
    (status = 200, description = "A claim file", content_type = "application/zip"),
    (status = "4XX", body = Problem, content_type = "application/problem+json",
     description = "`not-found`, `token`, `revoked`"),
))]
pub async fn file(
    State(app): State<Shared>,
    Caller(by): Caller,
    job: Result<Path<Uuid>, PathRejection>,
) -> Result<Response, Refused> {
    let job = named(job)?;
    let waits = app.storage.handed_over_job(by.number, job).await?.ok_or_else(not_waiting)?;
    let zip = claim::handed(&app, (job, waits.number)).await?.ok_or_else(not_waiting)?;
    let headers = [
        (header::CONTENT_TYPE, "application/zip"),
        (header::CACHE_CONTROL, "no-store"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    ];
    Ok((headers, zip).into_response())
}
