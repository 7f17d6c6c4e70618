//! What is committed together, or not at all.

use crate::job::Line;
use crate::record::{Chunk, Hash, KeptDetails, KeptHead, KeptPerson, Sealed};
use uuid::Uuid;

/// One transaction of the store.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Batch {
    /// New entries, chained, in order.
    pub entries: Vec<Sealed>,
    /// Personal details committed to by these entries.
    pub details: Vec<KeptDetails>,
    /// Chunks of samples: new, grown or closed.
    pub chunks: Vec<Chunk>,
    /// People of the roster: new, or changed.
    pub people: Vec<KeptPerson>,
    /// Pictures that these entries name by their hashes.
    pub pictures: Vec<(Hash, Vec<u8>)>,
    /// The end of the ledger after these entries, signed.
    pub heads: Vec<KeptHead>,
    /// Lines of the job list as they stand after these entries.
    pub lines: Vec<Line>,
    /// Jobs whose personal details and photos go with these entries.
    pub erased: Vec<Uuid>,
}

impl Batch {
    /// Nothing to write.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
            && self.details.is_empty()
            && self.chunks.is_empty()
            && self.people.is_empty()
            && self.pictures.is_empty()
            && self.heads.is_empty()
            && self.lines.is_empty()
            && self.erased.is_empty()
    }
}
