//! Who is called and how, the drills, and the button that tries a way: page and API.

use crate::Site;
use crate::api::{Answer, only_by};
use crate::entry;
use crate::page;
use crate::site::{Sent, unreadable};
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;
use units::{Span, Time};
use utoipa::ToSchema;

/// Calls, drills and tries of a room.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct CallsView {
    /// In the order of the configuration.
    pub calls: Vec<CallView>,
    /// Topics of sirens and lamps.
    pub sirens: Vec<String>,
    /// The newest first.
    pub drills: Vec<DrillView>,
    /// When the next drill begins; none where nobody is called, or drills are off.
    pub next_drill: Option<Time>,
    /// The newest first.
    pub tries: Vec<TryView>,
    /// Whether messages hold a link that takes an alarm on.
    pub links: bool,
}

/// One call.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CallView {
    /// Its name.
    pub name: String,
    /// Whom it reaches.
    pub person: Option<String>,
    /// By which way.
    pub way: String,
    /// The least urgent priority that it is made for.
    pub priority: u8,
    /// Its hours on the room's clock; the whole day without them.
    pub hours: Option<String>,
    /// It is made when nobody has taken an alarm on for so long.
    pub after: Span,
    /// Why nothing arrives by it just now.
    pub failing: Option<String>,
}

/// One drill.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DrillView {
    /// When it began.
    pub at: Time,
    /// Who answered, and when.
    pub answered: Option<(String, Time)>,
}

/// One way that was tried.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TryView {
    /// The id of its message.
    pub id: String,
    /// By which call.
    pub call: String,
    /// When.
    pub at: Time,
    /// Who asked for it.
    pub by: String,
    /// What has become of it: "arrived at 18:00", "on its way", or why not.
    pub fate: Option<String>,
}

/// `GET /calls`
pub(crate) async fn page(State(site): State<Site>) -> Response {
    match site.keeper.calls().await {
        Ok(calls) => page::calls::page(&calls, &site.clock(&site.room())).into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}

/// `POST /calls/{name}/try`
pub(crate) async fn try_one(State(site): State<Site>, Path(name): Path<String>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let done = match entry::only_by(&values) {
        Ok(by) => site.keeper.try_call(name, by).await,
        Err(trouble) => Err(trouble),
    };
    match done {
        Ok(()) => Redirect::to("/calls#tried").into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}

/// `GET /api/v1/calls`
pub(crate) async fn api(State(site): State<Site>) -> Answer {
    Ok(Json(site.keeper.calls().await?).into_response())
}

/// `POST /api/v1/calls/{name}/try` with `{"by": …}`: 204.
pub(crate) async fn api_try(
    State(site): State<Site>,
    Path(name): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Answer {
    site.keeper.try_call(name, only_by(&headers, &body)?).await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}
