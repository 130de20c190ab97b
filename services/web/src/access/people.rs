//! Pages on which keepers let people and programs in and see what they did.

use super::account::{hashed, text};
use super::vault::{Change, How, Line, LineItem, Person, Session, Token};
use super::{Role, Scope, password, secret, who};
use crate::Site;
use crate::entry::Values;
use crate::keeper::Trouble;
use crate::page;
use crate::page::access::{ADD, Shown, TOKEN};
use crate::page::form::Entry;
use crate::site::{Sent, again, unreadable};
use axum::extract::{Form, Path, Query, State};
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use std::str::FromStr;

/// Lines of the audit log on one page.
const LINES: usize = 100;
/// Most letters of a name.
const LONGEST_NAME: usize = 60;

pub(super) struct All {
    pub(super) people: Vec<Person>,
    pub(super) sessions: Vec<Session>,
    pub(super) tokens: Vec<Token>,
}

pub(super) async fn all(site: &Site) -> Result<All, Trouble> {
    let (vault, now) = (site.access.vault()?, site.keeper.now());
    let mut sessions = vault.sessions().await?;
    sessions.retain(|s| !super::expired(s, now));
    Ok(All { people: vault.people().await?, sessions, tokens: vault.tokens().await? })
}

pub(super) async fn reader_of(site: &Site, id: u64) -> Result<Person, Trouble> {
    let found = site.access.vault()?.people().await?.into_iter().find(|p| p.id == id);
    found.ok_or_else(|| Trouble::NotFound(format!("there is no person of number {id}")))
}

/// `GET /people`
pub(crate) async fn people(State(site): State<Site>) -> Response {
    draw(&site, &Entry::default(), None).await
}

async fn draw(site: &Site, entry: &Entry, made: Option<(&str, &str)>) -> Response {
    match all(site).await {
        Ok(All { people, sessions, tokens }) => {
            let open = !site.access.settings.sign_in;
            let shown = Shown { people, sessions, tokens, made, open };
            page::access::people(&shown, entry, &site.clock(&site.room())).into_response()
        }
        Err(trouble) => page::trouble(trouble),
    }
}

/// A change with its line in the log.
async fn done(site: &Site, changes: Vec<Change>, what: String) -> Result<(), Trouble> {
    let line = said(site, what);
    site.access.vault()?.change(line.at, changes, vec![line]).await
}

fn said(site: &Site, what: String) -> Line {
    let asker = who::current();
    let name = asker.as_ref().and_then(|a| a.name.clone());
    Line {
        at: site.keeper.now(),
        who: name.unwrap_or_else(|| crate::entry::NOBODY.to_owned()),
        how: asker.as_ref().map_or(How::Machine, |a| a.how),
        address: asker.map_or_else(|| "unknown".to_owned(), |a| a.address.clone()),
        what,
        place: "/people".to_owned(),
    }
}

/// The page again, with the message beside its field.
async fn answer(site: &Site, form: &str, mut values: Values, done: Result<(), Trouble>) -> Response {
    match done {
        Ok(()) => Redirect::to("/people").into_response(),
        Err(Trouble::Refused { field, reason }) => {
            values.remove("password");
            let entry = Entry { form: form.to_owned(), values, fault: Some((field, reason)) };
            again(draw(site, &entry, None).await)
        }
        Err(trouble) => page::trouble(trouble),
    }
}

fn refused(field: &str, reason: impl Into<String>) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason: reason.into() }
}

/// A name as people write it: any letters, none that cannot be seen.
///
/// # Errors
/// What is wrong, and the cure.
pub fn name_will_do(name: &str) -> Result<String, String> {
    let name = name.trim();
    // Letters that turn the direction of writing could make one name look like another (Unicode UAX 9, 2).
    let hidden = |c: char| {
        c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
    };
    if name.is_empty() || name.chars().count() > LONGEST_NAME {
        return Err(format!("write a name of 1 to {LONGEST_NAME} letters"));
    }
    if name.chars().any(hidden) {
        return Err("it has a letter that cannot be seen; type the name by hand".to_owned());
    }
    Ok(name.to_owned())
}

fn word<T: FromStr<Err = String>>(values: &Values, field: &str) -> Result<T, Trouble> {
    text(values, field).parse().map_err(|why: String| refused(field, why))
}

/// `POST /people` with `name`, `role` and `password`.
pub(crate) async fn add(State(site): State<Site>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let done = added(&site, &values).await;
    answer(&site, ADD, values, done).await
}

async fn added(site: &Site, values: &Values) -> Result<(), Trouble> {
    let name = name_will_do(&text(values, "name")).map_err(|why| refused("name", why))?;
    let (role, new): (Role, _) = (word(values, "role")?, text(values, "password"));
    password::will_do(&new, &name).map_err(|why| refused("password", why))?;
    let what = format!("added {name} as {}", role.word());
    done(site, vec![Change::AddPerson(name, role, hashed(new).await?)], what).await
}

/// `POST /people/{id}/role` with `role`.
pub(crate) async fn set_role(State(site): State<Site>, Path(id): Path<u64>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let done = async {
        let (person, role): (_, Role) = (reader_of(&site, id).await?, word(&values, "role")?);
        let what = format!("made {} a {}", person.name, role.word());
        done(&site, vec![Change::SetRole(id, role)], what).await
    };
    let done = done.await;
    answer(&site, &format!("role-{id}"), values, done).await
}

/// `POST /people/{id}/password` with `password`: all sessions of that person end.
pub(crate) async fn set_password(State(site): State<Site>, Path(id): Path<u64>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let done = async {
        let (person, new) = (reader_of(&site, id).await?, text(&values, "password"));
        password::will_do(&new, &person.name).map_err(|why| refused("password", why))?;
        let what = format!("set a new password for {}", person.name);
        done(&site, vec![Change::SetPassword(id, hashed(new).await?)], what).await
    };
    let done = done.await;
    answer(&site, &format!("password-{id}"), values, done).await
}

/// `POST /people/{id}/remove`
pub(crate) async fn remove(State(site): State<Site>, Path(id): Path<u64>) -> Response {
    let done = async {
        let person = reader_of(&site, id).await?;
        let what = format!("removed {}, {}", person.name, person.role.word());
        done(&site, vec![Change::RemovePerson(id)], what).await
    };
    let done = done.await;
    answer(&site, &format!("remove-{id}"), Values::new(), done).await
}

/// `POST /tokens` with `token` (what it is for) and `scope`: the page shows the token, once.
pub(crate) async fn make_token(State(site): State<Site>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    match made(&site, &values).await {
        Ok((name, token)) => draw(&site, &Entry::default(), Some((&name, &token))).await,
        Err(trouble) => answer(&site, TOKEN, values, Err(trouble)).await,
    }
}

async fn made(site: &Site, values: &Values) -> Result<(String, String), Trouble> {
    let name = name_will_do(&text(values, "token")).map_err(|why| refused("token", why))?;
    let (scope, token): (Scope, _) = (word(values, "scope")?, secret::draw_token()?);
    let person = who::current().and_then(|a| a.person);
    let what = format!("made a token for {name} with the scope {}", scope.word());
    done(site, vec![Change::AddToken(secret::hash(&token), name.clone(), scope, person)], what).await?;
    Ok((name, token))
}

/// `POST /tokens/{id}/withdraw`
pub(crate) async fn withdraw_token(State(site): State<Site>, Path(id): Path<u64>) -> Response {
    let done = async {
        let tokens = site.access.vault()?.tokens().await?;
        let name = tokens.into_iter().find(|t| t.id == id).map(|t| t.name);
        let name = name.ok_or_else(|| Trouble::NotFound(format!("there is no token of number {id}")))?;
        done(&site, vec![Change::WithdrawToken(id)], format!("withdrew the token for {name}")).await
    };
    let done = done.await;
    answer(&site, TOKEN, Values::new(), done).await
}

/// `POST /sessions/{id}/end`
pub(crate) async fn end_session(State(site): State<Site>, Path(id): Path<u64>) -> Response {
    let done = async {
        let All { people, sessions, .. } = all(&site).await?;
        let session = sessions.into_iter().find(|s| s.id == id);
        let session =
            session.ok_or_else(|| Trouble::NotFound(format!("there is no session of number {id}")))?;
        let name = people.into_iter().find(|p| p.id == session.person).map(|p| p.name).unwrap_or_default();
        done(&site, vec![Change::EndSessionNumber(id)], format!("ended a session of {name}")).await
    };
    let done = done.await;
    answer(&site, "sessions", Values::new(), done).await
}

/// Which lines.
#[derive(Debug, Deserialize)]
pub(crate) struct Before {
    pub(super) before: Option<u64>,
}

/// Lines of the log and, if there are older ones, where those begin.
pub(super) async fn lines(site: &Site, before: Option<u64>) -> Result<(Vec<LineItem>, Option<u64>), Trouble> {
    let mut lines = site.access.vault()?.audit(LINES + 1, before).await?;
    let more = lines.len() > LINES;
    lines.truncate(LINES);
    let next = lines.last().map(|l| l.id).filter(|_| more);
    Ok((lines, next))
}

/// `GET /audit?before=…`
pub(crate) async fn audit(State(site): State<Site>, Query(Before { before }): Query<Before>) -> Response {
    match lines(&site, before).await {
        Ok((lines, next)) => page::access::audit(&lines, next, &site.clock(&site.room())).into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}
