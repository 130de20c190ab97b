//! Handlers of the forms that break a simulated room and hurry it.

use crate::Site;
use crate::entry;
use crate::keeper::Trouble;
use crate::page::{self, simulated::PLACE};
use crate::simulated::{Simulated, not_simulated};
use crate::site::{Sent, unreadable};
use axum::extract::{Form, Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use std::sync::Arc;

impl Site {
    /// The simulated room as it stands, if it is one.
    pub(crate) fn simulated(&self) -> Option<Arc<Simulated>> {
        self.keeper.simulated().map(|room| room.shown().borrow().clone())
    }
}

/// Back to where the button was.
fn done(result: Result<(), Trouble>) -> Response {
    match result {
        Ok(()) => Redirect::to(&format!("/#{PLACE}")).into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}

/// `POST /simulated/faults/{key}`
pub(crate) async fn fault(State(site): State<Site>, Path(key): Path<String>, sent: Sent) -> Response {
    let Form(values) = match sent {
        Ok(form) => form,
        Err(e) => return unreadable(&e),
    };
    let Some(room) = site.keeper.simulated() else { return done(Err(not_simulated())) };
    match entry::broken(&values) {
        Ok(broken) => done(room.break_thing(key, broken).await),
        Err(trouble) => done(Err(trouble)),
    }
}

/// `POST /simulated/pace`
pub(crate) async fn pace(State(site): State<Site>, sent: Sent) -> Response {
    let Form(values) = match sent {
        Ok(form) => form,
        Err(e) => return unreadable(&e),
    };
    let Some(room) = site.keeper.simulated() else { return done(Err(not_simulated())) };
    match entry::pace(&values) {
        Ok(pace) => done(room.pace(pace).await),
        Err(trouble) => done(Err(trouble)),
    }
}
