//! What the office keeps and is shown: its people, who looked at what, and the jobs as they lie here.

mod access;
mod lacks;
mod people;
mod records;
mod sessions;
mod signatures;

pub use access::{AccessRow, Deed};
pub use lacks::Lacks;
pub use people::{Person, PersonRefused, PersonRow};
pub use sessions::{SessionRow, SetUp};
pub use signatures::{Given, SignatureRow};
