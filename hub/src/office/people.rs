//! Who may use the office.

use super::is_name;
use super::model::{Access, OfficeCode, OfficePerson, PersonAsk, SetUpLink};
use super::refusal::No;
use super::seat::{Owner, Seat};
use super::sent::{Id, Sent, Told};
use crate::app::{Shared, random_id, secret, stamp};
use crate::storage::{Deed, Person, PersonRefused};
use axum::extract::State;
use axum::http::StatusCode;
use evenwire_core::record::Hash;

/// How long a link is good: over a weekend.
const LINK_MS: i64 = 4 * 24 * 60 * 60 * 1000;

impl From<PersonRefused> for No {
    fn from(refused: PersonRefused) -> No {
        match refused {
            PersonRefused::Taken => OfficeCode::NameTaken,
            PersonRefused::Nobody => OfficeCode::NotHere,
            PersonRefused::LastOwner => OfficeCode::LastOwner,
        }
        .into()
    }
}

/// Everybody, by name.
pub async fn people(State(app): State<Shared>, _owner: Owner) -> Result<Told<Vec<OfficePerson>>, No> {
    let people = app.storage.people().await?.into_iter().map(|row| {
        let Person { id, name, role } = row.person;
        OfficePerson { person: id, name, role, waiting: row.password.is_empty() }
    });
    Ok(Told(people.collect()))
}

/// The token of a link that is made now, known to nobody but whoever it is told to; and what is kept of it: a hash, and when
/// it ends.
pub(crate) fn link_at(now_ms: i64) -> (String, (Hash, i64)) {
    let token = secret();
    let kept = (Hash::of(token.as_bytes()), now_ms + LINK_MS);
    (token, kept)
}

fn link(app: &Shared) -> (SetUpLink, (Hash, i64)) {
    let (token, kept) = link_at(app.clock.now_ms());
    (SetUpLink { token, until: stamp(kept.1).as_str().to_owned() }, kept)
}

async fn noted(app: &Shared, by: &Seat, about: String) -> Result<(), No> {
    let deed = Deed { person: Some(by.person.id), about, ..Deed::default() };
    Ok(app.storage.note(Access::Person, deed, (app.clock.now_ms(), 0)).await?)
}

/// Adds somebody, who chooses a password by the link.
pub async fn add(
    State(app): State<Shared>,
    Owner(by): Owner,
    Sent(ask): Sent<PersonAsk>,
) -> Result<Told<SetUpLink>, No> {
    if !is_name(&ask.name) {
        return Err(OfficeCode::NameWrong.into());
    }
    let (told, kept) = link(&app);
    let of = Person { id: random_id(), name: ask.name.trim().to_owned(), role: ask.role };
    let name = of.name.clone();
    app.storage.add_person(of, kept, app.clock.now_ms()).await??;
    noted(&app, &by, name).await?;
    Ok(Told(told))
}

/// Another link for somebody.
pub async fn link_again(State(app): State<Shared>, Owner(by): Owner, Id(of): Id) -> Result<Told<SetUpLink>, No> {
    let (told, kept) = link(&app);
    let person = app.storage.link_person(of, kept).await??;
    noted(&app, &by, person.name).await?;
    Ok(Told(told))
}

/// Somebody may do something else from now on.
pub async fn turn(
    State(app): State<Shared>,
    Owner(by): Owner,
    Id(of): Id,
    Sent(ask): Sent<PersonAsk>,
) -> Result<StatusCode, No> {
    let person = app.storage.turn_person(of, ask.role).await??;
    noted(&app, &by, person.name).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Takes somebody off.
pub async fn end(State(app): State<Shared>, Owner(by): Owner, Id(of): Id) -> Result<StatusCode, No> {
    let person = app.storage.end_person(of, app.clock.now_ms()).await??;
    noted(&app, &by, person.name).await?;
    Ok(StatusCode::NO_CONTENT)
}
