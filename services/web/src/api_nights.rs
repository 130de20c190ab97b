//! Handler of the API for a night looked back on.

use crate::Site;
use crate::api::Answer;
use crate::problem::Problem;
use crate::review;
use axum::Json;
use axum::extract::{Path, State};
use axum::response::IntoResponse;

/// The word for the last night that has ended.
const LAST: &str = "last";

/// `GET /api/v1/nights/{date}`: the night that began on that evening, or `last`.
pub(crate) async fn night(State(site): State<Site>, Path(date): Path<String>) -> Answer {
    let date = match date.as_str() {
        LAST => None,
        text => Some(review::date(text).map_err(|reason| Problem::field("date", reason))?),
    };
    Ok(Json(site.keeper.night(date).await?).into_response())
}
