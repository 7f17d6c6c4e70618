//! What a request brings, in time: whole and read as what it should be, or piece by piece.

use crate::app::Shared;
use crate::problem::{Code, Refused};
use axum::RequestExt;
use axum::body::{Body, Bytes, HttpBody};
use axum::extract::rejection::{PathRejection, QueryRejection};
use axum::extract::{FromRequest, Path, Query, Request};
use evenwire_core::sync::MOST_BLOB_BYTES;
use http_body_util::LengthLimitError;
use serde::de::DeserializeOwned;
use std::error::Error;
use std::future::poll_fn;
use std::pin::Pin;
use std::time::Duration;
use tokio::time::{Instant, timeout_at};

/// How long a body may take. A photo on a slow wireless network takes seconds.
pub(crate) const PATIENCE: Duration = Duration::from_secs(60);

/// Room that is made at once for a body of that length.
const BELIEVED: u64 = 512 * 1024;

/// Its bytes. Limits are set where the routes are.
#[derive(Debug)]
pub struct Whole(pub Vec<u8>);

/// Its bytes piece by piece, as they come, [`MOST_BLOB_BYTES`] at most: nothing of it is held here.
#[derive(Debug)]
pub struct Pieces {
    coming: Coming,
    came: usize,
}

/// A body on its way, and until when.
#[derive(Debug)]
struct Coming {
    body: Body,
    until: Instant,
}

impl FromRequest<Shared> for Pieces {
    type Rejection = Refused;
    async fn from_request(request: Request, _: &Shared) -> Result<Pieces, Refused> {
        let body = request.into_body();
        // What says that it is too long is not even begun.
        if body.size_hint().lower() > MOST_BLOB_BYTES as u64 {
            return Err(too_large());
        }
        Ok(Pieces { coming: Coming::of(body), came: 0 })
    }
}

impl Pieces {
    /// The next piece; `None` when it is whole.
    ///
    /// # Errors
    /// [`Code::TooSlow`], [`Code::TooLarge`], and [`Code::Unreadable`] when it ends before it is whole.
    pub async fn next(&mut self) -> Result<Option<Bytes>, Refused> {
        let piece = self.coming.next().await?;
        self.came += piece.as_ref().map_or(0, Bytes::len);
        if self.came > MOST_BLOB_BYTES { Err(too_large()) } else { Ok(piece) }
    }
}

impl Coming {
    fn of(body: Body) -> Coming {
        Coming { body, until: Instant::now() + PATIENCE }
    }

    async fn next(&mut self) -> Result<Option<Bytes>, Refused> {
        loop {
            let frame = poll_fn(|context| Pin::new(&mut self.body).poll_frame(context));
            let Some(frame) = timeout_at(self.until, frame).await.map_err(|_| too_slow())? else { return Ok(None) };
            // What is no bytes stands behind them and is not asked for.
            if let Ok(piece) = frame.map_err(|error| broken(&error))?.into_data() {
                return Ok(Some(piece));
            }
        }
    }
}

/// It is longer than the route lets it be, or was cut off.
fn broken(error: &axum::Error) -> Refused {
    let mut cause: Option<&dyn Error> = Some(error);
    while let Some(error) = cause {
        if error.is::<LengthLimitError>() {
            return too_large();
        }
        cause = error.source();
    }
    cut_off()
}

fn too_slow() -> Refused {
    Code::TooSlow.because("Send it again over a faster network.")
}

fn too_large() -> Refused {
    Code::TooLarge.because("Send it in smaller pieces.")
}

fn cut_off() -> Refused {
    Code::Unreadable.because("The request ended before it was whole.")
}

/// JSON of a `T`.
#[derive(Debug)]
pub struct Json<T>(pub T);

/// Form-encoded fields of a `T`.
#[derive(Debug)]
pub struct Form<T>(pub T);

impl FromRequest<Shared> for Whole {
    type Rejection = Refused;
    async fn from_request(request: Request, _: &Shared) -> Result<Whole, Refused> {
        let body = request.with_limited_body().into_body();
        // What it says of its length is believed as far as an ordinary batch goes; the rest has to come first.
        let mut whole = Vec::with_capacity(body.size_hint().lower().min(BELIEVED) as usize);
        let mut coming = Coming::of(body);
        // Each piece is let go at once, so that what it was read into can be used again.
        while let Some(piece) = coming.next().await? {
            whole.extend_from_slice(&piece);
        }
        Ok(Whole(whole))
    }
}

impl<T: DeserializeOwned> FromRequest<Shared> for Json<T> {
    type Rejection = Refused;
    async fn from_request(request: Request, app: &Shared) -> Result<Json<T>, Refused> {
        let Whole(bytes) = Whole::from_request(request, app).await?;
        let read = serde_json::from_slice(&bytes);
        // Where and of what sort, never what stands there: it may be a code.
        read.map(Json).map_err(|error| unreadable(error.line(), error.column()))
    }
}

/// Where what was sent is no JSON of what was asked for.
pub fn unreadable(line: usize, column: usize) -> Refused {
    Code::Unreadable.because(format!("Not the JSON this asks for, at line {line}, column {column}."))
}

impl<T: DeserializeOwned> FromRequest<Shared> for Form<T> {
    type Rejection = Refused;
    async fn from_request(request: Request, app: &Shared) -> Result<Form<T>, Refused> {
        let (parts, body) = request.into_parts();
        let again = |bytes: Vec<u8>| Request::from_parts(parts.clone(), bytes.into());
        let Whole(bytes) = Whole::from_request(Request::from_parts(parts.clone(), body), app).await?;
        let read = axum::Form::from_request(again(bytes), app).await;
        read.map(|axum::Form(form)| Form(form)).map_err(|_| Code::Unreadable.because("Not the form this asks for."))
    }
}

/// What an address names, or nothing of that name.
///
/// # Errors
/// [`Code::NotFound`] when it is no such name.
pub fn named<T>(path: Result<Path<T>, PathRejection>) -> Result<T, Refused> {
    path.map(|Path(name)| name).map_err(|_| Code::NotFound.because("That is no name of anything here."))
}

/// What stands after the question mark.
///
/// # Errors
/// [`Code::Unreadable`] when it cannot be read.
pub fn queried<T>(query: Result<Query<T>, QueryRejection>) -> Result<T, Refused> {
    query.map(|Query(query)| query).map_err(|_| Code::Unreadable.because("The address asks in a way nobody knows."))
}
