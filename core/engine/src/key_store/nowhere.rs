//! No key store of the system is known here.

use super::Away;

/// Never there, and never surely not.
pub(super) fn get(_name: &str, _prompt_seconds: u64) -> Result<Option<Vec<u8>>, Away> {
    Err(Away::Silent)
}

/// Never kept.
pub(super) fn put(_name: &str, _secret: &[u8]) -> Result<(), Away> {
    Err(Away::Silent)
}
