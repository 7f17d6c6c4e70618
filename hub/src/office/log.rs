//! Who looked at what.

use super::model::{AccessLine, AccessLog};
use super::refusal::No;
use super::seat::Owner;
use super::sent::{Told, Wanted};
use crate::app::{Shared, stamp};
use axum::extract::State;
use serde::Deserialize;

/// Lines at once.
const MOST: u32 = 100;

/// From where on.
#[derive(Debug, Deserialize)]
pub struct Before {
    /// Older than this line; from the newest on without it.
    #[serde(default)]
    before: Option<i64>,
}

/// The log, newest first.
pub async fn log(
    State(app): State<Shared>,
    _owner: Owner,
    Wanted(wanted): Wanted<Before>,
) -> Result<Told<AccessLog>, No> {
    let mut rows = app.storage.access(wanted.before.unwrap_or(i64::MAX), MOST + 1).await?;
    let more = rows.len() > MOST as usize;
    rows.truncate(MOST as usize);
    let line = |row: crate::storage::AccessRow| AccessLine {
        number: row.number.unsigned_abs(),
        at: stamp(row.at_ms).as_str().to_owned(),
        name: row.name,
        what: row.what,
        about: row.about,
    };
    Ok(Told(AccessLog { lines: rows.into_iter().map(line).collect(), more }))
}
