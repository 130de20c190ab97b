//! Style, script and icon, embedded, with the hash of their content in the address.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use rust_embed::{EmbeddedFile, RustEmbed};
use std::fmt::Write as _;

#[derive(RustEmbed)]
#[folder = "assets/"]
struct Files;

/// The first eight bytes of the content's SHA-256: enough to tell versions apart.
fn mark(file: &EmbeddedFile) -> String {
    file.metadata.sha256_hash()[..8].iter().fold(String::new(), |mut out, b| {
        let _ = write!(out, "{b:02x}");
        out
    })
}

/// The address of an asset.
pub(crate) fn href(name: &str) -> String {
    let hash = Files::get(name).map(|f| mark(&f)).unwrap_or_default();
    format!("/assets/{hash}/{name}")
}

fn kind(name: &str) -> &'static str {
    match name.rsplit('.').next() {
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("svg") => "image/svg+xml",
        _ => "application/octet-stream",
    }
}

/// `GET /assets/{hash}/{name}`: for ever the same, so kept for ever; an old hash is not found.
pub(crate) async fn serve(Path((hash, name)): Path<(String, String)>) -> Response {
    match Files::get(&name).filter(|f| mark(f) == hash) {
        Some(file) => (
            [
                (header::CONTENT_TYPE, kind(&name)),
                (header::CACHE_CONTROL, "public, max-age=31536000, immutable"),
            ],
            file.data.into_owned(),
        )
            .into_response(),
        None => (StatusCode::NOT_FOUND, "no such file").into_response(),
    }
}

/// `GET /favicon.ico`: what browsers ask for when a page is not ours (a picture, a JSON answer).
pub(crate) async fn icon() -> Response {
    let data = Files::get("favicon.svg").map(|f| f.data.into_owned()).unwrap_or_default();
    ([(header::CONTENT_TYPE, kind("favicon.svg")), (header::CACHE_CONTROL, "public, max-age=86400")], data)
        .into_response()
}
