//! Values as they stand in rows, and back.

use super::cell::{Read, Values};
use super::connection::{Connection, Row};
use super::error::{During, StorageError};
use evenwire_core::record::Hash;
use uuid::Uuid;

/// Bits of a place that number the entry; those above number the device.
pub(super) const PLACES: u32 = 40;

/// Where entry `sequence` of a device stands. Numbers of 2^40 and above do not occur: a batch that has one is refused.
pub(super) fn place(device: i64, sequence: u64) -> i64 {
    debug_assert!(sequence < 1 << PLACES);
    (device << PLACES) | (sequence as i64)
}

/// The number of the entry at a place.
pub(super) fn sequence_at(place: i64) -> u64 {
    (place & ((1 << PLACES) - 1)) as u64
}

/// The largest number an entry may have here.
pub(super) const MOST_SEQUENCE: u64 = (1 << PLACES) - 1;

pub(super) fn id(row: &Row<'_>, column: usize) -> Read<Uuid> {
    row.get(column).map(Uuid::from_bytes)
}

pub(super) fn id_or_none(row: &Row<'_>, column: usize) -> Read<Option<Uuid>> {
    row.get::<Option<[u8; 16]>>(column).map(|id| id.map(Uuid::from_bytes))
}

pub(super) fn hash(row: &Row<'_>, column: usize) -> Read<Hash> {
    row.get(column).map(Hash)
}

/// The one row, or none.
pub(super) fn one<T>(
    conn: &Connection,
    (sql, values): (&str, impl Values),
    read: impl FnOnce(&Row<'_>) -> Read<T>,
    during: &'static str,
) -> Result<Option<T>, StorageError> {
    let (mut found, mut read) = (None, Some(read));
    let mut first = |row: &Row<'_>| {
        if let Some(read) = read.take() {
            found = Some(read(row).during(during)?);
        }
        Ok(false)
    };
    values.with(|values| conn.each((sql, values), during, &mut first))?;
    Ok(found)
}

/// All rows.
pub(super) fn all<T>(
    conn: &Connection,
    (sql, values): (&str, impl Values),
    mut read: impl FnMut(&Row<'_>) -> Read<T>,
    during: &'static str,
) -> Result<Vec<T>, StorageError> {
    let mut found = Vec::new();
    let mut each = |row: &Row<'_>| {
        found.push(read(row).during(during)?);
        Ok(true)
    };
    values.with(|values| conn.each((sql, values), during, &mut each))?;
    Ok(found)
}

/// Changes rows; how many.
pub(super) fn change(
    conn: &Connection,
    (sql, values): (&str, impl Values),
    during: &'static str,
) -> Result<usize, StorageError> {
    values.with(|values| conn.change((sql, values), during))
}
