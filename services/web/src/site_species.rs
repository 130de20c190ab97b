//! Handlers of the page of species entries.

use crate::Site;
use crate::entry::{self, Values};
use crate::keeper::{NewSpecies, Trouble};
use crate::page;
use crate::page::form::Entry;
use crate::page::species::{PLAIN, TEXT};
use crate::site::{Sent, again, unreadable};
use axum::extract::{Form, Path, State};
use axum::response::{IntoResponse, Redirect, Response};

/// `GET /species`
pub(crate) async fn species(State(site): State<Site>) -> Response {
    draw(&site, &Entry::default()).await
}

async fn draw(site: &Site, entry: &Entry) -> Response {
    match site.keeper.species().await {
        Ok(all) => {
            let room = site.room();
            page::species::page(&all, entry, &site.clock(&room)).into_response()
        }
        Err(trouble) => page::trouble(trouble),
    }
}

/// `POST /species`: the form of days, or the text.
pub(crate) async fn enter(State(site): State<Site>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let form = if values.contains_key("text") { TEXT } else { PLAIN };
    match entered(&site, &values).await {
        Ok(()) => Redirect::to("/species").into_response(),
        Err(Trouble::Refused { field, reason }) => {
            let entry = Entry { form: form.to_owned(), values, fault: Some((field, reason)) };
            again(draw(&site, &entry).await)
        }
        Err(trouble) => page::trouble(trouble),
    }
}

async fn entered(site: &Site, values: &Values) -> Result<(), Trouble> {
    let new = match values.get("text") {
        Some(text) => NewSpecies::Text(text.clone()),
        None => NewSpecies::Plain(entry::species(values)?),
    };
    site.keeper.enter_species(new, entry::by(values)?).await
}

/// `POST /species/{key}/withdraw`
pub(crate) async fn withdraw(State(site): State<Site>, Path(key): Path<String>, sent: Sent) -> Response {
    let by = match sent.as_ref().map(|Form(values)| entry::by(values)) {
        Ok(Ok(by)) => by,
        Ok(Err(trouble)) => return page::trouble(trouble),
        Err(e) => return unreadable(e),
    };
    match site.keeper.withdraw_species(key, by).await {
        Ok(()) => Redirect::to("/species").into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}
