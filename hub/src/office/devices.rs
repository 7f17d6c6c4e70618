//! The devices of the shop: inviting one, taking it in, putting it out.

use super::model::{Access, OfficeCode, OfficeDevice, OfficeDevices, OfficeInvitation, OfficePairing, PairingAnswer};
use super::refusal::No;
use super::seat::{Office, Technician};
use super::sent::{Id, Sent, Told};
use crate::app::{Shared, stamp};
use crate::storage::{Deed, DeviceRow, INVITATION_MS, Lacks};
use axum::extract::State;
use axum::http::StatusCode;
use evenwire_core::sync::drawn;

fn text(at_ms: i64) -> String {
    stamp(at_ms).as_str().to_owned()
}

/// A device as the page shows it.
fn device(row: DeviceRow, lacks: &Lacks) -> OfficeDevice {
    OfficeDevice {
        device: row.id,
        fingerprint: row.key.fingerprint(),
        name: row.name,
        paired: text(row.paired_ms),
        seen: row.seen_ms.map(text),
        stored_through: row.tail.sequence,
        missing: lacks.of(row.number),
        revoked: row.revoked_ms.map(text),
        parted_at: lacks.parted_at(row.number),
    }
}

/// Every device, those that were put out last.
pub(super) async fn all(app: &Shared) -> Result<Vec<OfficeDevice>, No> {
    let lacks = app.storage.lacks().await?;
    let rows = app.storage.devices().await?;
    let mut devices: Vec<OfficeDevice> = rows.into_iter().map(|row| device(row, &lacks)).collect();
    devices.sort_by_key(|device| device.revoked.is_some());
    Ok(devices)
}

/// The devices, and those that want to be taken in.
pub async fn devices(State(app): State<Shared>, _seat: Technician) -> Result<Told<OfficeDevices>, No> {
    let now = app.clock.now_ms();
    let waiting = app.storage.pairings_waiting(now).await?;
    let pairings = waiting.into_iter().map(|row| OfficePairing {
        digits: app.digits_of(&row),
        pairing: row.pairing,
        asked: text(row.asked_ms),
        name: row.name,
    });
    let (devices, pairings) = (all(&app).await?, pairings.collect());
    let fingerprint = app.certificates.seal().public().fingerprint();
    Ok(Told(OfficeDevices { devices, pairings, fingerprint, at: text(now) }))
}

/// An invitation for one device.
pub async fn invite(State(app): State<Shared>, Office(by): Office) -> Result<Told<OfficeInvitation>, No> {
    let now = app.clock.now_ms();
    let until = text(now + INVITATION_MS);
    let invitation = app.invite(Some(by.person.id)).await?.text();
    let (fields, path) = drawn(&invitation).ok_or(OfficeCode::Failed)?;
    let deed = Deed { person: Some(by.person.id), ..Deed::default() };
    app.storage.note(Access::Invited, deed, (now, 0)).await?;
    Ok(Told(OfficeInvitation { text: invitation, fields, path, until }))
}

/// Yes or no to a device that asks.
pub async fn answer(
    State(app): State<Shared>,
    Office(by): Office,
    Id(pairing): Id,
    Sent(ask): Sent<PairingAnswer>,
) -> Result<StatusCode, No> {
    let now = app.clock.now_ms();
    let decided = app.storage.decide_pairing(pairing, ask.same, (Some(by.person.id), now)).await?;
    let row = decided.map_err(|_| OfficeCode::NotHere)?;
    let person = Some(by.person.id);
    // One that is turned away is no device of the shop: what it calls itself is all there is.
    let (what, deed) = match ask.same {
        true => (Access::Paired, Deed { person, device: Some(row.device), ..Deed::default() }),
        false => (Access::TurnedAway, Deed { person, about: row.name, ..Deed::default() }),
    };
    app.storage.note(what, deed, (now, 0)).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Puts a device out of the shop.
pub async fn revoke(State(app): State<Shared>, Office(by): Office, Id(device): Id) -> Result<StatusCode, No> {
    let now = app.clock.now_ms();
    if !app.storage.revoke(device, now).await? {
        return Err(OfficeCode::NotHere.into());
    }
    let deed = Deed { person: Some(by.person.id), device: Some(device), ..Deed::default() };
    app.storage.note(Access::Revoked, deed, (now, 0)).await?;
    Ok(StatusCode::NO_CONTENT)
}
