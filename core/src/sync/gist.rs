//! What a hub has to know of an entry that it keeps as it came. It is read where the bytes lie: with copies of each entry
//! reading it took a fifth longer, without letting go of them on another thread.

use super::beside::{Change, changes};
use crate::record::{CARRIED, ChainError, Entry, Event, Hash, Link, MAX_ENTRY_BYTES, Sealed};
use serde_json::value::RawValue;
use uuid::Uuid;

/// What of an entry is looked at while it is taken in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gist {
    /// What binds it to the entry before it.
    pub link: Link,
    /// The job it belongs to, if any.
    pub job: Option<Uuid>,
    /// Its kind and the version of that, where it belongs to no job or is not known here.
    pub kind: Option<(String, u16)>,
    /// What it does to what should stand beside the entries; `None` for a kind this program does not know.
    pub means: Option<Vec<Change>>,
}

impl Gist {
    /// Reads the bytes of an entry.
    ///
    /// # Errors
    /// As [`Sealed::read`].
    pub fn read(text: &str) -> Result<Gist, ChainError> {
        match serde_json::from_str::<Entry<&str, &RawValue>>(text) {
            Ok(entry) if entry.kind != CARRIED && text.len() <= MAX_ENTRY_BYTES => {
                let event = Event::read(entry.kind, entry.version, entry.body.get());
                let kind = (entry.kind, entry.version);
                Ok(Gist::told(Link::of(&entry, Hash::of(text.as_bytes()), event.as_ref()), (entry.job, kind), event))
            }
            // It carries another one, or is too long, or its kind is not written as it is, or it is no entry at all.
            _ => Sealed::read(text.as_bytes().to_vec()).map(|sealed| Gist::of(&sealed)),
        }
    }

    /// That of an entry.
    pub fn of(sealed: &Sealed) -> Gist {
        let entry = sealed.entry();
        Gist::told(sealed.link(), (entry.job, (&entry.kind, entry.version)), sealed.event())
    }

    fn told(link: Link, (job, (kind, version)): (Option<Uuid>, (&str, u16)), event: Option<Event>) -> Gist {
        let means = event.map(|event| changes(&event, job));
        let kind = (job.is_none() || means.is_none()).then(|| (kind.to_owned(), version));
        Gist { link, job, kind, means }
    }
}
