//! The tables of a database: made and changed by whoever owns them, with the rights of the role that serves.

use super::Session;
use crate::storage::error::{During, StorageError};
use postgres::Config;

/// Step `n` of the list leads from format `n - 1` to format `n`. A released step is never edited.
const STEPS: &[&str] = &[
    include_str!("../migrations/postgres/0001_hub.sql"),
    include_str!("../migrations/postgres/0002_office.sql"),
    include_str!("../migrations/postgres/0003_signatures.sql"),
    include_str!("../migrations/postgres/0004_batches.sql"),
];
/// The role that serves, and what it may with the tables as they are now.
const ROLE: &str = include_str!("../migrations/postgres/role.sql");
const SHOPS: &str = include_str!("../migrations/postgres/shops.sql");

/// Begins to change tables; no shop has this number. Others that begin at the same time wait.
const CHANGING: &str = "BEGIN ISOLATION LEVEL READ COMMITTED READ WRITE; SELECT pg_advisory_xact_lock(1165379682, 0)";

/// All steps that are missing, or none; the session in which they were done.
pub(in crate::storage) fn upgraded(config: Config) -> Result<Session, StorageError> {
    let during = "changing the tables";
    let session = Session::of_owner(config);
    session.begin(CHANGING, during)?;
    fitting(&session)?;
    let ours = "SELECT count(*) FROM pg_tables WHERE schemaname = 'evenwire' AND tablename = 'format'";
    if number(&session, ours)? != Some(1) {
        if number(&session, "SELECT count(*) FROM pg_tables WHERE schemaname = 'evenwire'")? != Some(0) {
            return Err(StorageError::NotOurs);
        }
        let made = "CREATE SCHEMA IF NOT EXISTS evenwire; CREATE EXTENSION IF NOT EXISTS btree_gin;
            CREATE TABLE format (only_row BIGINT PRIMARY KEY CHECK (only_row = 1), step BIGINT NOT NULL);
            INSERT INTO format (only_row, step) VALUES (1, 0)";
        session.batch(made, during)?;
    }
    let format = number(&session, "SELECT step FROM format")?.ok_or(StorageError::NotOurs)?;
    let known = STEPS.len() as i64;
    if format > known {
        return Err(StorageError::Newer { found: format, known });
    }
    if format < known {
        session.batch(ROLE, "making the role that serves")?;
        for (number, step) in (1i64..).zip(STEPS).filter(|(number, _)| *number > format) {
            session.batch(step, during)?;
            session.batch(&format!("UPDATE format SET step = {number}"), during)?;
        }
        session.batch(SHOPS, "dividing the tables among the shops")?;
    }
    session.batch("COMMIT", during)?;
    Ok(session)
}

/// What the database has to be like.
fn fitting(session: &Session) -> Result<(), StorageError> {
    let utf8 = "SELECT count(*) FROM pg_database WHERE datname = current_database() AND encoding = 6";
    if number(session, utf8)? != Some(1) {
        let why = "its encoding is not UTF8".to_owned();
        return Err(StorageError::Failed { during: "opening the database", why });
    }
    if number(session, "SELECT 1::bigint FROM pg_settings WHERE name = 'fsync' AND setting = 'off'")?.is_some() {
        tracing::warn!("the database has fsync off: what devices are told to be safe is lost with its machine's power");
    }
    Ok(())
}

fn number(session: &Session, sql: &str) -> Result<Option<i64>, StorageError> {
    let during = "looking at the tables";
    let rows = session.query((sql, &[]), during)?;
    rows.first().map(|row| row.try_get(0).during(during)).transpose().map(Option::flatten)
}
