//! The office's side: who sits there, what they may do, and what they see of the shop's devices and jobs.
//!
//! Who may ask what stands in the first argument of whoever answers: [`seat::Technician`], [`seat::Office`] or
//! [`seat::Owner`]. Whatever changes something needs the session's token in a header, too.

pub(crate) mod claim;
mod devices;
mod jobs;
mod log;
pub mod model;
mod page;
mod password;
pub(crate) mod people;
mod procedures;
mod record;
mod refusal;
mod seat;
mod seconds;
mod sent;
mod sign;
mod told;

use crate::app::Shared;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::routing::{delete, get, post};

/// Longest text the page may send: a procedure's file, which JSON may double.
const MOST_BYTES: usize = 2 * evenwire_core::procedure::MAX_FILE + 1024;

/// Every way into the office.
pub fn router() -> Router<Shared> {
    Router::new()
        .route("/", get(page::to_the_page))
        .route("/office", get(page::to_the_page))
        .route("/office/", get(page::page))
        .route("/office/{*path}", get(page::part))
        .route("/v1/office/session", get(sign::session))
        .route("/v1/office/set-up", post(sign::set_up))
        .route("/v1/office/sign-in", post(sign::sign_in))
        .route("/v1/office/sign-out", post(sign::sign_out))
        .route("/v1/office/password", post(sign::choose_anew))
        .route("/v1/office/devices", get(devices::devices))
        .route("/v1/office/devices/{device}/revoke", post(devices::revoke))
        .route("/v1/office/invitations", post(devices::invite))
        .route("/v1/office/pairings/{pairing}", post(devices::answer))
        .route("/v1/office/people", get(people::people).post(people::add))
        .route("/v1/office/people/{person}", post(people::turn))
        .route("/v1/office/people/{person}", delete(people::end))
        .route("/v1/office/people/{person}/link", post(people::link_again))
        .route("/v1/office/access", get(log::log))
        .route("/v1/office/procedures", get(procedures::sent).post(procedures::send))
        .route("/v1/office/today", get(jobs::today))
        .route("/v1/jobs", get(jobs::list))
        .route("/v1/jobs/{job}", get(record::record))
        .route("/v1/jobs/{job}/photos/{hash}", get(record::photo))
        .route("/v1/jobs/{job}/report.pdf", get(record::report))
        .route("/v1/jobs/{job}/claim.zip", get(claim::claim))
        .route("/v1/jobs/{job}/erasure", post(record::erase))
        .route("/v1/jobs/{job}/signatures", post(seconds::sign))
        .layer(DefaultBodyLimit::max(MOST_BYTES))
}

/// Characters of a name at most.
const MOST_NAME: usize = 60;

/// Whether somebody or something may be called so.
fn is_name(name: &str) -> bool {
    let name = name.trim();
    (1..=MOST_NAME).contains(&name.chars().count()) && !name.chars().any(char::is_control)
}
