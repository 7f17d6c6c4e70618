//! The page of the office, built into the program.

use axum::extract::Path;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use rust_embed::RustEmbed;

/// The page loads nothing from elsewhere, talks to nobody else, and stands in no frame. No script and no style stands in
/// its text.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
                      font-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";

#[derive(RustEmbed)]
#[folder = "../ui/dist"]
#[allow_missing = true]
struct Files;

/// Its addresses are told from its folder.
pub async fn to_the_page() -> Redirect {
    Redirect::permanent("/office/")
}

/// The page.
pub async fn page() -> Response {
    file("office.html")
}

/// What belongs to it.
pub async fn part(Path(path): Path<String>) -> Response {
    if path.starts_with("assets/") { file(&path) } else { (StatusCode::NOT_FOUND, "Not here.").into_response() }
}

fn file(path: &str) -> Response {
    let Some(file) = Files::get(path) else {
        let words = if path == "office.html" { "This program was built without its page." } else { "Not here." };
        return (StatusCode::NOT_FOUND, words).into_response();
    };
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static(content_type(path))),
        (header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY)),
        (header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff")),
        (header::REFERRER_POLICY, HeaderValue::from_static("no-referrer")),
        (header::CACHE_CONTROL, HeaderValue::from_static("no-store")),
    ];
    (headers, file.data.into_owned()).into_response()
}

fn content_type(path: &str) -> &'static str {
    match path.rsplit('.').next() {
        Some("html") => "text/html; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("svg") => "image/svg+xml",
        _ => "application/octet-stream",
    }
}
