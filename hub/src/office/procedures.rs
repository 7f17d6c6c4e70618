//! Procedures the office sends to the shop's devices.

use super::model::{Access, OfficeCode, OfficeMistake, OfficeProcedure, ProcedureAsk};
use super::refusal::No;
use super::seat::{Office, Technician};
use super::sent::{Sent, Spoken, Told, Wanted};
use crate::app::{Shared, stamp};
use crate::storage::Deed;
use axum::extract::State;
use evenwire_core::meter::FileError;
use evenwire_core::procedure::{Procedure, at_least_as_strict};
use evenwire_core::sync::Change;
use evenwire_core::verdict::words::Language;
use std::collections::BTreeMap;

fn mistake(error: &FileError) -> OfficeMistake {
    let place = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
    OfficeMistake {
        line: place(error.line),
        column: place(error.column),
        what: error.what.clone(),
        instead: error.instead.clone(),
    }
}

fn told(of: &Procedure, sent_ms: i64, language: Language) -> OfficeProcedure {
    OfficeProcedure {
        id: of.head.id.clone(),
        version: of.head.version,
        title: of.head.title.get(language).to_owned(),
        sent: stamp(sent_ms).as_str().to_owned(),
    }
}

/// What was sent last under each id.
async fn newest(app: &Shared) -> Result<BTreeMap<String, (Procedure, i64)>, No> {
    let sent = app.storage.procedures_sent().await?.into_iter();
    let read = sent.filter_map(|(text, at_ms)| Some((Procedure::parse(&text).ok()?, at_ms)));
    Ok(read.map(|(procedure, at_ms)| (procedure.head.id.clone(), (procedure, at_ms))).collect())
}

/// The procedures of the shop.
pub async fn sent(
    State(app): State<Shared>,
    _seat: Technician,
    Wanted(spoken): Wanted<Spoken>,
) -> Result<Told<Vec<OfficeProcedure>>, No> {
    let newest = newest(&app).await?;
    Ok(Told(newest.values().map(|(of, at_ms)| told(of, *at_ms, spoken.language())).collect()))
}

/// Checks a file as a device does and sends it to every device of the shop.
pub async fn send(
    State(app): State<Shared>,
    Office(by): Office,
    Wanted(spoken): Wanted<Spoken>,
    Sent(ask): Sent<ProcedureAsk>,
) -> Result<Told<OfficeProcedure>, No> {
    let wrong = |errors: Vec<FileError>| No(OfficeCode::ProcedureWrong, errors.iter().map(mistake).collect());
    let new = Procedure::parse(&ask.text).map_err(wrong)?;
    if let Some((known, _)) = newest(&app).await?.get(&new.head.id) {
        if new.head.version <= known.head.version {
            return Err(OfficeCode::ProcedureVersion.into());
        }
        at_least_as_strict(known, &new).map_err(|_| OfficeCode::ProcedureWeaker)?;
    }
    let now = app.clock.now_ms();
    app.storage.tell(None, Change::ProcedureSent { text: ask.text }, now).await?;
    let told = told(&new, now, spoken.language());
    let deed = Deed { person: Some(by.person.id), about: told.title.clone(), ..Deed::default() };
    app.storage.note(Access::Procedure, deed, (now, 0)).await?;
    Ok(Told(told))
}
