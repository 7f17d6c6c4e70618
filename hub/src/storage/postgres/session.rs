//! One connection to PostgreSQL, made anew when it was lost.

use crate::storage::cell::{Cell, Kind, Misread, Read};
use crate::storage::error::{During, StorageError};
use postgres::types::{FromSql, ToSql, Type};
use postgres::{Client, Config, NoTls, Statement};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::error::Error;
use std::time::{Duration, Instant};

/// How long a server that does not answer is asked again: one that was restarted is there in a second or two.
const PATIENCE: Duration = Duration::from_secs(5);
/// Between two tries.
const PAUSE: Duration = Duration::from_millis(50);
/// Statements that are kept ready; beyond that all are forgotten.
const READY: usize = 256;

/// How every session is: what is told to be stored is on the server's disk, nobody holds the others up for long, and
/// text means the same everywhere.
const SETTINGS: &str = "
    SET search_path = evenwire, public;
    SET statement_timeout = '60s';
    SET lock_timeout = '20s';
    SET idle_in_transaction_session_timeout = '20s';
    SET client_min_messages = 'warning';
    SELECT set_config('synchronous_commit', 'on', false) WHERE current_setting('synchronous_commit') IN ('off', 'local')";

/// Whoever serves is the role that owns nothing. What it may not is made sure of each time, whoever made the role: one
/// that passes by the policies would show each shop the others.
const AS_THE_ROLE: &str = "
    SET ROLE evenwire_hub;
    DO $$ BEGIN
        IF EXISTS (SELECT 1 FROM pg_roles WHERE rolname = current_user AND (rolsuper OR rolbypassrls))
            OR EXISTS (SELECT 1 FROM pg_tables WHERE schemaname = 'evenwire' AND tableowner = current_user) THEN
            RAISE EXCEPTION 'the role % could see every shop', current_user;
        END IF;
    END $$";

/// A connection, and what it has ready.
pub(in crate::storage) struct Session {
    config: Config,
    /// What is done first.
    settings: String,
    open: RefCell<Option<Open>>,
}

struct Open {
    client: Client,
    ready: BTreeMap<String, Statement>,
}

impl Session {
    /// One that serves, not connected yet.
    pub(in crate::storage) fn serving(config: Config) -> Session {
        Session { config, settings: format!("{SETTINGS};{AS_THE_ROLE}"), open: RefCell::new(None) }
    }

    /// The same for whoever writes, nearly always rows by their keys: a plan made once is as good as one made for each
    /// values, and need not be made five times first.
    pub(in crate::storage) fn writing(config: Config) -> Session {
        let serving = Session::serving(config);
        Session { settings: format!("{};SET plan_cache_mode = 'force_generic_plan'", serving.settings), ..serving }
    }

    /// One that makes and changes tables, with the rights of whoever signs in; not connected yet.
    pub(in crate::storage) fn of_owner(config: Config) -> Session {
        Session { config, settings: SETTINGS.to_owned(), open: RefCell::new(None) }
    }

    /// Begins a transaction with `sql`. A connection that was lost since the last one is made anew first; one that is
    /// lost after that is a fault of whoever uses it.
    pub(in crate::storage) fn begin(&self, sql: &str, during: &'static str) -> Result<(), StorageError> {
        if self.is_open() {
            let begun = self.batch(sql, during);
            if self.is_open() {
                if begun.is_err() {
                    // Whatever was begun of it.
                    self.batch("ROLLBACK", during)?;
                }
                return begun;
            }
        }
        let client = self.connect().during("reaching the database")?;
        self.open.replace(Some(Open { client, ready: BTreeMap::new() }));
        self.batch(sql, during)
    }

    fn connect(&self) -> Result<Client, postgres::Error> {
        let begun = Instant::now();
        loop {
            let connected = self.config.connect(NoTls).and_then(|mut client| {
                client.batch_execute(&self.settings)?;
                Ok(client)
            });
            match connected {
                Err(error) if begun.elapsed() < PATIENCE && passes(&error) => std::thread::sleep(PAUSE),
                ended => return ended,
            }
        }
    }

    /// Whether there is a connection, as far as anybody noticed.
    pub(in crate::storage) fn is_open(&self) -> bool {
        self.open.borrow().as_ref().is_some_and(|open| !open.client.is_closed())
    }

    pub(in crate::storage) fn batch(&self, sql: &str, during: &'static str) -> Result<(), StorageError> {
        let mut open = self.open.borrow_mut();
        open.as_mut().ok_or(StorageError::Closed)?.client.batch_execute(sql).during(during)
    }

    pub(in crate::storage) fn change(
        &self,
        (sql, values): (&str, &[Cell<'_>]),
        during: &'static str,
    ) -> Result<usize, StorageError> {
        let changed = self.with(sql, values, |client, statement, values| client.execute(statement, values));
        let count = changed?.during(during)?;
        Ok(usize::try_from(count).unwrap_or(usize::MAX))
    }

    pub(in crate::storage) fn query(
        &self,
        (sql, values): (&str, &[Cell<'_>]),
        during: &'static str,
    ) -> Result<Vec<postgres::Row>, StorageError> {
        self.with(sql, values, |client, statement, values| client.query(statement, values))?.during(during)
    }

    /// Changes rows with values that are rows of values.
    pub(in crate::storage) fn change_many(
        &self,
        (sql, values): (&str, &[&(dyn ToSql + Sync)]),
        during: &'static str,
    ) -> Result<(), StorageError> {
        let mut open = self.open.borrow_mut();
        let Open { client, ready } = open.as_mut().ok_or(StorageError::Closed)?;
        let done = prepared((client, ready), sql, &[]).and_then(|statement| client.execute(&statement, values));
        done.during(during).map(drop)
    }

    fn with<T>(
        &self,
        sql: &str,
        values: &[Cell<'_>],
        work: impl FnOnce(&mut Client, &Statement, &[&(dyn ToSql + Sync)]) -> Result<T, postgres::Error>,
    ) -> Result<Result<T, postgres::Error>, StorageError> {
        let mut open = self.open.borrow_mut();
        let Open { client, ready } = open.as_mut().ok_or(StorageError::Closed)?;
        let types: Vec<Type> = values.iter().map(type_of).collect();
        let statement = match prepared((client, ready), sql, &types) {
            Ok(statement) => statement,
            Err(error) => return Ok(Err(error)),
        };
        let texts: Vec<Option<String>> = values.iter().map(without_nul).collect();
        let bound: Vec<&(dyn ToSql + Sync)> = values.iter().zip(&texts).map(bound).collect();
        Ok(work(client, &statement, &bound))
    }
}

/// Whether it may be otherwise in a moment: nobody listens yet, or the server is starting or ending.
fn passes(error: &postgres::Error) -> bool {
    error.code().is_none_or(|code| code.code().starts_with("57P") || code.code() == "53300")
}

fn prepared(
    (client, ready): (&mut Client, &mut BTreeMap<String, Statement>),
    sql: &str,
    types: &[Type],
) -> Result<Statement, postgres::Error> {
    if let Some(statement) = ready.get(sql) {
        return Ok(statement.clone());
    }
    let statement = client.prepare_typed(&as_it_takes(sql), types)?;
    if ready.len() >= READY {
        ready.clear();
    }
    ready.insert(sql.to_owned(), statement.clone());
    Ok(statement)
}

/// A statement as PostgreSQL takes it: `?1` is `$1`, and what must not be there twice is so within a shop.
fn as_it_takes(sql: &str) -> String {
    sql.replace('?', "$").replace("ON CONFLICT (", "ON CONFLICT (shop, ")
}

fn type_of(cell: &Cell<'_>) -> Type {
    match cell {
        Cell::Int(_) | Cell::Null(Kind::Int) => Type::INT8,
        Cell::Text(_) | Cell::Null(Kind::Text) => Type::TEXT,
        Cell::Blob(_) | Cell::Null(Kind::Blob) => Type::BYTEA,
    }
}

/// Text in PostgreSQL cannot hold the character 0. The entries' own bytes, which are no text there, keep it.
fn without_nul(cell: &Cell<'_>) -> Option<String> {
    match cell {
        Cell::Text(text) if text.contains('\0') => Some(text.replace('\0', "\u{fffd}")),
        _ => None,
    }
}

fn bound<'a>((cell, other): (&'a Cell<'a>, &'a Option<String>)) -> &'a (dyn ToSql + Sync) {
    match (cell, other) {
        (_, Some(text)) => text,
        (Cell::Null(Kind::Int), _) => &None::<i64>,
        (Cell::Null(Kind::Text), _) => &None::<&str>,
        (Cell::Null(Kind::Blob), _) => &None::<&[u8]>,
        (Cell::Int(number), _) => number,
        (Cell::Text(text), _) => text,
        (Cell::Blob(bytes), _) => bytes,
    }
}

/// What stands in a column of a row.
pub(in crate::storage) fn cell(row: &postgres::Row, column: usize) -> Read<Cell<'_>> {
    let Held(cell) = row.try_get(column).map_err(|error| Misread(format!("column {column}: {error}")))?;
    Ok(cell)
}

struct Held<'a>(Cell<'a>);

impl<'a> FromSql<'a> for Held<'a> {
    fn from_sql(of: &Type, raw: &'a [u8]) -> Result<Held<'a>, Box<dyn Error + Sync + Send>> {
        let number = |number: i64| Ok(Held(Cell::Int(number)));
        match *of {
            Type::BOOL => number(i64::from(bool::from_sql(of, raw)?)),
            Type::INT4 => number(i64::from(i32::from_sql(of, raw)?)),
            Type::INT8 => number(i64::from_sql(of, raw)?),
            Type::BYTEA => Ok(Held(Cell::Blob(raw))),
            _ => Ok(Held(Cell::Text(str::from_utf8(raw)?))),
        }
    }

    fn from_sql_null(_: &Type) -> Result<Held<'a>, Box<dyn Error + Sync + Send>> {
        Ok(Held(Cell::Null(Kind::Blob)))
    }

    fn accepts(of: &Type) -> bool {
        [Type::BOOL, Type::INT4, Type::INT8, Type::BYTEA, Type::TEXT, Type::VARCHAR].contains(of)
    }
}
