//! Every way in, on one screen.

use crate::app::Shared;
use crate::device::{handover, hub, pairing, stream};
use crate::problem::{Code, Refused};
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::{Method, Uri};
use axum::routing::get;
use evenwire_core::record::MAX_JWS;
use evenwire_core::sync::{MOST_BATCH_BYTES, MOST_HEADS};
use utoipa::OpenApi;
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa_axum::router::{OpenApiRouter, UtoipaMethodRouterExt};
use utoipa_axum::routes;

/// What the description says of itself.
#[derive(OpenApi)]
#[openapi(info(
    title = "Evenwire hub",
    description = "What devices of a shop and its hub say to each other. Problems are told as RFC 9457 has it; `code` \
                   is for programs.",
    license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0")
))]
struct Described;

/// Bytes of a request that brings no entries and no files, at most.
const MOST_ASKED_BYTES: usize = 64 * 1024;
/// What stands around the entries of a batch: their commas, its signature, its first number.
const AROUND_A_BATCH: usize = 64 * 1024;

/// Those that are described, with their description.
fn described() -> OpenApiRouter<Shared> {
    OpenApiRouter::with_openapi(Described::openapi())
        .routes(routes!(hub::card))
        .routes(routes!(pairing::ask))
        .routes(routes!(pairing::look))
        .routes(routes!(pairing::token))
        .routes(routes!(stream::tail))
        .routes(routes!(stream::push).layer(DefaultBodyLimit::max(MOST_BATCH_BYTES + AROUND_A_BATCH)))
        .routes(routes!(stream::heads).layer(DefaultBodyLimit::max(MOST_HEADS * MAX_JWS)))
        .routes(routes!(stream::missing))
        .routes(routes!(stream::put))
        .routes(routes!(stream::changes))
        .routes(routes!(handover::waiting))
        .routes(routes!(handover::take))
        .routes(routes!(handover::file))
        .layer(DefaultBodyLimit::max(MOST_ASKED_BYTES))
}

/// The description, as it is served.
pub fn description() -> String {
    let mut openapi = described().into_openapi();
    let token = HttpBuilder::new().scheme(HttpAuthScheme::Bearer).description(Some("Of `POST /v1/token`.")).build();
    openapi.components.get_or_insert_default().add_security_scheme("token", SecurityScheme::Http(token));
    for path in openapi.paths.paths.values_mut() {
        let operations = [&mut path.get, &mut path.put, &mut path.post, &mut path.delete];
        for operation in operations.into_iter().flatten() {
            // What a function's documentation says of its errors is for its callers in this program.
            let said = operation.description.take().unwrap_or_default();
            let told = said.split("# Errors").next().unwrap_or_default().trim();
            operation.description = (!told.is_empty()).then(|| told.to_owned());
        }
    }
    openapi.to_pretty_json().unwrap_or_default()
}

/// All of them.
pub fn router(app: Shared) -> Router {
    let (described, _) = described().split_for_parts();
    let text = description();
    let json = [(axum::http::header::CONTENT_TYPE, "application/json")];
    described
        .merge(crate::office::router())
        .route("/healthz", get(hub::healthz))
        .route("/readyz", get(hub::readyz))
        .route("/v1/openapi.json", get(async move || (json, text.clone())))
        .fallback(nowhere)
        .method_not_allowed_fallback(not_that_way)
        .with_state(app)
}

async fn nowhere(uri: Uri) -> Refused {
    Code::NotFound.because(format!("There is nothing to be asked at {}.", uri.path()))
}

async fn not_that_way(method: Method, uri: Uri) -> Refused {
    Code::Method.because(format!("{method} is not a method of {}.", uri.path()))
}
