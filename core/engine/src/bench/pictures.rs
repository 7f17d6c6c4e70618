//! A photo of the job on the bench is shown again.

use crate::photo;
use evenwire_core::job::Refusal;
use evenwire_core::record::Hash;
use evenwire_core::session::Session;
use evenwire_core::view::Reply;
use evenwire_store::{Store, StoreError};

/// The photo, if the job on the bench has it and it was not erased.
///
/// # Errors
/// As the store reads pictures.
pub(super) fn picture(session: &Session, store: &Store, photo: Hash) -> Result<Reply, StoreError> {
    let job = session.job().filter(|job| job.photos.iter().any(|kept| kept.photo == photo));
    let found = job.map(|job| store.picture(job.id, photo)).transpose()?.flatten();
    Ok(match found {
        Some(jpeg) => Reply::Picture { jpeg: photo::for_page(&jpeg) },
        None => Reply::refused(Refusal::NoSuchPhoto, session.language()),
    })
}
