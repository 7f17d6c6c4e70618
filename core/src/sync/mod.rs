//! What a device and the shop's hub say to each other. Pure: who carries it is not known here.
//!
//! The device sends its ledger, in order, from where the hub's copy ends; then what stands beside the entries: photos,
//! samples, personal details, names. All of that is named in an entry by its SHA-256, so that nothing else can be
//! brought, and each can be brought twice. And what two devices say to each other that hand a job over without a hub.

mod api;
mod beside;
mod drawn;
mod gist;
mod near;
mod offer;
mod pairing;
mod plan;
mod push;
mod standing;
#[cfg(test)]
mod tests;
#[cfg(feature = "tls")]
mod tls;

pub use api::{
    Change, Changes, Countersigned, Handovers, Heads, HeadsStored, HubCard, Limits, MOST_ASKED, MOST_BATCH_BYTES,
    MOST_BLOB_BYTES, MOST_ENTRIES, MOST_HEADS, Missing, Numbered, PROTOCOL, PairingAsk, PairingState, PairingView,
    Problem, PushAsk, Stored, TOKEN_SECONDS, Tail, Token, TokenAsk, WaitingJob,
};
pub(crate) use beside::parted;
pub use beside::{Beside, BesideKind, Change as BesideChange, changes_by};
pub use drawn::drawn;
pub use gist::Gist;
pub use near::{is_near, near_by};
pub use offer::{OFFER_HOST, OFFER_LASTS, Offer, OfferEnd, OfferRefused, OfferTrouble, Offering, same_secret};
pub use pairing::{
    ASSERTION, Assertion, CODE_LENGTH, HOST, Invitation, JWT_BEARER, PAIRING, Proof, TextFault, host_of, one_time_code,
    six_digits,
};
pub use plan::{JobThere, Known, Pace, Step, TailSays, gather, look_at_tail, next_step, patience, pause, rest};
pub use push::{Batch, PUSH, PushHead, PushRefused, Taken, take};
pub use standing::{AtShop, Doing, Note, Paired, Trouble};
#[cfg(feature = "tls")]
pub use tls::{NoServing, serving};
