//! Which device asks, as its token shows.

use crate::app::Shared;
use crate::problem::{Code, Refused};
use crate::storage::Bearer;
use axum::extract::FromRequestParts;
use axum::http::header::AUTHORIZATION;
use axum::http::request::Parts;
use evenwire_core::record::Hash;

/// A device whose token is good and that may come.
#[derive(Clone, Copy, Debug)]
pub struct Caller(pub Bearer);

impl FromRequestParts<Shared> for Caller {
    type Rejection = Refused;
    async fn from_request_parts(parts: &mut Parts, app: &Shared) -> Result<Caller, Refused> {
        let none = || Code::Token.because("Ask for a token first.");
        let shown = parts.headers.get(AUTHORIZATION).and_then(|value| value.to_str().ok());
        let token =
            shown.and_then(|value| value.split_once(' ')).filter(|(kind, _)| kind.eq_ignore_ascii_case("bearer"));
        let (_, token) = token.ok_or_else(none)?;
        let bearer = app.storage.bearer(Hash::of(token.trim().as_bytes()), app.clock.now_ms()).await?;
        let bearer = bearer.ok_or_else(none)?;
        if bearer.revoked { Err(revoked()) } else { Ok(Caller(bearer)) }
    }
}

/// The answer to a device that may not come any more.
pub fn revoked() -> Refused {
    Code::Revoked.because("The office has taken this device off. Ask there; it can be invited again.")
}
