//! People and the audit log in the API: to read; people are changed on the page and on the command line.

use super::people::{All, all};
use super::who;
use crate::Site;
use crate::api::Answer;
use crate::paged::{self, Asked, Piece};
use axum::Json;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::response::IntoResponse;
use serde_json::json;

/// `GET /api/v1/session`: who asks and what is allowed.
pub(crate) async fn api_session() -> Answer {
    let asker = who::current();
    let name = asker.as_ref().and_then(|a| a.name.clone());
    Ok(Json(json!({"name": name, "role": asker.as_ref().map(|a| a.role), "how": asker.map(|a| a.how)}))
        .into_response())
}

/// `GET /api/v1/people`: people, their sessions, and tokens, without their secrets.
pub(crate) async fn api_people(State(site): State<Site>) -> Answer {
    let All { people, sessions, tokens } = all(&site).await?;
    Ok(Json(json!({"people": people, "sessions": sessions, "tokens": tokens})).into_response())
}

/// `GET /api/v1/audit?limit&after`: the newest lines first.
pub(crate) async fn api_audit(
    State(site): State<Site>,
    asked: Result<Query<Asked>, QueryRejection>,
) -> Answer {
    let Piece { limit, after } = Piece::of(asked)?;
    let mut lines = site.access.vault()?.audit(limit + 1, after).await?;
    let next = paged::cut(&mut lines, limit, |l| l.id);
    let body = json!({"lines": lines, "next": next});
    Ok(paged::answer(&body, "/api/v1/audit", &[("limit", limit.to_string())]))
}
