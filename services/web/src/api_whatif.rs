//! Handlers of the API for other water.

use crate::Site;
use crate::api::{Answer, id, utc};
use crate::entry::{self, Values};
use crate::problem::Problem;
use crate::whatif::Foreseen;
use axum::Json;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::response::IntoResponse;

/// `GET /api/v1/clutches/{id}/what-if?celsius=T` (with `life=whole` all of its life) or `?stage=S&at=T`.
pub(crate) async fn what_if(
    State(site): State<Site>,
    Path(name): Path<String>,
    query: Result<Query<Values>, QueryRejection>,
) -> Answer {
    let Query(values) = query.map_err(|e| Problem::new(e.status(), e.body_text()))?;
    let change = entry::change(&values, |text| utc(text).map_err(|e| e.to_string()))?;
    match site.keeper.what_if(id(&name)?, change).await? {
        Foreseen::Water(water) => Ok(Json(water).into_response()),
        Foreseen::OutOfReach(reach) => Err(Problem::field("at", reach.words(|t| t.to_string()))),
    }
}
