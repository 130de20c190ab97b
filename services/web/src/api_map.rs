//! Handlers of the API for probes, devices and the topic map.

use crate::Site;
use crate::api::{Answer, by, object, only_by, strict};
use crate::once;
use crate::problem::Problem;
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::IntoResponse;
use serde_json::json;

/// `GET /api/v1/probes`
pub(crate) async fn probes(State(site): State<Site>) -> Answer {
    Ok(Json(site.keeper.probes().await?.probes).into_response())
}

/// `GET /api/v1/devices`
pub(crate) async fn devices(State(site): State<Site>) -> Answer {
    Ok(Json(site.keeper.probes().await?.devices).into_response())
}

/// `GET /api/v1/unmapped`
pub(crate) async fn unmapped(State(site): State<Site>) -> Answer {
    Ok(Json(site.keeper.probes().await?.unmapped).into_response())
}

/// `GET /api/v1/map`
pub(crate) async fn map(State(site): State<Site>) -> Answer {
    Ok(Json(site.keeper.probes().await?.map).into_response())
}

/// `POST /api/v1/map/try` with `{"entry": {…}}` and perhaps `topic`, `payload`, `retained`: what the message would become.
pub(crate) async fn try_entry(State(site): State<Site>, headers: HeaderMap, body: Bytes) -> Answer {
    let trial = strict(object(&headers, &body)?)?;
    Ok(Json(site.keeper.try_entry(trial).await?).into_response())
}

/// `POST /api/v1/map` with the fields of an entry and `by`: 201 and its number.
pub(crate) async fn claim(State(site): State<Site>, headers: HeaderMap, body: Bytes) -> Answer {
    let mut sent = object(&headers, &body)?;
    let who = by(&mut sent)?;
    let entry = strict(sent)?;
    // Its number is drawn with the change; a repeat after a crash in between says where to find it.
    once::will_answer("/api/v1/map", Some(&json!({"claim": null})));
    let claim = site.keeper.claim(entry, who).await?;
    let place = [(header::LOCATION, "/api/v1/map")];
    Ok((StatusCode::CREATED, place, Json(json!({"claim": claim}))).into_response())
}

/// `POST /api/v1/map/{claim}/release` with `{"by": …}`: 204.
pub(crate) async fn release(
    State(site): State<Site>,
    Path(claim): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Answer {
    let who = only_by(&headers, &body)?;
    let claim = claim.parse().map_err(|_| {
        Problem::new(
            StatusCode::NOT_FOUND,
            format!("there is no claim {claim:?}; GET /api/v1/map lists them"),
        )
    })?;
    site.keeper.release(claim, who).await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}

/// `GET /api/v1/comparisons`: what was compared with a reference thermometer, the newest first.
pub(crate) async fn comparisons(State(site): State<Site>) -> Answer {
    Ok(Json(site.keeper.probes().await?.comparisons).into_response())
}

/// `POST /api/v1/comparisons` with `probe`, `reference`, `against`, perhaps `at`, `since`, `read`, `accuracy`, and `by`: 201.
pub(crate) async fn compare(State(site): State<Site>, headers: HeaderMap, body: Bytes) -> Answer {
    let mut sent = object(&headers, &body)?;
    let who = by(&mut sent)?;
    let new = strict(sent)?;
    once::will_answer("/api/v1/comparisons", None);
    site.keeper.compare(new, who).await?;
    Ok((StatusCode::CREATED, [(header::LOCATION, "/api/v1/comparisons")]).into_response())
}

/// `POST /api/v1/comparisons/{number}/withdraw` with `{"by": …}`: 204.
pub(crate) async fn withdraw(
    State(site): State<Site>,
    Path(number): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Answer {
    let who = only_by(&headers, &body)?;
    let number = number.parse().map_err(|_| {
        let said = format!("there is no comparison {number:?}; GET /api/v1/comparisons lists them");
        Problem::new(StatusCode::NOT_FOUND, said)
    })?;
    site.keeper.withdraw_comparison(number, who).await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}
