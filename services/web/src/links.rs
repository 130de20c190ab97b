//! Links in messages: one touch on a phone takes one alarm on, once.

use crate::Site;
use crate::access::who;
use crate::page;
use crate::view::AlarmView;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use serde::Serialize;

/// What a link would do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LinkView {
    /// Who was called.
    pub person: String,
    /// The alarm that would be taken on.
    pub alarm: AlarmView,
}

/// `GET /on-it/{token}`: shows the alarm and a button. Looking does nothing: mail programs look at links by themselves.
pub(crate) async fn look(State(site): State<Site>, Path(token): Path<String>) -> Response {
    match site.keeper.link(token.clone()).await {
        Ok(link) => page::links::page(&link, &token, &site.clock(&site.room())).into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}

/// `POST /on-it/{token}`
pub(crate) async fn take(State(site): State<Site>, Path(token): Path<String>) -> Response {
    let link = site.keeper.link(token.clone()).await;
    match site.keeper.use_link(token).await {
        Ok(()) => match link {
            Ok(link) => {
                who::proved_or(link.person.clone());
                page::links::taken(&link, &site.clock(&site.room())).into_response()
            }
            Err(trouble) => page::trouble(trouble),
        },
        Err(trouble) => page::trouble(trouble),
    }
}
