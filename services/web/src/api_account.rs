//! The account, the log of alarms, vessels and mothers in the API.

use crate::Site;
use crate::api::{Answer, by, object};
use crate::entry_account;
use crate::keeper::Trouble;
use crate::paged::{self, Asked, Piece};
use crate::problem::Problem;
use axum::Json;
use axum::body::Bytes;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use serde_json::json;
use units::{MotherId, VesselId};

/// `GET /api/v1/account?limit&after`: the newest entries first.
pub(crate) async fn entries(State(site): State<Site>, asked: Result<Query<Asked>, QueryRejection>) -> Answer {
    let Piece { limit, after } = Piece::of(asked)?;
    let mut entries = site.keeper.entries(after, limit + 1).await?;
    let next = paged::cut(&mut entries, limit, |e| e.entry);
    let body = json!({"entries": entries, "next": next});
    Ok(paged::answer(&body, "/api/v1/account", &[("limit", limit.to_string())]))
}

/// `GET /api/v1/alarms/log?limit&after`: what alarms did, the last first.
pub(crate) async fn alarm_log(
    State(site): State<Site>,
    asked: Result<Query<Asked>, QueryRejection>,
) -> Answer {
    let Piece { limit, after } = Piece::of(asked)?;
    let mut changes = site.keeper.alarm_log(after, limit + 1).await?;
    let next = paged::cut(&mut changes, limit, |c| c.number);
    let body = json!({"changes": changes, "next": next});
    Ok(paged::answer(&body, "/api/v1/alarms/log", &[("limit", limit.to_string())]))
}

/// `POST /api/v1/account` with an event and `by`: 204.
pub(crate) async fn enter(State(site): State<Site>, headers: HeaderMap, body: Bytes) -> Answer {
    let mut sent = object(&headers, &body)?;
    let who = by(&mut sent)?;
    let event = entry_account::read(&sent)?;
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
