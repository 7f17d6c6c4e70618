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

/// Waits for whoever writes and keeps everybody out of all tables: who still serves with an older program would hold one
/// and wait for another. What there is to change may take long.
const ALONE: &str = "SET LOCAL statement_timeout = 0; DO $$ DECLARE of_ours RECORD; BEGIN
    PERFORM pg_advisory_xact_lock(1165379682, number::integer) FROM shop ORDER BY number;
    FOR of_ours IN SELECT relname FROM pg_class WHERE relnamespace = 'evenwire'::regnamespace AND relkind = 'r' ORDER BY 1
    LOOP EXECUTE format('LOCK TABLE %I IN ACCESS EXCLUSIVE MODE', of_ours.relname); END LOOP; END $$";

/// All steps that are missing, or none; the session in which they were done.
pub(in crate::storage) fn upgraded(config: Config) -> Result<Session, StorageError> {
    let during = "changing the tables";
    let session = Session::of_owner(config);
    session.begin(CHANGING, during)?;
    fitting(&session)?;
    let format = match format_of(&session)? {
        Some(format) => format,
        None => {
            let made = "CREATE SCHEMA IF NOT EXISTS evenwire; CREATE EXTENSION IF NOT EXISTS btree_gin;
                CREATE TABLE format (only_row BIGINT PRIMARY KEY CHECK (only_row = 1), step BIGINT NOT NULL);
                INSERT INTO format (only_row, step) VALUES (1, 0)";
            session.batch(made, during)?;
            0
        }
    };
    let known = STEPS.len() as i64;
    if format < known {
        if format > 0 {
            session.batch(ALONE, during)?;
        }
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

/// Whether the tables are there as this program makes them; none is made or changed.
pub(in crate::storage) fn as_they_are(config: Config) -> Result<(), StorageError> {
    let session = Session::of_owner(config);
    session.begin("BEGIN READ ONLY", "looking at the tables")?;
    let (found, known) = (format_of(&session)?.ok_or(StorageError::NotOurs)?, STEPS.len() as i64);
    if found < known { Err(StorageError::Older { found, known }) } else { Ok(()) }
}

/// The format of the tables; none where there are no tables yet.
fn format_of(session: &Session) -> Result<Option<i64>, StorageError> {
    let ours = "SELECT count(*) FROM pg_tables WHERE schemaname = 'evenwire' AND tablename = 'format'";
    if number(session, ours)? != Some(1) {
        let any = number(session, "SELECT count(*) FROM pg_tables WHERE schemaname = 'evenwire'")?;
        return if any == Some(0) { Ok(None) } else { Err(StorageError::NotOurs) };
    }
    let (format, known) =
        (number(session, "SELECT step FROM format")?.ok_or(StorageError::NotOurs)?, STEPS.len() as i64);
    if format > known { Err(StorageError::Newer { found: format, known }) } else { Ok(Some(format)) }
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
