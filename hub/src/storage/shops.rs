//! The shops of a database. A file has one; a server may have many, of which each sees its own rows alone.

use super::connection::{Connection, Row};
use super::hub::begin_here;
use super::postgres::{self, ONLY};
use super::row::{all, change, id_or_none, one};
use super::{Postgres, ServerAddress, Setup, Storage, StorageError};
use uuid::Uuid;

/// Characters of a shop's name in addresses, at most.
pub const MOST_SHOP_NAME: usize = 40;

/// A shop of a database.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShopRow {
    number: i64,
    /// What it is called in addresses; empty: the shop of a database that has one.
    pub name: String,
    /// Which hub its devices ask for; none where that stands with its rows.
    pub hub: Option<Uuid>,
}

impl ShopRow {
    fn only() -> ShopRow {
        ShopRow { number: ONLY, name: String::new(), hub: None }
    }
}

/// Whether a shop may be called so in addresses: letters a to z, digits, and hyphens between them.
pub fn is_shop_name(name: &str) -> bool {
    let inside = |byte: u8| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-';
    (1..=MOST_SHOP_NAME).contains(&name.len())
        && name.bytes().all(inside)
        && !name.starts_with('-')
        && !name.ends_with('-')
        // Those are hubs, by their ids.
        && Uuid::try_parse(name).is_err()
}

fn read(row: &Row<'_>) -> super::cell::Read<ShopRow> {
    Ok(ShopRow { number: row.get(0)?, name: row.get(1)?, hub: id_or_none(row, 2)? })
}

const SHOPS: &str = "SELECT number, name, hub FROM shop";

impl Storage {
    /// Every shop, by name; the one without a name is there whether or not it was begun.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn shops(&self) -> Result<Vec<ShopRow>, StorageError> {
        if let Storage::Sqlite(_) = self {
            return Ok(vec![ShopRow::only()]);
        }
        let sql = format!("{SHOPS} ORDER BY name");
        self.read(move |conn| all(conn, (&sql, ()), read, "reading the shops")).await
    }

    /// The shop that is called `name` in addresses.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn shop_named(&self, name: &str) -> Result<Option<ShopRow>, StorageError> {
        if let Storage::Sqlite(_) = self {
            return Ok(Some(ShopRow::only()).filter(|only| only.name == name));
        }
        let (sql, name) = (format!("{SHOPS} WHERE name = ?1"), name.to_owned());
        self.read(move |conn| one(conn, (&sql, (name,)), read, "looking for a shop")).await
    }

    /// The shop with a name whose devices ask for that hub.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn shop_of_hub(&self, hub: Uuid) -> Result<Option<ShopRow>, StorageError> {
        if let Storage::Sqlite(_) = self {
            return Ok(None);
        }
        let sql = format!("{SHOPS} WHERE hub = ?1");
        self.read(move |conn| one(conn, (&sql, (hub.into_bytes(),)), read, "looking for a shop")).await
    }

    /// What is kept, as that shop sees it.
    pub fn of(&self, shop: &ShopRow) -> Storage {
        match self {
            Storage::Sqlite(file) => Storage::Sqlite(file.clone()),
            Storage::Postgres(server) => Storage::Postgres(server.of(shop.number)),
        }
    }
}

impl Postgres {
    /// Adds a shop to the database of that address, whose tables whoever signs in owns; its hub begins as `setup` says.
    /// `None`: another one is called so.
    ///
    /// # Errors
    /// [`StorageError`], also when whoever signs in may not.
    pub fn add_shop(address: &ServerAddress, name: &str, setup: Setup) -> Result<Option<ShopRow>, StorageError> {
        let (config, name) = (postgres::config(&address.0)?, name.to_owned());
        postgres::apart(move || {
            let during = "adding a shop";
            let conn = Connection::Postgres(Box::new(postgres::upgraded(config)?));
            conn.batch("BEGIN", during)?;
            let hub = setup.id.into_bytes();
            let sql = "INSERT INTO shop (name, hub) VALUES (?1, ?2) ON CONFLICT DO NOTHING
                       RETURNING number, name, hub";
            let Some(added) = one(&conn, (sql, (&name, hub)), read, during)? else { return Ok(None) };
            let sql = "SELECT set_config('evenwire.shop', CAST(?1 AS TEXT), true)";
            one(&conn, (sql, (added.number.to_string(),)), |_| Ok(()), during)?;
            begin_here(&conn, setup)?;
            conn.batch("COMMIT", during)?;
            Ok(Some(added))
        })
    }
}

/// Whether a hub was begun among these rows.
pub(super) fn is_begun(conn: &Connection) -> Result<bool, StorageError> {
    Ok(one(conn, ("SELECT 1 FROM hub", ()), |_| Ok(()), "looking for a hub")?.is_some())
}

/// Another link for the first owner; `false`: one came in already.
pub(super) fn set_up_anew(conn: &Connection, setup: &Setup) -> Result<bool, StorageError> {
    let sql = "UPDATE hub SET setup = ?1 WHERE setup IS NOT NULL";
    Ok(change(conn, (sql, (setup.token.0,)), "making another link")? > 0)
}

impl Storage {
    /// Whether a hub was begun here.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn is_begun(&self) -> Result<bool, StorageError> {
        self.read(is_begun).await
    }

    /// Makes another link for the first owner of a hub that was begun, and ends the one before. `false`: nobody waits for
    /// one.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn set_up_anew(&self, setup: Setup) -> Result<bool, StorageError> {
        self.write(move |conn| set_up_anew(conn, &setup)).await
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shop_is_called_as_a_part_of_an_address() {
        for good in ["a", "7", "loetauge", "loet-auge-2", &"x".repeat(40)] {
            assert!(is_shop_name(good), "{good}");
        }
        let id = "0123456789abcdef0123456789abcdef";
        for bad in ["", "-a", "a-", "Loet", "lötauge", "a.b", "a b", "a_b", &"x".repeat(41), id] {
            assert!(!is_shop_name(bad), "{bad}");
        }
    }
}
