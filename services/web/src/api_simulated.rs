//! Handlers of the API for a simulated room: what is broken in it, and how fast its time runs.

use crate::Site;
use crate::api::{Answer, Bare, object, strict};
use crate::problem::Problem;
use crate::simulated::not_simulated;
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::IntoResponse;
use serde_json::Value;

/// The one value of a body with one field.
fn only<T>(
    headers: &HeaderMap,
    body: &Bytes,
    field: &str,
    read: impl Fn(&Value) -> Option<T>,
    cure: &str,
) -> Result<T, Problem> {
    let mut sent = object(headers, body)?;
    let value = sent.remove(field).unwrap_or_default();
    let _: Bare = strict(sent)?;
    read(&value).ok_or_else(|| Problem::field(field, format!("{value} will not do; {cure}")))
}

/// `GET /api/v1/simulated`
pub(crate) async fn shown(State(site): State<Site>) -> Answer {
    Ok(Json(&*site.simulated().ok_or_else(not_simulated)?).into_response())
}

/// `POST /api/v1/simulated/faults/{key}` with `{"broken": …}`: 204.
pub(crate) async fn fault(
    State(site): State<Site>,
    Path(key): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Answer {
    let room = site.keeper.simulated().ok_or_else(not_simulated)?;
    let broken = only(&headers, &body, "broken", Value::as_bool, "write true or false")?;
    room.break_thing(key, broken).await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}

/// `POST /api/v1/simulated/pace` with `{"pace": …}`: 204.
pub(crate) async fn pace(State(site): State<Site>, headers: HeaderMap, body: Bytes) -> Answer {
    let room = site.keeper.simulated().ok_or_else(not_simulated)?;
    let cure = "write how many times as fast as real time, such as 180";
    room.pace(only(&headers, &body, "pace", Value::as_f64, cure)?).await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}
