//! Who asks: the session behind a cookie, the role it takes, and the token that whatever changes something needs.

use super::model::{OfficeCode, Role};
use super::refusal::No;
use crate::app::{Shared, secret};
use crate::storage::{Person, StorageError};
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, Method, header};
use evenwire_core::record::Hash;

/// Name of the cookie. Browsers take one of that beginning only for this host, its whole, and over TLS.
const COOKIE: &str = "__Host-evenwire-office";
/// Where the session's token is shown.
const CSRF: &str = "x-evenwire-csrf";
/// How long somebody stays signed in: a working day.
pub(super) const SESSION_MS: i64 = 12 * 60 * 60 * 1000;

/// Somebody at the page.
#[derive(Clone, Debug)]
pub struct Seat {
    /// Who.
    pub person: Person,
    /// What goes with everything that changes something.
    pub csrf: String,
    /// Hash of the session's token.
    pub token: Hash,
}

fn equal(one: &str, other: &str) -> bool {
    // Every character is looked at, so that the time taken tells nothing.
    let differences = one.bytes().zip(other.bytes()).filter(|(a, b)| a != b).count();
    one.len() == other.len() && differences == 0
}

fn token(headers: &HeaderMap) -> Option<Hash> {
    let all = headers.get_all(header::COOKIE).into_iter().filter_map(|cookies| cookies.to_str().ok());
    let mut ours = all.flat_map(|cookies| cookies.split(';')).filter_map(|cookie| {
        let (name, value) = cookie.trim().split_once('=')?;
        (name == COOKIE).then_some(value)
    });
    ours.next().map(|token| Hash::of(token.as_bytes()))
}

impl Seat {
    /// Who sits behind these headers.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn of(app: &Shared, headers: &HeaderMap) -> Result<Option<Seat>, StorageError> {
        let Some(token) = token(headers) else { return Ok(None) };
        let found = app.storage.session(token, app.clock.now_ms()).await?;
        Ok(found.map(|row| Seat { person: row.person, csrf: row.csrf, token }))
    }

    async fn for_role(parts: &Parts, app: &Shared, least: Role) -> Result<Seat, No> {
        let seat = Seat::of(app, &parts.headers).await?.ok_or(OfficeCode::SignedOut)?;
        let shown = parts.headers.get(CSRF).and_then(|shown| shown.to_str().ok()).unwrap_or_default();
        if parts.method != Method::GET && !equal(shown, &seat.csrf) {
            return Err(OfficeCode::StalePage.into());
        }
        if seat.person.role < least {
            return Err(OfficeCode::NotAllowed.into());
        }
        Ok(seat)
    }
}

macro_rules! at_least {
    ($($role:ident: $says:literal),*) => {$(
        #[doc = $says]
        #[derive(Clone, Debug)]
        pub struct $role(pub Seat);

        impl FromRequestParts<Shared> for $role {
            type Rejection = No;

            async fn from_request_parts(parts: &mut Parts, app: &Shared) -> Result<Self, No> {
                Seat::for_role(parts, app, Role::$role).await.map($role)
            }
        }
    )*};
}
at_least!(
    Technician: "Anybody who is signed in.",
    Office: "Somebody who may change what concerns devices and jobs.",
    Owner: "Somebody who may change who may what."
);

/// Signs somebody in: the cookie that says so.
///
/// # Errors
/// [`StorageError`].
pub(super) async fn sit_down(app: &Shared, person: &Person) -> Result<HeaderValue, StorageError> {
    let (token, csrf, now) = (secret(), secret(), app.clock.now_ms());
    app.storage.begin_session(person.id, (Hash::of(token.as_bytes()), csrf), (now, now + SESSION_MS)).await?;
    Ok(cookie(&token, SESSION_MS / 1000))
}

/// The cookie that takes the one before away.
pub(super) fn gone() -> HeaderValue {
    cookie("", 0)
}

fn cookie(token: &str, seconds: i64) -> HeaderValue {
    let text = format!("{COOKIE}={token}; Path=/; Max-Age={seconds}; Secure; HttpOnly; SameSite=Strict");
    HeaderValue::from_str(&text).expect("a token is letters and digits")
}
