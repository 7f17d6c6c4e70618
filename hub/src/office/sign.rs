//! Signing in and out, and choosing a password: by a link, or with the one before.

use super::model::{Access, OfficeCode, OfficeSelf, OfficeSession, PasswordAsk, SetUpAsk, SignInAsk};
use super::refusal::No;
use super::seat::{Seat, Technician, gone, sit_down};
use super::sent::{Sent, Told};
use super::{is_name, password};
use crate::app::{Shared, random_id};
use crate::rates::Peer;
use crate::storage::{Deed, Person, SetUp};
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use evenwire_core::record::{Hash, folded};

/// Who sits here, told to everybody: the page begins with it.
pub async fn session(State(app): State<Shared>, headers: HeaderMap) -> Result<Told<OfficeSession>, No> {
    let seat = Seat::of(&app, &headers).await?;
    let person =
        seat.map(|Seat { person: Person { id, name, role }, csrf, .. }| OfficeSelf { person: id, name, role, csrf });
    let set_up = !app.storage.waits_for_owner().await?;
    Ok(Told(OfficeSession { shop: app.storage.shop_name().await?, set_up, person }))
}

/// A password is compared slowly on purpose; whoever tries many waits.
fn not_too_often(app: &Shared, from: Peer, name: Option<&str>) -> Result<(), No> {
    if app.rates.passwords.allows(from, name) { Ok(()) } else { Err(OfficeCode::TooOften.into()) }
}

/// Name and password become a session.
pub async fn sign_in(State(app): State<Shared>, from: Peer, Sent(ask): Sent<SignInAsk>) -> Result<Response, No> {
    not_too_often(&app, from, Some(&folded(&ask.name)))?;
    let found = app.storage.person_named(ask.name).await?;
    let hash = found.as_ref().map(|row| row.password.clone());
    let fits = password::fits(ask.password, hash).await;
    let now = app.clock.now_ms();
    let person = found.map(|row| row.person);
    let deed = Deed { person: person.as_ref().map(|of| of.id), ..Deed::default() };
    let Some(person) = person.filter(|_| fits) else {
        // What was typed as a name may be a password: it is written nowhere.
        app.storage.note(Access::Refused, deed, (now, 0)).await?;
        return Err(OfficeCode::WrongPassword.into());
    };
    app.storage.note(Access::SignedIn, deed, (now, 0)).await?;
    seated(&app, &person).await
}

async fn seated(app: &Shared, person: &Person) -> Result<Response, No> {
    let cookie = sit_down(app, person).await?;
    Ok((StatusCode::NO_CONTENT, [(header::SET_COOKIE, cookie)]).into_response())
}

/// Whoever holds a link chooses a password and is signed in.
pub async fn set_up(State(app): State<Shared>, from: Peer, Sent(ask): Sent<SetUpAsk>) -> Result<Response, No> {
    not_too_often(&app, from, None)?;
    if !password::is_long_enough(&ask.password) {
        return Err(OfficeCode::PasswordShort.into());
    }
    if app.storage.waits_for_owner().await? && !(is_name(&ask.name) && ask.shop.chars().count() <= super::MOST_NAME) {
        return Err(OfficeCode::NameWrong.into());
    }
    let password = password::hash(ask.password).await.ok_or(OfficeCode::Failed)?;
    let token = Hash::of(ask.token.as_bytes());
    let at_ms = app.clock.now_ms();
    let set_up = SetUp { token, id: random_id(), name: ask.name, shop: ask.shop, password, at_ms };
    let person = app.storage.set_up(set_up).await?.ok_or(OfficeCode::LinkOver)?;
    let deed = Deed { person: Some(person.id), ..Deed::default() };
    app.storage.note(Access::SignedIn, deed, (at_ms, 0)).await?;
    seated(&app, &person).await
}

/// It is whoever signed in, and not somebody at a page that was left open. Answers with the hash that the password fits.
pub(super) async fn knows_password(app: &Shared, from: Peer, by: &Seat, password: String) -> Result<String, No> {
    not_too_often(app, from, Some(&folded(&by.person.name)))?;
    let found = app.storage.person_named(by.person.name.clone()).await?;
    let hash = found.filter(|row| row.person.id == by.person.id).map(|row| row.password).unwrap_or_default();
    if password::fits(password, Some(hash.clone())).await {
        return Ok(hash);
    }
    let deed = Deed { person: Some(by.person.id), ..Deed::default() };
    app.storage.note(Access::Refused, deed, (app.clock.now_ms(), 0)).await?;
    Err(OfficeCode::WrongPassword.into())
}

/// Whoever is signed in chooses another password, and is signed out everywhere else.
pub async fn choose_anew(
    State(app): State<Shared>,
    Technician(seat): Technician,
    from: Peer,
    Sent(ask): Sent<PasswordAsk>,
) -> Result<StatusCode, No> {
    if !password::is_long_enough(&ask.new) {
        return Err(OfficeCode::PasswordShort.into());
    }
    let old = knows_password(&app, from, &seat, ask.old).await?;
    let new = password::hash(ask.new).await.ok_or(OfficeCode::Failed)?;
    // Somebody with their link may have been quicker.
    if !app.storage.change_password(seat.person.id, (old, new), seat.token).await? {
        return Err(OfficeCode::WrongPassword.into());
    }
    let deed = Deed { person: Some(seat.person.id), ..Deed::default() };
    app.storage.note(Access::Password, deed, (app.clock.now_ms(), 0)).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Ends the session.
pub async fn sign_out(State(app): State<Shared>, Technician(seat): Technician) -> Result<Response, No> {
    app.storage.end_session(seat.token).await?;
    Ok((StatusCode::NO_CONTENT, [(header::SET_COOKIE, gone())]).into_response())
}
