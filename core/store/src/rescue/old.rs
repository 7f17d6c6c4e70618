//! A damaged file, read as far as it can be: what cannot be read is as if it were not there, and nothing is written.

use crate::error::{During, StoreError};
use crate::schema;
use evenwire_core::record::{Hash, Sealed};
use rusqlite::types::FromSql;
use rusqlite::{Connection, OpenFlags, Row, ToSql};
use std::collections::BTreeSet;
use std::path::Path;
use uuid::Uuid;

/// Numbers tried one by one where a row of them is broken off.
const MOST_TRIED: i64 = 20_000;

/// The file; none when SQLite does not even open it.
pub(super) struct Old(Option<Connection>);

impl Old {
    pub(super) fn at(path: &Path) -> Old {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = Connection::open_with_flags(path, flags).ok();
        // The file cannot be written by this connection. With the first setting, what cannot be understood of the
        // definitions is passed over, and a file shorter than it says is read as far as it goes.
        let settings = "PRAGMA writable_schema = ON; PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON;";
        conn.iter().for_each(|conn| drop(conn.execute_batch(settings)));
        Old(conn)
    }

    /// Whether its tables and triggers are those of this program's format.
    pub(super) fn has_our_tables(&self) -> bool {
        let written = self.0.as_ref().and_then(|conn| schema::written(conn).ok());
        written.is_some_and(|written| schema::expected().is_ok_and(|expected| expected == written))
    }

    /// The first entry, if it is whole.
    pub(super) fn first_entry(&self) -> Option<Sealed> {
        let (hash, bytes) = self.entry_bytes(1)?;
        Sealed::read(bytes).ok().filter(|read| read.hash() == hash && read.entry().sequence == 1)
    }

    /// The hash and the bytes of an entry as they stand there.
    pub(super) fn entry_bytes(&self, sequence: i64) -> Option<(Hash, Vec<u8>)> {
        let read = |row: &Row<'_>| Ok((Hash(row.get(0)?), row.get(1)?));
        let read = |row: &Row<'_>| read(row).during(|| "reading an entry");
        self.row("SELECT hash, bytes FROM entry NOT INDEXED WHERE sequence = ?1", sequence, read)
    }

    /// A photo that is what its hash says.
    pub(super) fn picture(&self, number: i64) -> Option<(Uuid, Hash, Vec<u8>)> {
        let read = |row: &Row<'_>| Ok((Uuid::from_bytes(row.get(0)?), Hash(row.get(1)?), row.get::<_, Vec<u8>>(2)?));
        let read = |row: &Row<'_>| read(row).during(|| "reading a photo");
        let found = self.row("SELECT job, hash, bytes FROM picture NOT INDEXED WHERE rowid = ?1", number, read);
        found.filter(|(_, hash, bytes)| Hash::of(bytes) == *hash)
    }

    /// The row that `sql` finds for `key`, if it can be read and is whole.
    pub(super) fn row<T>(
        &self,
        sql: &str,
        key: impl ToSql,
        read: impl Fn(&Row<'_>) -> Result<T, StoreError>,
    ) -> Option<T> {
        let mut select = self.0.as_ref()?.prepare_cached(sql).ok()?;
        let mut rows = select.query([key]).ok()?;
        read(rows.next().ok()??).ok()
    }

    /// Every number in a column that is the table's own order, as far as they can be found: from the front, from the
    /// back, and one by one between the two where the row is broken.
    pub(super) fn numbers(&self, table: &str, column: &str) -> BTreeSet<i64> {
        let (mut found, whole): (BTreeSet<i64>, bool) = self.walk(table, (column, "NOT INDEXED", "ASC"));
        if whole {
            return found;
        }
        let front = found.last().copied().unwrap_or(0);
        let (back, _) = self.walk(table, (column, "NOT INDEXED", "DESC"));
        let end = back.range(front + 1..).next().copied().unwrap_or(i64::MAX);
        found.extend(back);
        let there = format!("SELECT {column} FROM {table} NOT INDEXED WHERE {column} = ?1");
        let tried = (front + 1..end).take(usize::try_from(MOST_TRIED).unwrap_or(0));
        let read = |row: &Row<'_>| row.get::<_, i64>(0).during(|| "looking for a row");
        found.extend(tried.filter_map(|number| self.row(&there, number, read)));
        found
    }

    /// Every key of a table that is kept in their order, from both ends.
    pub(super) fn keys(&self, table: &str, column: &str) -> BTreeSet<Vec<u8>> {
        let (mut found, whole) = self.walk(table, (column, "", "ASC"));
        if !whole {
            found.extend(self.walk(table, (column, "", "DESC")).0);
        }
        found
    }

    /// The column up to where it cannot be read any further, and whether that is its end.
    fn walk<K: FromSql + Ord>(&self, table: &str, (column, how, order): (&str, &str, &str)) -> (BTreeSet<K>, bool) {
        let mut found = BTreeSet::new();
        let Some(conn) = &self.0 else { return (found, true) };
        let sql = format!("SELECT {column} FROM {table} {how} ORDER BY {column} {order}");
        let walked = conn.prepare(&sql).and_then(|mut select| {
            let mut rows = select.query([])?;
            while let Some(row) = rows.next()? {
                // In a page that was written over, anything may stand; then a row has no key.
                if let Ok(key) = row.get(0) {
                    found.insert(key);
                }
            }
            Ok(())
        });
        (found, walked.is_ok())
    }
}
