//! Second signatures: what waits for one, what became of those that were given here, and giving one.
//!
//! What is signed here goes to the device whose version of the job was seen, and stands when that has written it down. The
//! device answers in its ledger alone: with the signature, or with an entry that says why not.

use super::model::{Access, OfficeCode, OfficeGiven, OfficeSecond, SignatureAsk};
use super::record::{noted, one_of, versions};
use super::refusal::No;
use super::seat::{Office, Seat};
use super::sent::{Id, Sent};
use super::sign::knows_password;
use super::told::{AsTold, Version, told};
use crate::app::{Shared, random_id, stamp};
use crate::rates::Peer;
use crate::storage::{DeviceNumber, Given, SignatureRow};
use axum::extract::State;
use axum::http::StatusCode;
use evenwire_core::job::Job;
use evenwire_core::record::{Event, Hash, NotSigned, OfficeSigned, SignedJob};
use evenwire_core::report::Unsigned;
use evenwire_core::verdict::words::Language;
use std::collections::BTreeMap;
use uuid::Uuid;

/// What waits in a version of a job for a second person, as it is shown to `by`. `shown`: the devices whose versions are.
pub(super) async fn waiting(
    app: &Shared,
    (number, shown): (DeviceNumber, &[DeviceNumber]),
    told: &AsTold,
    by: &Seat,
) -> Result<Vec<OfficeSecond>, No> {
    if told.unsigned.is_empty() {
        return Ok(Vec::new());
    }
    let out = app.storage.devices().await?.iter().any(|row| row.number == number && row.revoked_ms.is_some());
    let given = app.storage.signatures_of(told.job.id).await?;
    let answers = answers(app, number).await?;
    let one = |waits: &Unsigned| {
        // Where another device's version is shown beside this one, its signatures stand there.
        let of_step = |row: &&SignatureRow| {
            row.step == waits.step && (row.device == number || !shown.contains(&row.device)) && !taken(&told.job, row)
        };
        let newest = given.iter().rev().find(of_step);
        let given = newest.map(|row| OfficeGiven {
            name: row.name.clone(),
            at: stamp(row.at_ms).as_str().to_owned(),
            refused: fate(row, (number, out), (waits, &answers)),
        });
        let underway = given.as_ref().is_some_and(|given| given.refused.is_none());
        let refused = match () {
            () if out => Some(OfficeCode::DeviceOut),
            () if underway => Some(OfficeCode::SignedAlready),
            () => may_sign(told, waits, by).err().map(OfficeCode::from),
        };
        OfficeSecond { waits: waits.clone(), given, refused }
    };
    Ok(told.unsigned.iter().map(one).collect())
}

/// The signature came into the record; if it does not stand any more, something ended it since.
fn taken(job: &Job, row: &SignatureRow) -> bool {
    job.work.as_ref().is_some_and(|work| work.has_taken(row.signature))
}

/// Why the device will not write it down; `None`: nothing is known of it yet.
fn fate(
    row: &SignatureRow,
    (number, out): (DeviceNumber, bool),
    (waits, answers): (&Unsigned, &BTreeMap<Uuid, NotSigned>),
) -> Option<OfficeCode> {
    match answers.get(&row.signature) {
        Some(why) => Some((*why).into()),
        None if row.device != number => Some(OfficeCode::SignHandedOver),
        None if row.doing != waits.doing => Some(OfficeCode::SignDoneAgain),
        None => out.then_some(OfficeCode::DeviceOut),
    }
}

/// What the device said of signatures that it did not take.
async fn answers(app: &Shared, number: DeviceNumber) -> Result<BTreeMap<Uuid, NotSigned>, No> {
    let said = app.storage.entries_of_device(number, ["signature-not-taken", ""]).await?;
    let answer = |event| match event {
        Event::SignatureNotTaken { signature, why, .. } => Some((signature, why)),
        _ => None,
    };
    Ok(said.iter().filter_map(|sealed| answer(sealed.event()?)).collect())
}

/// The rule the device holds to, too, asked of the job as it is here.
fn may_sign(told: &AsTold, waits: &Unsigned, by: &Seat) -> Result<(), NotSigned> {
    let signed = OfficeSigned {
        signature: random_id(),
        step: waits.step.clone(),
        doing: waits.doing,
        seen: seen(&told.job, told.job.entries.len()),
        person: by.person.id,
        personal: Hash::ZERO,
        at: told.job.opened.clone(),
    };
    let name_of = |person: Uuid| told.people.get(&person).map(String::as_str).filter(|name| !name.is_empty());
    told.job.sign_at_office(&signed, &by.person.name, name_of).map(drop)
}

/// The first `count` entries of the job: what came after them nobody saw.
fn seen(job: &Job, count: usize) -> SignedJob {
    SignedJob::of(job.id, job.entries.iter().copied().take(count))
}

/// Somebody signs a step as second person, with their own password once more. What would be refused whatever the password
/// is refused first.
pub async fn sign(
    State(app): State<Shared>,
    (Office(by), from): (Office, Peer),
    Id(job): Id,
    Sent(ask): Sent<SignatureAsk>,
) -> Result<StatusCode, No> {
    let all = versions(&app, job).await?;
    let shown: Vec<DeviceNumber> = all.iter().map(|(number, _)| *number).collect();
    let (number, entries) = one_of(&app, all, Some(ask.device)).await?;
    let version = Version { job, number, entries, language: Language::En };
    let told = told(&app, &version).await?.ok_or(OfficeCode::NotHere)?;
    let waits = waiting(&app, (number, &shown), &told, &by).await?;
    let second = waits.into_iter().find(|second| second.waits.step == ask.step).ok_or(OfficeCode::SignNothing)?;
    if second.waits.doing != ask.doing {
        return Err(OfficeCode::SignDoneAgain.into());
    }
    if let Some(refused) = second.refused {
        return Err(refused.into());
    }
    knows_password(&app, from, &by, ask.password).await?;
    let given = Given {
        signature: random_id(),
        device: number,
        step: ask.step,
        doing: ask.doing,
        seen: seen(&told.job, usize::try_from(ask.entries).unwrap_or(usize::MAX)),
        by: by.person.clone(),
        at: app.clock.stamp(),
    };
    app.storage.countersign(given, salt_of(&app, &by)).await?;
    noted(&app, Access::Signed, &by, job).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// One for all that somebody ever signs, also by a hub that was put back: a device keeps one name of one person.
fn salt_of(app: &Shared, by: &Seat) -> [u8; 32] {
    Hash::of(app.certificates.seal().sign("evenwire-signer", by.person.id.as_bytes()).as_bytes()).0
}
