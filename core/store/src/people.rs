//! The people of the roster.

use crate::Store;
use crate::error::{During, StoreError};
use crate::row;
use evenwire_core::record::{KeptPerson, PinHash, Tries};
use evenwire_core::unit::{BootId, Millis};
use rusqlite::{Connection, Row, Transaction, params};
use serde_json::json;
use uuid::Uuid;

/// Columns of a person.
pub(crate) const PERSON: &str = "id, salt, sum, text, pin, wrong, wrong_at_ms, wrong_boot";

impl Store {
    /// Everybody who is or was on the roster, by id. A row that is not as it was written is left out, so that whoever it
    /// was of signs nothing, and everybody else goes on working; [`Store::check`] tells of it.
    ///
    /// # Errors
    /// [`StoreError`] when the file cannot be read.
    pub fn people(&self) -> Result<Vec<KeptPerson>, StoreError> {
        all(&self.conn)
    }
}

/// See [`Store::people`].
pub(crate) fn all(conn: &Connection) -> Result<Vec<KeptPerson>, StoreError> {
    let read = |row: &Row<'_>| match person(row) {
        Ok(kept) => Ok(Some(kept)),
        Err(StoreError::Damaged { .. }) => Ok(None),
        Err(other) => Err(other),
    };
    let found = crate::read::all(conn, &format!("SELECT {PERSON} FROM person ORDER BY id"), ([], read))?;
    Ok(found.into_iter().flatten().collect())
}

/// Writes a person in place of an older row.
pub(crate) fn put(tx: &Transaction<'_>, kept: &KeptPerson) -> Result<(), StoreError> {
    let sql = "INSERT INTO person (id, salt, sum, text, pin, wrong, wrong_at_ms, wrong_boot)
               VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)
               ON CONFLICT (id) DO UPDATE SET salt = excluded.salt, sum = excluded.sum, text = excluded.text,
                   pin = excluded.pin, wrong = excluded.wrong, wrong_at_ms = excluded.wrong_at_ms,
                   wrong_boot = excluded.wrong_boot";
    let tries = &kept.tries;
    let values = params![
        kept.person.as_bytes(),
        kept.salt,
        sum(kept),
        kept.text,
        kept.pin.0,
        tries.wrong,
        row::signed(tries.at.0),
        tries.boot.0
    ];
    tx.prepare_cached(sql)
        .and_then(|mut insert| insert.execute(values))
        .during(|| format!("writing person {}", kept.person))?;
    Ok(())
}

/// A person from the columns [`PERSON`].
pub(crate) fn person(row: &Row<'_>) -> Result<KeptPerson, StoreError> {
    let during = || "reading a person";
    let read = || {
        let tries = Tries { wrong: row.get(5)?, at: Millis(row::unsigned(row.get(6)?)), boot: BootId(row.get(7)?) };
        let person = Uuid::from_bytes(row.get(0)?);
        Ok(KeptPerson { person, salt: row.get(1)?, text: row.get(3)?, pin: PinHash(row.get(4)?), tries })
    };
    let kept = read().during(during)?;
    let written: i64 = row.get(2).during(during)?;
    if sum(&kept) == written {
        Ok(kept)
    } else {
        Err(StoreError::damaged(format!("person {} is not as it was written", kept.person)))
    }
}

fn sum(p: &KeptPerson) -> i64 {
    row::sum(&json!([p.person, p.salt, p.text, p.pin.0, p.tries.wrong, p.tries.at, p.tries.boot.0]))
}
