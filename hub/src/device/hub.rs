//! Who answers here, and whether it can.

use crate::app::Shared;
use crate::problem::Refused;
use axum::Json;
use axum::extract::State;
use evenwire_core::sync::{HubCard, Limits, PROTOCOL};

/// Which hub this is, what it speaks and takes, and what time it has.
///
/// # Errors
/// [`Refused`] when the storage cannot be read.
#[utoipa::path(get, path = "/v1/hub", operation_id = "hub", responses((status = 200, body = HubCard)))]
pub async fn card(State(app): State<Shared>) -> Result<Json<HubCard>, Refused> {
    Ok(Json(HubCard {
        hub: app.hub,
        name: app.storage.shop_name().await?,
        version: env!("CARGO_PKG_VERSION").to_owned(),
        protocol: PROTOCOL,
        limits: Limits::OURS,
        time: app.clock.stamp(),
    }))
}

/// It runs.
pub async fn healthz() -> &'static str {
    "ok\n"
}

/// It can store what is brought.
///
/// # Errors
/// [`Refused`] when it cannot.
pub async fn readyz(State(app): State<Shared>) -> Result<&'static str, Refused> {
    app.storage.try_out().await?;
    app.blobs.try_out().await?;
    Ok("ready\n")
}
