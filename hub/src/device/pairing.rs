//! Taking a device in, and giving it tokens.

use super::body::{Form, Json, named};
use super::caller::revoked;
use crate::app::{Shared, random_id, secret};
use crate::problem::{Code, Refused};
use crate::rates::Peer;
use crate::storage::{Asked, Issue, PairingRefused, PairingRow, TokenRefused};
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::IntoResponse;
use evenwire_core::record::Hash;
use evenwire_core::sync::{
    Assertion, JWT_BEARER, PairingAsk, PairingView, Problem, Proof, TOKEN_SECONDS, Token, TokenAsk,
};
use uuid::Uuid;

/// Characters of a device's name at most.
const LONGEST_NAME: usize = 60;
/// An assertion ends within this, seconds.
const LONGEST_ASSERTION: i64 = 5 * 60;

fn not_too_often(allowed: bool) -> Result<(), Refused> {
    if allowed { Ok(()) } else { Err(Code::TooOften.because("Wait a minute and try once more.")) }
}

fn view(row: &PairingRow) -> axum::Json<PairingView> {
    axum::Json(PairingView { pairing: row.pairing, state: row.state })
}

/// A device asks to be taken in, with the code of an invitation and a proof that it has its key. The office has to say
/// yes: both screens show the same six digits. Asked again with the same code and key, the answer is the same.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(post, path = "/v1/pairings", operation_id = "ask_pairing", request_body = PairingAsk, responses(
    (status = 201, body = PairingView),
    (status = "4XX", body = Problem, content_type = "application/problem+json",
     description = "`unreadable`, `too-large`, `too-slow`, `too-often`, `code`, `signature`, `other-key`"),
))]
pub async fn ask(
    State(app): State<Shared>,
    from: Peer,
    Json(ask): Json<PairingAsk>,
) -> Result<impl IntoResponse, Refused> {
    not_too_often(app.rates.codes.allows(from, None))?;
    let name = ask.name.trim();
    let long = name.chars().count();
    if !(1..=LONGEST_NAME).contains(&long) || name.chars().any(char::is_control) {
        return Err(Code::Unreadable.because(format!("Give the device a name of 1 to {LONGEST_NAME} characters.")));
    }
    let proof = Proof { hub: app.hub, code: ask.code.clone(), device: ask.device, name: ask.name.clone() };
    if Proof::verify(&ask.key, &ask.proof).ok() != Some(proof) {
        return Err(Code::Signature.because("The proof is not signed with this key for this hub, code and device."));
    }
    let asked = Asked {
        pairing: random_id(),
        code: Hash::of(ask.code.as_bytes()),
        device: ask.device,
        name: name.to_owned(),
        key: ask.key,
        at_ms: app.clock.now_ms(),
    };
    match app.storage.ask_pairing(asked).await? {
        Ok(row) => Ok((StatusCode::CREATED, view(&row))),
        Err(refused) => Err(not_paired(refused)),
    }
}

/// Why a device is not taken in, in words.
pub fn not_paired(refused: PairingRefused) -> Refused {
    match refused {
        PairingRefused::Code => Code::Code.because("It was used, or its time is over. Ask the office for another one."),
        PairingRefused::OtherKey => {
            Code::OtherKey.because("A device of this id is in the shop with another key. It has to begin anew.")
        }
        PairingRefused::NotWaiting => Code::NotWaiting.because("It was decided about, or its time is over."),
    }
}

/// How far a pairing has come. Only the device that asked knows its name.
///
/// # Errors
/// [`Refused`].
#[utoipa::path(get, path = "/v1/pairings/{pairing}", operation_id = "look_at_pairing", params(("pairing" = Uuid, Path, description = "Its name")),
    responses((status = 200, body = PairingView),
              (status = 404, body = Problem, content_type = "application/problem+json", description = "`not-found`")))]
pub async fn look(
    State(app): State<Shared>,
    pairing: Result<Path<Uuid>, PathRejection>,
) -> Result<axum::Json<PairingView>, Refused> {
    let found = app.storage.pairing(named(pairing)?, app.clock.now_ms()).await?;
    found.as_ref().map(view).ok_or_else(|| Code::NotFound.because("There is no such pairing."))
}

/// A token for a device that shows by its signature that it is one of this shop (RFC 7523 §2.1).
///
/// # Errors
/// [`Refused`].
#[utoipa::path(post, path = "/v1/token",
    request_body(content = TokenAsk, content_type = "application/x-www-form-urlencoded"),
    responses((status = 200, body = Token),
              (status = "4XX", body = Problem, content_type = "application/problem+json",
               description = "`unreadable`, `too-large`, `too-slow`, `too-often`, `signature`, `unknown-device`, `revoked`")))]
pub async fn token(
    State(app): State<Shared>,
    from: Peer,
    Form(ask): Form<TokenAsk>,
) -> Result<impl IntoResponse, Refused> {
    not_too_often(app.rates.tokens.allows(from, None))?;
    let wrong = || Code::Signature.because("The assertion is not one, or is over. Check the clock against the hub's.");
    if ask.grant_type != JWT_BEARER {
        return Err(Code::Unreadable.because(format!("Only {JWT_BEARER} is a kind of grant here.")));
    }
    let claimed = Assertion::claimed_by(&ask.assertion).ok_or_else(wrong)?;
    let known = app.storage.device(claimed).await?;
    let known = known.ok_or_else(|| Code::UnknownDevice.because("It has to be invited first."))?;
    let assertion = Assertion::verify(&known.key, &ask.assertion).map_err(|_| wrong())?;
    let now_ms = app.clock.now_ms();
    let now = now_ms.div_euclid(1000);
    let in_time = assertion.exp > now && assertion.exp - now <= LONGEST_ASSERTION;
    if (assertion.iss, assertion.sub, assertion.aud) != (known.id, known.id, app.hub) || !in_time {
        return Err(wrong());
    }
    let access_token = secret();
    let issue = Issue {
        device: known.number,
        assertion: (assertion.jti, assertion.exp * 1000),
        token: (Hash::of(access_token.as_bytes()), now_ms + i64::from(TOKEN_SECONDS) * 1000),
        at_ms: now_ms,
    };
    match app.storage.issue(issue).await? {
        Err(TokenRefused::Revoked) => Err(revoked()),
        Err(TokenRefused::Again) => Err(wrong()),
        Ok(()) => {
            let token = Token { access_token, token_type: "Bearer".to_owned(), expires_in: TOKEN_SECONDS };
            Ok(([(header::CACHE_CONTROL, "no-store")], axum::Json(token)))
        }
    }
}
