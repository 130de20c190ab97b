//! What people do with alarms: take them on, shelve them, let them call again; by forms of the page, and by the API.

use crate::Site;
use crate::api::{Answer, by, object, only_by, strict};
use crate::entry::{self, Values};
use crate::keeper::{self, Shelving, Trouble};
use crate::page;
use crate::site::{Sent, unreadable};
use axum::body::Bytes;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};

/// Does what a form says by whom, and shows the opening page.
async fn form(
    sent: Sent,
    act: impl FnOnce(&Values, String) -> Result<keeper::Answer<()>, Trouble>,
) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let done = match entry::by(&values).and_then(|by| act(&values, by)) {
        Ok(doing) => doing.await,
        Err(trouble) => Err(trouble),
    };
    match done {
        Ok(()) => Redirect::to("/").into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}

/// `POST /alarms/{id}/acknowledge`
pub(crate) async fn acknowledge(State(site): State<Site>, Path(id): Path<String>, sent: Sent) -> Response {
    form(sent, |_, by| Ok(site.keeper.acknowledge(id, by))).await
}

/// `POST /alarms/{id}/shelve`
pub(crate) async fn shelve(State(site): State<Site>, Path(id): Path<String>, sent: Sent) -> Response {
    form(sent, |values, by| Ok(site.keeper.shelve(id, entry::shelving(values)?, by))).await
}

/// `POST /alarms/{id}/unshelve`
pub(crate) async fn unshelve(State(site): State<Site>, Path(id): Path<String>, sent: Sent) -> Response {
    form(sent, |_, by| Ok(site.keeper.unshelve(id, by))).await
}

async fn done(doing: keeper::Answer<()>) -> Answer {
    doing.await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}

/// `POST /api/v1/alarms/{id}/acknowledge` with `{"by": …}`: 204.
pub(crate) async fn api_acknowledge(
    State(site): State<Site>,
    Path(alarm): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Answer {
    done(site.keeper.acknowledge(alarm, only_by(&headers, &body)?)).await
}

/// `POST /api/v1/alarms/{id}/shelve` with `{"minutes": …, "why": …, "by": …}`: 204.
pub(crate) async fn api_shelve(
    State(site): State<Site>,
    Path(alarm): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Answer {
    let mut sent = object(&headers, &body)?;
    let who = by(&mut sent)?;
    let shelving: Shelving = strict(sent)?;
    done(site.keeper.shelve(alarm, shelving, who)).await
}

/// `POST /api/v1/alarms/{id}/unshelve` with `{"by": …}`: 204.
pub(crate) async fn api_unshelve(
    State(site): State<Site>,
    Path(alarm): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Answer {
    done(site.keeper.unshelve(alarm, only_by(&headers, &body)?)).await
}
