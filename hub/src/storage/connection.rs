//! One connection to whichever database it is. A statement is one text for both as far as they agree; values are
//! written `?1`, `?2`, ….

use super::cell::{Cell, Column, Kind, Misread, Read};
use super::error::{During, StorageError};
use super::postgres::{self, Session};
use rusqlite::types::{ToSqlOutput, ValueRef};
use rusqlite::{CachedStatement, ToSql};

/// An open connection.
pub(super) enum Connection {
    /// To a file.
    Sqlite(rusqlite::Connection),
    /// To a server.
    Postgres(Box<Session>),
}

/// A row that was found.
#[derive(Clone, Copy)]
pub(super) enum Row<'a> {
    /// In a file.
    Sqlite(&'a rusqlite::Row<'a>),
    /// At a server.
    Postgres(&'a ::postgres::Row),
}

/// Done with each row; `false`: no more of them.
pub(super) type Each<'a> = dyn FnMut(&Row<'_>) -> Result<bool, StorageError> + 'a;

impl Connection {
    /// Changes rows; how many.
    pub(super) fn change(
        &self,
        (sql, values): (&str, &[Cell<'_>]),
        during: &'static str,
    ) -> Result<usize, StorageError> {
        match self {
            Connection::Sqlite(conn) => bound(conn, sql, values).and_then(|mut it| it.raw_execute()).during(during),
            Connection::Postgres(session) => session.change((sql, values), during),
        }
    }

    /// Does `each` with the rows that are found, one after the other.
    pub(super) fn each(
        &self,
        (sql, values): (&str, &[Cell<'_>]),
        during: &'static str,
        each: &mut Each<'_>,
    ) -> Result<(), StorageError> {
        match self {
            Connection::Sqlite(conn) => {
                let mut select = bound(conn, sql, values).during(during)?;
                let mut rows = select.raw_query();
                while let Some(row) = rows.next().during(during)? {
                    if !each(&Row::Sqlite(row))? {
                        break;
                    }
                }
                Ok(())
            }
            Connection::Postgres(session) => {
                for row in session.query((sql, values), during)? {
                    if !each(&Row::Postgres(&row))? {
                        break;
                    }
                }
                Ok(())
            }
        }
    }

    /// Does statements that have no values and find nothing.
    pub(super) fn batch(&self, sql: &str, during: &'static str) -> Result<(), StorageError> {
        match self {
            Connection::Sqlite(conn) => conn.execute_batch(sql).during(during),
            Connection::Postgres(session) => session.batch(sql, during),
        }
    }

    /// Ends a transaction so that it stands. An error: nothing of it does.
    pub(super) fn commit(&self) -> Result<(), StorageError> {
        match self {
            Connection::Sqlite(_) => self.batch("COMMIT", "committing"),
            // The server ends a transaction in which something failed as if all were well, and undoes it: any other
            // statement says so.
            Connection::Postgres(_) => self.batch("SELECT 1; COMMIT", "committing"),
        }
    }

    /// Whether a transaction that was begun goes on. A full disk or a lost connection may have ended it.
    pub(super) fn in_transaction(&self) -> bool {
        match self {
            Connection::Sqlite(conn) => !conn.is_autocommit(),
            Connection::Postgres(session) => session.is_open(),
        }
    }
}

fn bound<'conn>(
    conn: &'conn rusqlite::Connection,
    sql: &str,
    values: &[Cell<'_>],
) -> rusqlite::Result<CachedStatement<'conn>> {
    let mut statement = conn.prepare_cached(sql)?;
    let wanted = statement.parameter_count();
    if wanted != values.len() {
        return Err(rusqlite::Error::InvalidParameterCount(values.len(), wanted));
    }
    for (number, value) in (1..).zip(values) {
        statement.raw_bind_parameter(number, value)?;
    }
    Ok(statement)
}

impl ToSql for Cell<'_> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match *self {
            Cell::Null(_) => ValueRef::Null,
            Cell::Int(number) => ValueRef::Integer(number),
            Cell::Text(text) => ValueRef::Text(text.as_bytes()),
            Cell::Blob(bytes) => ValueRef::Blob(bytes),
        }))
    }
}

impl Row<'_> {
    fn cell(&self, column: usize) -> Read<Cell<'_>> {
        match self {
            Row::Sqlite(row) => match row.get_ref(column).map_err(|error| Misread(error.to_string()))? {
                ValueRef::Null => Ok(Cell::Null(Kind::Blob)),
                ValueRef::Integer(number) => Ok(Cell::Int(number)),
                ValueRef::Blob(bytes) => Ok(Cell::Blob(bytes)),
                ValueRef::Text(text) => {
                    let text = str::from_utf8(text).map_err(|error| Misread(format!("column {column}: {error}")))?;
                    Ok(Cell::Text(text))
                }
                ValueRef::Real(_) => Err(Misread(format!("column {column} holds a measure"))),
            },
            Row::Postgres(row) => postgres::cell(row, column),
        }
    }

    /// What stands in a column.
    pub(super) fn get<T: Column>(&self, column: usize) -> Read<T> {
        let cell = self.cell(column)?;
        T::of(cell).ok_or_else(|| Misread(format!("column {column} holds another kind of value")))
    }

    /// The text that stands in a column; empty where there is none.
    pub(super) fn text(&self, column: usize) -> Read<&str> {
        Ok(if let Cell::Text(text) = self.cell(column)? { text } else { "" })
    }
}
