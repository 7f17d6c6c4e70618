//! A stored sweep is drawn again from its samples.

use evenwire_core::job::Refusal;
use evenwire_core::record::{Sample, SweepFact};
use evenwire_core::session::Session;
use evenwire_core::view::{self, Reply};
use evenwire_store::{Store, StoreError};
use uuid::Uuid;

/// The trace of a sweep of the job on the bench.
///
/// # Errors
/// As the store reads chunks; one that is missing or cannot be decoded is damage.
pub(super) fn trace(session: &Session, store: &Store, sweep: Uuid) -> Result<Reply, StoreError> {
    let facts = session.job().map(|job| job.proofs.sweeps.as_slice()).unwrap_or_default();
    let fact = facts.iter().map(|kept| &kept.fact).find(|fact| fact.sweep == sweep);
    let Some(fact) = fact else { return Ok(refused(session)) };
    let samples = samples_of(store, fact)?;
    let trace = view::stored_trace(session, sweep, &samples);
    Ok(trace.map_or_else(|| refused(session), |trace| Reply::Trace { trace: Box::new(trace) }))
}

fn samples_of(store: &Store, fact: &SweepFact) -> Result<Vec<Sample>, StoreError> {
    let mut samples = Vec::new();
    for hash in &fact.chunks {
        let chunk =
            store.chunk(*hash)?.ok_or_else(|| StoreError::Damaged { what: format!("samples {hash} are missing") })?;
        let decoded = chunk.samples().map_err(|e| StoreError::Damaged { what: format!("samples {hash}: {e}") })?;
        samples.extend(decoded);
    }
    Ok(samples)
}

fn refused(session: &Session) -> Reply {
    Reply::refused(Refusal::NoSuchReading, session.language())
}
