//! Handler of the page for other water.

use crate::Site;
use crate::entry::{self, Values};
use crate::keeper::Trouble;
use crate::local::Local;
use crate::page;
use crate::page::form::Entry;
use crate::page::whatif::{DATE, WATER};
use crate::site::{again, clutch_with};
use crate::whatif::{Foreseen, OtherWater};
use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Response};
use units::ClutchId;

/// `GET /clutches/{id}/what-if?celsius=…&life=…` or `?stage=…&at=…`, times of the room's clock: the page of the clutch with
/// the answer on it.
pub(crate) async fn what_if(
    State(site): State<Site>,
    Path(id): Path<String>,
    query: Result<Query<Values>, QueryRejection>,
) -> Response {
    let values = match query {
        Ok(Query(values)) => values,
        Err(e) => return page::sorry(e.status(), &format!("The form could not be read: {e}")),
    };
    let answer = asked(&site, &id, &values).await;
    let form = if values.contains_key("celsius") { WATER } else { DATE };
    let mut entry = Entry { form: form.to_owned(), values, fault: None };
    match answer {
        Ok(water) => clutch_with(&site, &id, &entry, Some(&water)).await,
        Err(Trouble::Refused { field, reason }) => {
            entry.fault = Some((field, reason));
            again(clutch_with(&site, &id, &entry, None).await)
        }
        Err(trouble) => page::trouble(trouble).into_response(),
    }
}

async fn asked(site: &Site, id: &str, values: &Values) -> Result<OtherWater, Trouble> {
    let id = ClutchId::new(id).map_err(|e| Trouble::NotFound(e.to_string()))?;
    let local = Local::of(&site.room().zone);
    match site.keeper.what_if(id, entry::change(values, |text| local.read(text))?).await? {
        Foreseen::Water(water) => Ok(water),
        Foreseen::OutOfReach(reach) => {
            Err(Trouble::Refused { field: "at".to_owned(), reason: reach.words(|t| local.full(t)) })
        }
    }
}
