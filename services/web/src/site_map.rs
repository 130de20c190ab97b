//! Handlers of the pages for probes and the topic map.

use crate::Site;
use crate::entry::{self, Values};
use crate::keeper::{Trial, Trouble};
use crate::page;
use crate::page::claim::{Claim, FORM, NUMBERS, TEXTS};
use crate::page::form::Entry;
use crate::site::{Sent, again, unreadable};
use axum::extract::{Form, Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use readings::MapEntry;
use readings::trial::Tried;
use serde::Deserialize;
use serde_json::{Map, Value};

/// `GET /probes`
pub(crate) async fn probes(State(site): State<Site>) -> Response {
    match site.keeper.probes().await {
        Ok(view) => {
            let room = site.room();
            page::probes::page(&view, &room, &site.clock(&room)).into_response()
        }
        Err(trouble) => page::trouble(trouble),
    }
}

/// Which topic the form begins with.
#[derive(Debug, Deserialize)]
pub(crate) struct Topic {
    #[serde(default)]
    topic: String,
}

/// `GET /probes/claim?topic=…`
pub(crate) async fn form(State(site): State<Site>, Query(Topic { topic }): Query<Topic>) -> Response {
    draw(&site, &topic, Entry::default(), None).await
}

/// The form with the last payload of its topic.
async fn draw(site: &Site, topic: &str, entry: Entry, results: Option<Vec<Tried>>) -> Response {
    let heard = match site.keeper.probes().await {
        Ok(view) => view.unmapped,
        Err(trouble) => return page::trouble(trouble),
    };
    let payload = heard.iter().find(|u| u.topic == topic).map(|u| u.payload.as_str());
    page::claim::page(&*site.keeper, &Claim { topic, payload, entry, results }).into_response()
}

/// What the form asks for, once it has been done.
enum Done {
    Tried(Vec<Tried>),
    Saved,
}

/// `POST /probes/claim`
pub(crate) async fn claim(State(site): State<Site>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let done = asked(&site, &values).await;
    let mut entry = Entry { form: FORM.to_owned(), values, fault: None };
    let topic = entry.values.get("topic").cloned().unwrap_or_default();
    match done {
        Ok(Done::Saved) => Redirect::to("/probes").into_response(),
        Ok(Done::Tried(results)) => draw(&site, topic.trim(), entry, Some(results)).await,
        Err(Trouble::Refused { field, reason }) => {
            entry.fault = Some((field, reason));
            again(draw(&site, topic.trim(), entry, None).await)
        }
        Err(trouble) => page::trouble(trouble),
    }
}

async fn asked(site: &Site, values: &Values) -> Result<Done, Trouble> {
    let map_entry = read(values)?;
    if values.get("do").is_some_and(|d| d == "save") {
        site.keeper.claim(map_entry, entry::by(values)?).await?;
        return Ok(Done::Saved);
    }
    let trial = Trial { entry: map_entry, topic: None, payload: None, retained: false };
    site.keeper.try_entry(trial).await.map(Done::Tried)
}

/// The entry that the form describes. Each field is read alone first, so that a fault finds its field.
fn read(values: &Values) -> Result<MapEntry, Trouble> {
    let mut entry = Map::new();
    for (name, text) in values.iter().filter(|(_, v)| !v.trim().is_empty()) {
        let text = text.trim();
        let value = match name.as_str() {
            n if TEXTS.contains(&n) => Value::from(text),
            n if NUMBERS.contains(&n) => number(n, text)?,
            "words" => words(text)?,
            _ => continue,
        };
        serde_json::from_value::<MapEntry>(Value::Object(Map::from_iter([(name.clone(), value.clone())])))
            .map_err(|e| refused(name, &e.to_string()))?;
        entry.insert(name.clone(), value);
    }
    serde_json::from_value(Value::Object(entry)).map_err(|e| refused("topic", &e.to_string()))
}

fn number(name: &str, text: &str) -> Result<Value, Trouble> {
    serde_json::from_str(text)
        .ok()
        .filter(Value::is_number)
        .ok_or_else(|| refused(name, &format!("{text:?} is no number; write one such as 0.001")))
}

fn words(text: &str) -> Result<Value, Trouble> {
    let pair = |p: &str| {
        let (word, value) = p.split_once('=')?;
        Some((word.trim().to_owned(), Value::from(value.trim().parse::<f64>().ok()?)))
    };
    let all: Option<Map<String, Value>> = text.split(',').map(pair).collect();
    all.map(Value::Object)
        .ok_or_else(|| refused("words", &format!("{text:?} will not do; write them as ON=1, OFF=0")))
}

fn refused(field: &str, reason: &str) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason: reason.to_owned() }
}

/// `POST /probes/{claim}/release`
pub(crate) async fn release(State(site): State<Site>, Path(claim): Path<String>, sent: Sent) -> Response {
    let by = match sent.as_ref().map(|Form(values)| entry::by(values)) {
        Ok(Ok(by)) => by,
        Ok(Err(trouble)) => return page::trouble(trouble),
        Err(e) => return unreadable(e),
    };
    let Ok(claim) = claim.parse() else {
        return page::sorry(StatusCode::NOT_FOUND, "There is no claim of that number.");
    };
    match site.keeper.release(claim, by).await {
        Ok(()) => Redirect::to("/probes").into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}
