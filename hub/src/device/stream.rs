//! A device's ledger and what stands beside it, as the device brings them, and what the office has for it.

use super::body::{Json, Pieces, Whole, named, queried, unreadable};
use super::caller::{Caller, revoked};
use crate::app::{App, Shared};
use crate::problem::{Code, Refused};
use crate::storage::{Bearer, From, NotStored, Wanted};
use axum::extract::rejection::{PathRejection, QueryRejection};
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use evenwire_core::record::Hash;
use evenwire_core::sync::{
    Changes, Heads, HeadsStored, MOST_ASKED, MOST_HEADS, Missing, Problem, PushAsk, PushRefused, Stored, Tail,
};
use serde::Deserialize;

/// Where the hub's copy of the device's ledger ends.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(get, path = "/v1/devices/me", operation_id = "tail", security(("token" = [])), responses(
    (status = 200, body = Tail),
    (status = "4XX", body = Problem, content_type = "application/problem+json", description = "`token`, `revoked`"),
))]
pub async fn tail(State(app): State<Shared>, Caller(by): Caller) -> Result<axum::Json<Tail>, Refused> {
    Ok(axum::Json(app.storage.tail(by.number).await?))
}

/// The next entries of the device's ledger: all of them are on the disk when this is answered, or none was taken.
/// Entries that are here already may be sent again.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(post, path = "/v1/devices/me/entries", operation_id = "push_entries", security(("token" = [])), request_body = PushAsk, responses(
    (status = 200, body = Stored),
    (status = "4XX", body = Problem, content_type = "application/problem+json",
     description = "`unreadable`, `too-large`, `too-slow`, `token`, `revoked`, `gap` with `expected`, `fork` with `sequence`, \
                    `chain`, `signature`"),
))]
pub async fn push(
    State(app): State<Shared>,
    Caller(by): Caller,
    Whole(sent): Whole,
) -> Result<axum::Json<Stored>, Refused> {
    match app.storage.push(from(&app, by), sent).await? {
        Ok(stored) => {
            app.work.notify_one();
            Ok(axum::Json(stored))
        }
        Err(NotStored::Revoked) => Err(revoked()),
        Err(NotStored::Number) => Err(Code::Chain.because("No ledger has entries of such numbers.")),
        Err(NotStored::Refused(refused)) => Err(match refused {
            PushRefused::Unreadable { line, column } => unreadable(line, column),
            PushRefused::Empty => Code::Unreadable.because(format!("{refused}.")),
            PushRefused::Size => Code::TooLarge.because(format!("{refused}.")),
            PushRefused::Gap { expected } => {
                Code::Gap.because(format!("Send entry {expected} first.")).expecting(expected)
            }
            PushRefused::Fork { sequence } => {
                tracing::warn!(device = %by.id, sequence, "a ledger parts from what is here");
                let detail = format!("Entry {sequence} is another one here. The device has to go on as a new one.");
                Code::Fork.because(detail).differing_at(sequence)
            }
            PushRefused::Chain(_) => Code::Chain.because(format!("{refused}.")),
            PushRefused::Signature(_) | PushRefused::Other => Code::Signature.because(format!("{refused}.")),
        }),
    }
}

/// Brings signed heads of jobs that were closed. Those that prove nothing of the ledger as it is here are passed over.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(post, path = "/v1/devices/me/heads", operation_id = "put_heads", security(("token" = [])),
    request_body = Heads, responses(
    (status = 200, body = HeadsStored),
    (status = "4XX", body = Problem, content_type = "application/problem+json",
     description = "`unreadable`, `too-large`, `too-slow`, `token`, `revoked`"),
))]
pub async fn heads(
    State(app): State<Shared>,
    Caller(by): Caller,
    Json(brought): Json<Heads>,
) -> Result<axum::Json<HeadsStored>, Refused> {
    if brought.heads.len() > MOST_HEADS {
        return Err(Code::TooLarge.because(format!("Bring at most {MOST_HEADS}.")));
    }
    let came = app.storage.put_heads(from(&app, by), brought.heads).await?;
    came.map(axum::Json).ok_or_else(revoked)
}

fn from(app: &App, by: Bearer) -> From {
    From { hub: app.hub, number: by.number, device: by.id, key: by.key, at_ms: app.clock.now_ms() }
}

/// Which of these the hub wants and does not have.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(post, path = "/v1/blobs:missing", operation_id = "missing_blobs", security(("token" = [])), request_body = Missing, responses(
    (status = 200, body = Missing),
    (status = "4XX", body = Problem, content_type = "application/problem+json",
     description = "`unreadable`, `too-large`, `too-slow`, `token`, `revoked`"),
))]
pub async fn missing(
    State(app): State<Shared>,
    Caller(by): Caller,
    Json(asked): Json<Missing>,
) -> Result<axum::Json<Missing>, Refused> {
    if asked.hashes.len() > MOST_ASKED {
        return Err(Code::TooLarge.because(format!("Ask for at most {MOST_ASKED}.")));
    }
    Ok(axum::Json(Missing { hashes: app.storage.missing(by.number, asked.hashes).await? }))
}

/// Brings what an entry of the device names by its SHA-256. It may be brought twice.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(put, path = "/v1/blobs/{sha256}", operation_id = "put_blob", security(("token" = [])),
    params(("sha256" = String, Path, description = "64 hexadecimal digits")),
    request_body(description = "Its bytes", content_type = "application/octet-stream"), responses(
    (status = 204, description = "It is on the disk"),
    (status = "4XX", body = Problem, content_type = "application/problem+json",
     description = "`not-found`, `too-large`, `too-slow`, `token`, `revoked`, `not-wanted`, `hash-differs`"),
))]
pub async fn put(
    State(app): State<Shared>,
    Caller(by): Caller,
    hash: Result<Path<Hash>, PathRejection>,
    mut pieces: Pieces,
) -> Result<StatusCode, Refused> {
    let hash = named(hash)?;
    let unwanted = || Code::NotWanted.because("Entries that name it have to be here first, and still to want it.");
    let wanted = app.storage.wants(by.number, hash).await?;
    if wanted != Wanted::Missing {
        // Whoever sends hears an answer only when all of it was taken.
        while pieces.next().await?.is_some() {}
    }
    match wanted {
        Wanted::Revoked => return Err(revoked()),
        Wanted::No => return Err(unwanted()),
        Wanted::Here => return Ok(StatusCode::NO_CONTENT),
        Wanted::Missing => {}
    }
    let mut fresh = app.blobs.begin();
    while let Some(piece) = pieces.next().await? {
        fresh.push(piece).await?;
    }
    if fresh.hash() != hash {
        return Err(Code::HashDiffers.because("Send the bytes that the entry names."));
    }
    let noted = app.storage.note_blob(by.number, (hash, fresh.bytes()), app.clock.now_ms());
    let wanted = app.blobs.put(fresh, noted).await?;
    app.work.notify_one();
    match wanted {
        Wanted::Missing | Wanted::Here => Ok(StatusCode::NO_CONTENT),
        // Erased, or taken off, while it was being written.
        Wanted::No => Err(unwanted()),
        Wanted::Revoked => Err(revoked()),
    }
}

/// From where on.
#[derive(Clone, Copy, Debug, Deserialize)]
pub struct After {
    /// Number of the last change the device has; 0: it has none.
    #[serde(default)]
    pub after: u64,
}

/// What the office has for the device.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(get, path = "/v1/changes", operation_id = "changes", security(("token" = [])),
    params(("after" = Option<u64>, Query, description = "Number of the last change the device has")), responses(
    (status = 200, body = Changes),
    (status = "4XX", body = Problem, content_type = "application/problem+json",
     description = "`unreadable`, `token`, `revoked`"),
))]
pub async fn changes(
    State(app): State<Shared>,
    Caller(by): Caller,
    after: Result<Query<After>, QueryRejection>,
) -> Result<axum::Json<Changes>, Refused> {
    Ok(axum::Json(app.storage.changes(by.number, queried(after)?.after).await?))
}
