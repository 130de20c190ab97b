//! Alarms that are to call nobody for a while: forms of the page, and the API.

use crate::Site;
use crate::api::{Answer, by, object, only_by, strict};
use crate::entry;
use crate::keeper::{Shelving, Trouble};
use crate::page;
use crate::site::{Sent, unreadable};
use axum::body::Bytes;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};

fn done(answer: Result<(), Trouble>) -> Response {
    match answer {
        Ok(()) => Redirect::to("/").into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}

/// `POST /alarms/{id}/shelve`
pub(crate) async fn shelve(State(site): State<Site>, Path(id): Path<String>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let read = entry::shelving(&values).and_then(|s| Ok((s, entry::by(&values)?)));
    match read {
        Ok((shelving, by)) => done(site.keeper.shelve(id, shelving, by).await),
        Err(trouble) => page::trouble(trouble),
    }
}

/// `POST /alarms/{id}/unshelve`
pub(crate) async fn unshelve(State(site): State<Site>, Path(id): Path<String>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    match entry::by(&values) {
        Ok(by) => done(site.keeper.unshelve(id, by).await),
        Err(trouble) => page::trouble(trouble),
    }
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
    site.keeper.shelve(alarm, shelving, who).await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}

/// `POST /api/v1/alarms/{id}/unshelve` with `{"by": …}`: 204.
pub(crate) async fn api_unshelve(
    State(site): State<Site>,
    Path(alarm): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Answer {
    let who = only_by(&headers, &body)?;
    site.keeper.unshelve(alarm, who).await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}
