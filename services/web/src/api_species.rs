//! Handlers of the API for species entries.

use crate::Site;
use crate::api::{Answer, by, object, only_by, strict};
use crate::once;
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::IntoResponse;
use serde::Deserialize;

/// `GET /api/v1/species`
pub(crate) async fn species(State(site): State<Site>) -> Answer {
    Ok(Json(site.keeper.species().await?).into_response())
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Sent {
    text: String,
}

/// `POST /api/v1/species` with `{"text": …, "by": …}`, the text as in config/species.toml, one entry: 201.
pub(crate) async fn enter(State(site): State<Site>, headers: HeaderMap, body: Bytes) -> Answer {
    let mut sent = object(&headers, &body)?;
    let who = by(&mut sent)?;
    let Sent { text } = strict(sent)?;
    once::will_answer("/api/v1/species", None);
    site.keeper.enter_species(crate::keeper::NewSpecies::Text(text), who).await?;
    Ok((StatusCode::CREATED, [(header::LOCATION, "/api/v1/species")]).into_response())
}

/// `POST /api/v1/species/{key}/withdraw` with `{"by": …}`: 204.
pub(crate) async fn withdraw(
    State(site): State<Site>,
    Path(key): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Answer {
    let who = only_by(&headers, &body)?;
    site.keeper.withdraw_species(key, who).await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}
