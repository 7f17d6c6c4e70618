//! A link by which an owner chooses a password, made without the office's page: for the owner who forgot theirs and has
//! nobody to ask. Whoever has the hub's folder, or its database, may make one; who that is nobody can say, so the access log
//! names nobody, and whose link it is.

use crate::office::model::{Access, Role};
use crate::office::people::link_at;
use crate::storage::{Deed, FILE, Person, Postgres, ServerAddress, Storage, StorageError};
use evenwire_core::record::folded;
use std::path::Path;

/// Where a hub's rows are.
#[derive(Clone, Copy, Debug)]
pub struct Place<'a> {
    /// Its folder.
    pub folder: &'a Path,
    /// The database of its rows, if they are not in the folder.
    pub store: Option<&'a ServerAddress>,
    /// The shop of that database; none: the one without a name.
    pub shop: Option<&'a str>,
}

/// A link that was made.
#[derive(Clone, PartialEq, Eq)]
pub struct OwnerLink {
    /// Whose.
    pub name: String,
    /// Its secret.
    pub token: String,
    /// When it ends, ms.
    pub ends_ms: i64,
}

/// Why no link was made.
#[derive(Debug, thiserror::Error)]
pub enum NoLink {
    /// What is kept.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// The folder has no rows of a hub.
    #[error("it holds no rows of a hub: --folder names a hub's folder, --store the database where they are in one")]
    NoHub,
    /// The database has no rows of a hub.
    #[error("no hub was begun there: --store names the database of a hub")]
    Empty,
    /// No shop was named, and there is none without a name.
    #[error("--shop says which shop; there are: {}", listed(.0))]
    WhichShop(Vec<String>),
    /// There is no shop of that name.
    #[error("there is no shop {name:?}; those with names are: {}", listed(.there))]
    NoShop {
        /// The one that was asked for.
        name: String,
        /// Those that are there.
        there: Vec<String>,
    },
    /// Nobody came in by the first link.
    #[error(
        "nobody is an owner yet: the first one comes in by the link that `evenwire-hub serve` prints at its start, or \
         `evenwire-hub shop link` for a shop with a name"
    )]
    NobodyYet,
    /// Several people are owners, and none was named.
    #[error("say whose link it is to be; owners are: {}", listed(.0))]
    WhichOwner(Vec<String>),
    /// Whoever was named is none.
    #[error("no owner who belongs to the office is called {name:?}; owners are: {}", listed(.owners))]
    NoOwner {
        /// Who was named.
        name: String,
        /// Who is one.
        owners: Vec<String>,
    },
}

fn listed(names: &[String]) -> String {
    if names.is_empty() { "none".to_owned() } else { names.join(", ") }
}

/// Makes a link for the owner who is called `name`, or for the only one there is, and notes that it was made. It ends the one
/// before; the password that is forgotten holds until another one was chosen. The hub may run meanwhile.
///
/// # Errors
/// [`NoLink`]: nobody knows a link then.
pub async fn make(place: Place<'_>, name: Option<&str>, now_ms: i64) -> Result<OwnerLink, NoLink> {
    let storage = open(place).await?;
    if storage.waits_for_owner().await? {
        return Err(NoLink::NobodyYet);
    }
    let people = storage.people().await?.into_iter().map(|row| row.person);
    let owner = chosen(people.filter(|person| person.role == Role::Owner).collect(), name)?;
    let (token, kept) = link_at(now_ms);
    // Who was taken off between the two looks is no owner any more.
    let gone = |_| NoLink::NoOwner { name: owner.name.clone(), owners: Vec::new() };
    let person = storage.link_person(owner.id, kept).await?.map_err(gone)?;
    let deed = Deed { about: person.name.clone(), ..Deed::default() };
    storage.note(Access::OwnerLink, deed, (now_ms, 0)).await?;
    Ok(OwnerLink { name: person.name, token, ends_ms: kept.1 })
}

/// The rows of the shop, as they are: none are made where there are none.
async fn open(Place { folder, store, shop }: Place<'_>) -> Result<Storage, NoLink> {
    let Some(store) = store else {
        if !folder.join(FILE).is_file() {
            return Err(NoLink::NoHub);
        }
        return Ok(Storage::open_beside(folder)?);
    };
    let all = match Postgres::open_beside(&store.0) {
        Err(StorageError::NotOurs) => return Err(NoLink::Empty),
        opened => Storage::Postgres(opened?),
    };
    let mut there = Vec::new();
    for row in all.shops().await? {
        let storage = all.of(&row);
        if !storage.is_begun().await? {
            continue;
        }
        if row.name == shop.unwrap_or_default() {
            return Ok(storage);
        }
        there.push(row.name);
    }
    let begun = !there.is_empty();
    there.retain(|name| !name.is_empty());
    Err(match shop {
        _ if !begun => NoLink::Empty,
        Some(name) => NoLink::NoShop { name: name.to_owned(), there },
        None => NoLink::WhichShop(there),
    })
}

fn chosen(mut owners: Vec<Person>, name: Option<&str>) -> Result<Person, NoLink> {
    let names: Vec<String> = owners.iter().map(|owner| owner.name.clone()).collect();
    let at = match name {
        Some(name) => owners.iter().position(|owner| folded(&owner.name) == folded(name)),
        None if owners.len() > 1 => return Err(NoLink::WhichOwner(names)),
        None => owners.len().checked_sub(1),
    };
    let none = || NoLink::NoOwner { name: name.unwrap_or_default().to_owned(), owners: names };
    at.map(|at| owners.swap_remove(at)).ok_or_else(none)
}
