//! Handlers of the API for other water, and for what moved a date.

use crate::Site;
use crate::api::{Answer, id, time, utc};
use crate::entry::{self, Values};
use crate::problem::Problem;
use crate::whatif::Foreseen;
use axum::Json;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::response::IntoResponse;
use serde::Deserialize;

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

/// From when to when.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Between {
    from: Option<String>,
    to: Option<String>,
}

/// `GET /api/v1/clutches/{id}/shift?from&to`: what moved its dates, in parts that add up; from the last dusk up to now when
/// no times are given.
pub(crate) async fn shift(
    State(site): State<Site>,
    Path(name): Path<String>,
    between: Result<Query<Between>, QueryRejection>,
) -> Answer {
    let Query(between) = between.map_err(|e| Problem::new(e.status(), e.body_text()))?;
    let to = time("to", between.to.as_deref(), site.keeper.now())?;
    let from = time("from", between.from.as_deref(), site.room().night.dusk)?;
    Ok(Json(site.keeper.shift(id(&name)?, from, to).await?).into_response())
}
