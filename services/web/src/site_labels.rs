//! Handler of the labels: which vessels, how large, how many of each.

use crate::Site;
use crate::account::VesselRow;
use crate::page;
use crate::page::labels::{Choice, MOST, Sheet};
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};

/// Most copies of one label.
const MOST_COPIES: usize = 24;

/// `GET /labels?vessel&sheet&copies&living&lines`; `vessel` once for each vessel.
pub(crate) async fn labels(
    State(site): State<Site>,
    headers: HeaderMap,
    asked: Result<Query<Vec<(String, String)>>, QueryRejection>,
) -> Response {
    let asked = match asked {
        Ok(Query(asked)) => asked,
        Err(e) => return page::sorry(e.status(), &e.body_text()),
    };
    let tanks = match site.keeper.tanks().await {
        Ok(tanks) => tanks,
        Err(trouble) => return page::trouble(trouble),
    };
    // The guard has let only a host of ours through.
    let host = headers.get(header::HOST).and_then(|h| h.to_str().ok()).unwrap_or_default();
    let address = site.address.as_deref().map_or_else(|| format!("http://{host}"), str::to_owned);
    match choice(&asked, &tanks.vessels) {
        Ok(choice) => {
            let room = site.room();
            page::labels::page(&tanks.vessels, &choice, &address, &site.clock(&room)).into_response()
        }
        Err(fault) => page::sorry(StatusCode::UNPROCESSABLE_ENTITY, &fault),
    }
}

/// What is asked for; everything on larger labels where nothing is, if that is not too much.
fn choice(asked: &[(String, String)], vessels: &[VesselRow]) -> Result<Choice, String> {
    let mut choice = Choice::default();
    for (field, value) in asked {
        let odd = |cure: &str| Err(format!("{field}: {value:?} will not do; {cure}"));
        match field.as_str() {
            "vessel" => match vessels.iter().find(|v| v.vessel.as_str() == value) {
                Some(v) if !choice.vessels.contains(&v.vessel) => choice.vessels.push(v.vessel.clone()),
                Some(_) => {}
                None => return odd("there is no vessel of that name; choose one on the page of labels"),
            },
            "sheet" => match Sheet::ALL.into_iter().find(|s| s.word() == value) {
                Some(sheet) => choice.sheet = sheet,
                None => return odd("write 2x5 or 3x8"),
            },
            "copies" => match value.trim().parse() {
                Ok(n @ 1..=MOST_COPIES) => choice.copies = n,
                _ => return odd(&format!("write a number from 1 to {MOST_COPIES}")),
            },
            "living" => choice.living = true,
            "lines" => choice.lines = true,
            _ => return Err(format!("{field:?} is not asked here; choose on the page of labels")),
        }
    }
    if asked.is_empty() && vessels.len() <= MOST {
        choice.vessels = vessels.iter().map(|v| v.vessel.clone()).collect();
    }
    if choice.vessels.len() * choice.copies > MOST {
        let (n, copies) = (choice.vessels.len(), choice.copies);
        return Err(format!("copies: {copies} of {n} vessels are over {MOST} labels; print them in parts"));
    }
    Ok(choice)
}
