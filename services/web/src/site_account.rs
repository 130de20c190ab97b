//! Handlers of the pages of vessels, mothers and the strip day, and of what is written down there.

use crate::Site;
use crate::entry::{self, Values};
use crate::entry_account::{self as account, Doing};
use crate::keeper::Trouble;
use crate::local::Local;
use crate::page::form::Entry;
use crate::page::{self, strip, tanks, vessel};
use crate::site::{Sent, again, clutch_with, unreadable};
use crate::svg::course::Past;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Form, Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use units::{ClutchId, MotherId, Span, VesselId};

/// `GET /vessels`
pub(crate) async fn tanks(State(site): State<Site>) -> Response {
    tanks_with(&site, &Entry::default()).await
}

async fn tanks_with(site: &Site, entry: &Entry) -> Response {
    match site.keeper.tanks().await {
        Ok(all) => tanks::page(&all, &*site.keeper, entry, &site.clock(&site.room())).into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}

/// How much of the past a picture shows, in hours.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Zoom {
    hours: Option<u32>,
}

/// `GET /vessels/{id}?hours`
pub(crate) async fn vessel(
    State(site): State<Site>,
    Path(id): Path<String>,
    zoom: Result<Query<Zoom>, QueryRejection>,
) -> Response {
    match zoom {
        Ok(Query(zoom)) => vessel_with(&site, &id, &zoom, &Entry::default()).await,
        Err(e) => page::sorry(e.status(), &e.body_text()),
    }
}

async fn vessel_with(site: &Site, id: &str, zoom: &Zoom, entry: &Entry) -> Response {
    let Ok(id) = VesselId::new(id) else {
        return page::sorry(StatusCode::NOT_FOUND, "There is no vessel of that name.");
    };
    let hours = zoom.hours.unwrap_or(24).clamp(1, vessel::LONGEST_HOURS);
    match pictured(site, id, hours).await {
        Ok(shown) => vessel::page(&shown, &*site.keeper, entry, &site.clock(&site.room())).into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}

/// The page of a vessel with the past of its probes.
async fn pictured(site: &Site, id: VesselId, hours: u32) -> Result<vessel::Shown, Trouble> {
    let page = site.keeper.vessel(id).await?;
    let to = site.keeper.now();
    let from = to - Span::hours(i64::from(hours));
    let mut courses = Vec::new();
    for probe in page.probes.iter().take(vessel::MOST_COURSES) {
        // One after the other: weeks of a quick probe are hundreds of thousands of readings.
        let readings = site.keeper.history(probe.clone(), from, to, usize::MAX).await?;
        courses.push((probe.clone(), Past::of(&readings, from, to)));
    }
    Ok(vessel::Shown { page, courses, from, to, hours })
}

/// `GET /mothers`
pub(crate) async fn mothers(State(site): State<Site>) -> Response {
    match site.keeper.mothers().await {
        Ok(all) => page::mothers::list(&all, &site.clock(&site.room())).into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}

/// `GET /mothers/{id}`
pub(crate) async fn mother(State(site): State<Site>, Path(id): Path<String>) -> Response {
    mother_with(&site, &id, &Entry::default()).await
}

async fn mother_with(site: &Site, id: &str, entry: &Entry) -> Response {
    let nobody = || page::sorry(StatusCode::NOT_FOUND, "There is no mother of that name.");
    let Ok(id) = MotherId::new(id) else { return nobody() };
    match site.keeper.mothers().await {
        Ok(all) => match all.iter().find(|m| m.mother == id) {
            Some(m) => page::mothers::one(m, &*site.keeper, entry, &site.clock(&site.room())).into_response(),
            None => nobody(),
        },
        Err(trouble) => page::trouble(trouble),
    }
}

/// Which clutch is being stripped, and which was stripped last.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Stripping {
    clutch: Option<String>,
    done: Option<String>,
}

/// `GET /strip?clutch&done`
pub(crate) async fn strip(
    State(site): State<Site>,
    asked: Result<Query<Stripping>, QueryRejection>,
) -> Response {
    match asked {
        Ok(Query(asked)) => strip_with(&site, &asked, &Entry::default()).await,
        Err(e) => page::sorry(e.status(), &e.body_text()),
    }
}

async fn strip_with(site: &Site, asked: &Stripping, entry: &Entry) -> Response {
    let tanks = match site.keeper.tanks().await {
        Ok(tanks) => tanks,
        Err(trouble) => return page::trouble(trouble),
    };
    let (room, clock) = (site.room(), site.clock(&site.room()));
    let Some(name) = &asked.clutch else {
        return strip::choose(&tanks, &room, asked.done.as_deref(), &clock).into_response();
    };
    match strip::holding(&tanks).find(|l| l.clutch.as_str() == name) {
        Some(hers) => strip::count(hers, &tanks, entry, &clock).into_response(),
        None => page::sorry(StatusCode::NOT_FOUND, "No mother holds a clutch of that name."),
    }
}

/// `POST /strip/{id}`: the young of one mother into one empty vessel.
pub(crate) async fn stripped(State(site): State<Site>, Path(id): Path<String>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let asked = Stripping { clutch: Some(id.clone()), done: None };
    match strip_of(&site, &id, &values).await {
        Ok(()) => Redirect::to(&format!("/strip?done={id}")).into_response(),
        Err(Trouble::Refused { field, reason }) => {
            let entry = Entry { form: strip::FORM.to_owned(), values, fault: Some((field, reason)) };
            again(strip_with(&site, &asked, &entry).await)
        }
        Err(trouble) => page::trouble(trouble),
    }
}

async fn strip_of(site: &Site, id: &str, values: &Values) -> Result<(), Trouble> {
    let id = ClutchId::new(id).map_err(|e| Trouble::NotFound(e.to_string()))?;
    let event = account::event(values, strip::DOING, Some(("clutch", id.as_str())), &local(site))?;
    let tanks = site.keeper.tanks().await?;
    let into = tanks.vessels.iter().find(|v| Some(&v.vessel) == event.vessel());
    // Nothing is put to what lives there already without being said: two clutches would never be told apart again.
    if let Some(other) = into.and_then(|v| v.living.iter().find(|l| l.clutch != id)) {
        let reason = format!(
            "{} is in it; choose an empty one, or put them together on the page of the vessel",
            other.clutch
        );
        return Err(Trouble::Refused { field: "vessel".to_owned(), reason });
    }
    site.keeper.enter(Box::new(event), entry::by(values)?).await
}

fn local(site: &Site) -> Local {
    Local::of(&site.room().zone)
}

/// Why nothing was written down.
enum Again {
    /// The form again, with what is wrong in it.
    Form(Box<Entry>),
    /// Another answer.
    Answer(Box<Response>),
}

/// Writes down what a form says, or answers the form again with what is wrong.
async fn enter(
    site: &Site,
    sent: Sent,
    doings: &[Doing],
    subject: Option<(&str, &str)>,
) -> Result<(), Again> {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return Err(Again::Answer(Box::new(unreadable(&e)))),
    };
    let done = match (account::event(&values, doings, subject, &local(site)), entry::by(&values)) {
        (Ok(event), Ok(by)) => site.keeper.enter(Box::new(event), by).await,
        (Err(e), _) | (_, Err(e)) => Err(e),
    };
    done.map_err(|trouble| match trouble {
        // What is not among the forms of the page has no place on it to be shown again.
        Trouble::Refused { field, reason } if field != "doing" || known(&values, doings) => {
            let form = values.get("doing").cloned().unwrap_or_default();
            Again::Form(Box::new(Entry { form, values, fault: Some((field, reason)) }))
        }
        other => Again::Answer(Box::new(page::trouble(other))),
    })
}

fn known(values: &Values, doings: &[Doing]) -> bool {
    doings.iter().any(|d| values.get("doing").is_some_and(|what| what == d.what))
}

/// `POST /clutches/{id}/enter`
pub(crate) async fn enter_of_clutch(
    State(site): State<Site>,
    Path(id): Path<String>,
    sent: Sent,
) -> Response {
    match enter(&site, sent, account::OF_CLUTCH, Some(("clutch", &id))).await {
        Ok(()) => Redirect::to(&format!("/clutches/{id}")).into_response(),
        Err(Again::Form(entry)) => again(clutch_with(&site, &id, &entry, None).await),
        Err(Again::Answer(answer)) => *answer,
    }
}

/// `POST /vessels/{id}/enter`
pub(crate) async fn enter_of_vessel(
    State(site): State<Site>,
    Path(id): Path<String>,
    sent: Sent,
) -> Response {
    match enter(&site, sent, account::OF_VESSEL, Some(("vessel", &id))).await {
        Ok(()) => Redirect::to(&format!("/vessels/{id}")).into_response(),
        Err(Again::Form(entry)) => again(vessel_with(&site, &id, &Zoom::default(), &entry).await),
        Err(Again::Answer(answer)) => *answer,
    }
}

/// `POST /mothers/{id}/enter`
pub(crate) async fn enter_of_mother(
    State(site): State<Site>,
    Path(id): Path<String>,
    sent: Sent,
) -> Response {
    match enter(&site, sent, account::OF_MOTHER, Some(("mother", &id))).await {
        Ok(()) => Redirect::to(&format!("/mothers/{id}")).into_response(),
        Err(Again::Form(entry)) => again(mother_with(&site, &id, &entry).await),
        Err(Again::Answer(answer)) => *answer,
    }
}

/// `POST /vessels`: what is done in the room.
pub(crate) async fn enter_of_room(State(site): State<Site>, sent: Sent) -> Response {
    match enter(&site, sent, account::OF_ROOM, None).await {
        Ok(()) => Redirect::to("/vessels").into_response(),
        Err(Again::Form(entry)) => again(tanks_with(&site, &entry).await),
        Err(Again::Answer(answer)) => *answer,
    }
}
