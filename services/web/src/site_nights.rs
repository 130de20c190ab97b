//! Handlers of the pages on which a night is looked back on.

use crate::keeper::Trouble;
use crate::{Site, page, review};
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use chrono::NaiveDate;

/// `GET /night`: the last one that has ended.
pub(crate) async fn last(State(site): State<Site>) -> Response {
    draw(&site, None).await
}

/// `GET /night/{date}`: the one that began on that evening.
pub(crate) async fn night(State(site): State<Site>, Path(date): Path<String>) -> Response {
    match review::date(&date) {
        Ok(date) => draw(&site, Some(date)).await,
        Err(reason) => page::trouble(Trouble::Refused { field: "date".to_owned(), reason }),
    }
}

async fn draw(site: &Site, date: Option<NaiveDate>) -> Response {
    match site.keeper.night(date).await {
        Ok(night) => page::review::page(&night, site.keeper.now()).into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}
