//! What somebody does about herself: signing out, and a new password.

use super::sign_in::{begin, give, line};
use super::vault::Change;
use super::who::{self, Asker};
use super::{password, people::reader_of};
use crate::Site;
use crate::entry::Values;
use crate::keeper::Trouble;
use crate::page;
use crate::page::access::PASSWORD;
use crate::page::form::Entry;
use crate::site::{Sent, again, unreadable};
use axum::extract::{Form, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use std::sync::Arc;

/// `GET /account`
pub(crate) async fn account() -> Response {
    draw(&Entry::default())
}

fn draw(entry: &Entry) -> Response {
    match who::current().filter(|a| a.person.is_some()) {
        Some(asker) => page::access::account(&asker, entry).into_response(),
        None => nobody_here(),
    }
}

fn nobody_here() -> Response {
    page::sorry(StatusCode::NOT_FOUND, "Nobody is signed in: this page answers on its own machine only.")
}

/// `POST /sign-out`: the session ends, here and in the store.
pub(crate) async fn sign_out(State(site): State<Site>, headers: HeaderMap) -> Response {
    let Some(asker) = who::current().filter(|a| a.session.is_some()) else { return nobody_here() };
    match ended(&site, &asker).await {
        Ok(()) => {
            let mut answer = Redirect::to("/sign-in").into_response();
            answer.headers_mut().insert(header::SET_COOKIE, site.access.cookies(&headers).take());
            // What the browser keeps of our pages is not for whoever sits there next.
            let kept = HeaderValue::from_static("\"cache\"");
            answer.headers_mut().insert("clear-site-data", kept);
            answer
        }
        Err(trouble) => page::trouble(trouble),
    }
}

async fn ended(site: &Site, asker: &Asker) -> Result<(), Trouble> {
    let changes = asker.session.map(Change::EndSession).into_iter().collect();
    let line = line(site, asker.name.as_deref().unwrap_or_default(), asker, "signed out");
    site.access.vault()?.change(line.at, changes, vec![line]).await
}

/// `POST /own/password` with `old` and `new`: all sessions end, and this browser has a new one.
pub(crate) async fn change_password(State(site): State<Site>, headers: HeaderMap, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let Some(asker) = who::current().filter(|a| a.person.is_some()) else { return nobody_here() };
    match changed(&site, &headers, &values, &asker).await {
        Ok(cookies) => {
            let mut answer = Redirect::to("/own").into_response();
            give(&mut answer, cookies);
            answer
        }
        Err(Trouble::Refused { field, reason }) => {
            // What was typed as a password is not sent back.
            let entry =
                Entry { form: PASSWORD.to_owned(), values: Values::new(), fault: Some((field, reason)) };
            again(draw(&entry))
        }
        Err(trouble) => page::trouble(trouble),
    }
}

async fn changed(
    site: &Site,
    headers: &HeaderMap,
    values: &Values,
    asker: &Arc<Asker>,
) -> Result<Vec<HeaderValue>, Trouble> {
    let refused = |field: &str, reason: String| Trouble::Refused { field: field.to_owned(), reason };
    let person = reader_of(site, asker.person.unwrap_or_default()).await?;
    let (old, new) = (text(values, "old"), text(values, "new"));
    password::will_do(&new, &person.name).map_err(|why| refused("new", why))?;
    // Somebody at a phone that was left signed in must not guess without end.
    let source = super::throttle::Source::Device(format!("account {}", person.id));
    let now = site.keeper.now();
    site.access.throttle().begin(&source, now).map_err(|left| {
        refused("old", format!("too many wrong ones; wait {} seconds", left.millis() / 1000 + 1))
    })?;
    if !site.access.checker.check(old, Some(person.password.clone()), true).await? {
        return Err(refused("old", "that is not your password".to_owned()));
    }
    site.access.throttle().clear(&source);
    let hash = hashed(new).await?;
    let said = line(site, &person.name, asker, "changed the own password");
    site.access.vault()?.change(now, vec![Change::SetPassword(person.id, hash)], vec![said]).await?;
    let person = reader_of(site, person.id).await?;
    let said = line(site, &person.name, asker, "signed in with the new password");
    begin(&site.access, headers, &person, asker, said).await
}

pub(super) fn text(values: &Values, field: &str) -> String {
    values.get(field).cloned().unwrap_or_default()
}

/// Hashes a password where nobody else waits for it.
pub(super) async fn hashed(password: String) -> Result<String, Trouble> {
    match tokio::task::spawn_blocking(move || password::hash(&password)).await {
        Ok(hash) => hash.map_err(Trouble::Unable),
        Err(e) => Err(Trouble::Unable(format!("hashing was broken off: {e}; try again"))),
    }
}
