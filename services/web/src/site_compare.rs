//! Handlers of the page on which a probe is compared with a reference thermometer.

use crate::Site;
use crate::entry::{self, Values};
use crate::keeper::Trouble;
use crate::local::Local;
use crate::page;
use crate::page::compare::FORM;
use crate::page::form::Entry;
use crate::site::{Sent, again, unreadable};
use axum::extract::{Form, Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

/// Which probe the form begins with.
#[derive(Debug, Deserialize)]
pub(crate) struct Chosen {
    #[serde(default)]
    probe: String,
}

/// `GET /probes/compare?probe=…`
pub(crate) async fn form(State(site): State<Site>, Query(Chosen { probe }): Query<Chosen>) -> Response {
    draw(&site, &probe, &Entry::default()).await
}

async fn draw(site: &Site, probe: &str, entry: &Entry) -> Response {
    match site.keeper.probes().await {
        Ok(view) => {
            let room = site.room();
            page::compare::page(&view.probes, probe, entry, &site.clock(&room)).into_response()
        }
        Err(trouble) => page::trouble(trouble),
    }
}

async fn compared(site: &Site, values: &Values) -> Result<(), Trouble> {
    let new = entry::comparison(values, &Local::of(&site.room().zone))?;
    site.keeper.compare(new, entry::by(values)?).await
}

/// `POST /probes/compare`
pub(crate) async fn compare(State(site): State<Site>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    match compared(&site, &values).await {
        Ok(()) => Redirect::to("/probes").into_response(),
        Err(Trouble::Refused { field, reason }) => {
            let probe = values.get("probe").cloned().unwrap_or_default();
            let entry = Entry { form: FORM.to_owned(), values, fault: Some((field, reason)) };
            again(draw(&site, &probe, &entry).await)
        }
        Err(trouble) => page::trouble(trouble),
    }
}

/// `POST /probes/comparisons/{number}/withdraw`
pub(crate) async fn withdraw(State(site): State<Site>, Path(number): Path<String>, sent: Sent) -> Response {
    let by = match sent.as_ref().map(|Form(values)| entry::by(values)) {
        Ok(Ok(by)) => by,
        Ok(Err(trouble)) => return page::trouble(trouble),
        Err(e) => return unreadable(e),
    };
    let Ok(number) = number.parse() else {
        return page::sorry(StatusCode::NOT_FOUND, "There is no comparison of that number.");
    };
    match site.keeper.withdraw_comparison(number, by).await {
        Ok(()) => Redirect::to("/probes").into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}
