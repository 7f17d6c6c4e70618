//! What the page sends and gets: JSON, and refusals where it is none.

use super::model::OfficeCode;
use super::refusal::No;
use crate::device::body::PATIENCE;
use axum::extract::{FromRequest, FromRequestParts, Path, Query, Request};
use axum::http::request::Parts;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use evenwire_core::verdict::words::Language;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A body as JSON that says it is.
#[derive(Debug)]
pub struct Sent<T>(pub T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequest<S> for Sent<T> {
    type Rejection = No;

    async fn from_request(request: Request, state: &S) -> Result<Self, No> {
        // A form of another page cannot say so without being asked first.
        let json = |value: &header::HeaderValue| value.to_str().is_ok_and(|kind| kind.starts_with("application/json"));
        if !request.headers().get(header::CONTENT_TYPE).is_some_and(json) {
            return Err(OfficeCode::Unreadable.into());
        }
        let unreadable = || No::from(OfficeCode::Unreadable);
        let body = tokio::time::timeout(PATIENCE, axum::body::Bytes::from_request(request, state)).await;
        let bytes = body.map_err(|_| unreadable())?.map_err(|refused| match refused.into_response().status() {
            StatusCode::PAYLOAD_TOO_LARGE => No::from(OfficeCode::TooLarge),
            _ => unreadable(),
        })?;
        serde_json::from_slice(&bytes).map(Sent).map_err(|_| unreadable())
    }
}

/// The id in an address.
#[derive(Clone, Copy, Debug)]
pub struct Id(pub Uuid);

impl<S: Send + Sync> FromRequestParts<S> for Id {
    type Rejection = No;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, No> {
        let found = Path::<Uuid>::from_request_parts(parts, state).await;
        found.map(|Path(id)| Id(id)).map_err(|_| OfficeCode::NotHere.into())
    }
}

/// What stands behind the question mark.
#[derive(Debug)]
pub struct Wanted<T>(pub T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequestParts<S> for Wanted<T> {
    type Rejection = No;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, No> {
        let found = Query::<T>::from_request_parts(parts, state).await;
        found.map(|Query(wanted)| Wanted(wanted)).map_err(|_| OfficeCode::Unreadable.into())
    }
}

/// The language an answer is wanted in.
#[derive(Clone, Copy, Debug, Default, Deserialize)]
pub struct Spoken {
    /// English where none is said.
    #[serde(default)]
    pub language: Option<Language>,
}

impl Spoken {
    /// The language.
    pub fn language(self) -> Language {
        self.language.unwrap_or(Language::En)
    }
}

/// An answer as JSON, kept by nobody on the way.
#[derive(Debug)]
pub struct Told<T>(pub T);

impl<T: Serialize> IntoResponse for Told<T> {
    fn into_response(self) -> Response {
        let headers = [
            (header::CONTENT_TYPE, "application/json"),
            (header::CACHE_CONTROL, "no-store"),
            (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        ];
        match serde_json::to_vec(&self.0) {
            Ok(body) => (headers, body).into_response(),
            Err(error) => {
                tracing::error!(%error, "an answer cannot be written");
                No::from(OfficeCode::Failed).into_response()
            }
        }
    }
}
