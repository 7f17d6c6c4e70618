//! The stories of a hub once more, word for word, with its rows in PostgreSQL.

#![allow(clippy::duplicate_mod, reason = "each file of stories brings its own shop")]

#[path = "at_once.rs"]
mod at_once;
#[path = "beside.rs"]
mod beside;
#[path = "device.rs"]
mod device;
#[path = "found.rs"]
mod found;
#[path = "handovers.rs"]
mod handovers;
#[path = "looked_at.rs"]
mod looked_at;
#[path = "office_jobs.rs"]
mod office_jobs;
#[path = "office_people.rs"]
mod office_people;
#[path = "own_password.rs"]
mod own_password;
#[path = "owner_link.rs"]
mod owner_link;
#[path = "prefix.rs"]
mod prefix;
#[path = "signatures.rs"]
mod signatures;
