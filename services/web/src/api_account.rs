//! The account, vessels and mothers in the API.

use crate::Site;
use crate::api::{Answer, by, object};
use crate::entry_account;
use crate::keeper::Trouble;
use crate::problem::Problem;
use axum::Json;
use axum::body::Bytes;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::json;
use units::{MotherId, VesselId};

/// Entries of one answer.
const PAGE: usize = 100;

/// From where on, and how many.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Paged {
    before: Option<u64>,
    most: Option<usize>,
}

/// `GET /api/v1/account?before&most`: the newest entries first, and where the next page begins.
pub(crate) async fn entries(State(site): State<Site>, paged: Result<Query<Paged>, QueryRejection>) -> Answer {
    let Query(paged) = paged.map_err(|e| Problem::new(e.status(), e.body_text()))?;
    let most = paged.most.unwrap_or(PAGE);
    if most == 0 || most > 1000 {
        return Err(Problem::field("most", format!("{most} will not do; write 1 to 1000")));
    }
    let entries = site.keeper.entries(paged.before, most).await?;
    let next = entries.last().map(|e| e.entry).filter(|n| entries.len() == most && *n > 1);
    Ok(Json(json!({"entries": entries, "next_before": next})).into_response())
}

/// `POST /api/v1/account` with an event and `by`: 204.
pub(crate) async fn enter(State(site): State<Site>, headers: HeaderMap, body: Bytes) -> Answer {
    let mut sent = object(&headers, &body)?;
    let who = by(&mut sent)?;
    let event = entry_account::read(sent)?;
    site.keeper.enter(Box::new(event), who).await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}

/// `GET /api/v1/vessels`
pub(crate) async fn tanks(State(site): State<Site>) -> Answer {
    Ok(Json(site.keeper.tanks().await?).into_response())
}

/// `GET /api/v1/vessels/{id}`
pub(crate) async fn vessel(State(site): State<Site>, Path(id): Path<String>) -> Answer {
    let id = VesselId::new(id).map_err(|e| Problem::new(StatusCode::NOT_FOUND, e.to_string()))?;
    Ok(Json(site.keeper.vessel(id).await?).into_response())
}

/// `GET /api/v1/mothers`
pub(crate) async fn mothers(State(site): State<Site>) -> Answer {
    Ok(Json(site.keeper.mothers().await?).into_response())
}

/// `GET /api/v1/mothers/{id}`
pub(crate) async fn mother(State(site): State<Site>, Path(id): Path<String>) -> Result<Response, Problem> {
    let id = MotherId::new(id).map_err(|e| Problem::new(StatusCode::NOT_FOUND, e.to_string()))?;
    let found = site.keeper.mothers().await?.into_iter().find(|m| m.mother == id);
    let nobody = || Trouble::NotFound(format!("there is no mother {id} in this room"));
    Ok(Json(found.ok_or_else(nobody)?).into_response())
}
