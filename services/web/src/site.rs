//! Handlers of the pages and their forms.

use crate::Site;
use crate::entry::{self, Values};
use crate::keeper::Trouble;
use crate::local::Local;
use crate::page::form::Entry;
use crate::page::{self, Clock};
use crate::view::RoomView;
use crate::whatif::OtherWater;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use std::sync::Arc;
use units::ClutchId;

impl Site {
    /// The room as it stands.
    pub(crate) fn room(&self) -> Arc<RoomView> {
        self.keeper.room().borrow().clone()
    }

    /// The service's clock and the room's zone.
    pub(crate) fn clock(&self, room: &RoomView) -> Clock {
        Clock { now: self.keeper.now(), local: Local::of(&room.zone) }
    }
}

/// `GET /`
pub(crate) async fn night(State(site): State<Site>) -> Response {
    let room = site.room();
    page::night::page(&room, site.simulated().as_deref(), &site.clock(&room)).into_response()
}

/// `GET /clutches`
pub(crate) async fn clutches(State(site): State<Site>) -> Response {
    clutches_with(&site, &Entry::default()).await
}

async fn clutches_with(site: &Site, entry: &Entry) -> Response {
    let species = match site.keeper.species().await {
        Ok(species) => species,
        Err(trouble) => return page::trouble(trouble),
    };
    let room = site.room();
    page::clutches::page(&*site.keeper, &species, &room, entry, &site.clock(&room)).into_response()
}

/// `GET /clutches/{id}`
pub(crate) async fn clutch(State(site): State<Site>, Path(id): Path<String>) -> Response {
    clutch_with(&site, &id, &Entry::default(), None).await
}

/// The page of a clutch with what was entered, and the answer where other water was tried.
pub(crate) async fn clutch_with(
    site: &Site,
    id: &str,
    entry: &Entry,
    other: Option<&OtherWater>,
) -> Response {
    let Ok(id) = ClutchId::new(id) else {
        return page::sorry(StatusCode::NOT_FOUND, "There is no clutch of that name.");
    };
    match site.keeper.clutch(id).await {
        Ok(found) => {
            let (room, now) = (site.room(), site.keeper.now());
            let since = site.keeper.shift(found.clutch.id.clone(), room.night.dusk, now).await;
            let shown = page::clutch::Shown { page: &found, entry, other, since: &since };
            page::clutch::page(&*site.keeper, &shown, &room, &site.clock(&room)).into_response()
        }
        Err(trouble) => page::trouble(trouble),
    }
}

/// `GET /log`
pub(crate) async fn log(State(site): State<Site>) -> Response {
    let room = site.room();
    page::log::page(&room, &site.keeper.readings(), &site.clock(&room)).into_response()
}

pub(crate) type Sent = Result<Form<Values>, FormRejection>;

pub(crate) fn unreadable(rejection: &FormRejection) -> Response {
    page::sorry(rejection.status(), &format!("The form could not be read: {rejection}"))
}

/// The page again with the message beside its field, or what else went wrong.
fn fault(form: &str, values: Values, trouble: Trouble) -> Result<Entry, Trouble> {
    match trouble {
        Trouble::Refused { field, reason } => {
            Ok(Entry { form: form.to_owned(), values, fault: Some((field, reason)) })
        }
        other => Err(other),
    }
}

pub(crate) fn again(mut answer: Response) -> Response {
    if answer.status() == StatusCode::OK {
        *answer.status_mut() = StatusCode::UNPROCESSABLE_ENTITY;
    }
    answer
}

/// `POST /clutches`
pub(crate) async fn open_clutch(State(site): State<Site>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let done = match (entry::clutch(&values, &Local::of(&site.room().zone)), entry::by(&values)) {
        (Ok(new), Ok(by)) => {
            let id = new.id.clone();
            site.keeper.open_clutch(new, by).await.map(|()| id)
        }
        (Err(e), _) | (_, Err(e)) => Err(e),
    };
    match done.map_err(|e| fault(page::clutches::FORM, values, e)) {
        Ok(id) => Redirect::to(&format!("/clutches/{id}")).into_response(),
        Err(Ok(entry)) => again(clutches_with(&site, &entry).await),
        Err(Err(trouble)) => page::trouble(trouble),
    }
}

async fn recorded(site: &Site, id: &str, values: &Values) -> Result<(), Trouble> {
    let id = ClutchId::new(id).map_err(|e| Trouble::NotFound(e.to_string()))?;
    let what = entry::record(values, &Local::of(&site.room().zone))?;
    site.keeper.record(id, what, entry::by(values)?).await
}

/// `POST /clutches/{id}/record`
pub(crate) async fn record(State(site): State<Site>, Path(id): Path<String>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let form = values.get("what").cloned().unwrap_or_default();
    match recorded(&site, &id, &values).await.map_err(|e| fault(&form, values, e)) {
        Ok(()) => Redirect::to(&format!("/clutches/{id}")).into_response(),
        Err(Ok(entry)) => again(clutch_with(&site, &id, &entry, None).await),
        Err(Err(trouble)) => page::trouble(trouble),
    }
}

/// `GET /live`
pub(crate) async fn live() -> &'static str {
    "live"
}

/// `GET /ready`
pub(crate) async fn ready(State(site): State<Site>) -> Response {
    match site.keeper.not_ready() {
        None => "ready".into_response(),
        Some(why) => (StatusCode::SERVICE_UNAVAILABLE, why).into_response(),
    }
}

/// Any other address.
pub(crate) async fn nothing(uri: axum::http::Uri) -> Response {
    if uri.path() == "/api" || uri.path().starts_with("/api/") {
        return crate::api::nothing().await.into_response();
    }
    page::sorry(StatusCode::NOT_FOUND, "There is no page at this address.")
}
