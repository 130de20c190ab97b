//! Signing in.

use super::throttle::Source;
use super::vault::{Change, How, Line, Person};
use super::who::{self, Asker};
use super::{Access, IDLE, WHOLE, password, secret};
use crate::Site;
use crate::entry::Values;
use crate::keeper::Trouble;
use crate::page;
use crate::site::{Sent, unreadable};
use axum::extract::{Form, Query, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use std::fmt::Write as _;
use units::Span;

/// The page of signing in, which leads back to where somebody wanted to go.
pub(crate) fn address(to: &str) -> String {
    let mut query = String::new();
    for b in to.bytes() {
        match b {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'/' | b'-' | b'.' | b'_' | b'~' => {
                query.push(char::from(b));
            }
            _ => {
                let _ = write!(query, "%{b:02X}");
            }
        }
    }
    if to == "/" { "/sign-in".to_owned() } else { format!("/sign-in?to={query}") }
}

/// Only a page of our own, as a path: browsers read `//host`, `/\host` and letters that cannot be seen as other places.
pub(crate) fn way_back(to: &str) -> &str {
    let ours = to.starts_with('/')
        && !to[1..].starts_with(['/', '\\'])
        && to.bytes().all(|b| (0x21..0x7f).contains(&b) && b != b'\\')
        && !to.starts_with("/sign-in");
    if ours { to } else { "/" }
}

/// Where somebody wanted to go.
#[derive(Debug, Deserialize)]
pub(crate) struct To {
    #[serde(default)]
    to: String,
}

/// `GET /sign-in?to=…`
pub(crate) async fn form(State(site): State<Site>, Query(To { to }): Query<To>) -> Response {
    if !site.access.settings.sign_in {
        return page::sorry(
            StatusCode::NOT_FOUND,
            "Nobody has to sign in here: this page answers on its own machine only.",
        );
    }
    match site.access.somebody().await {
        Ok(true) => page::access::sign_in(way_back(&to), "", None).into_response(),
        Ok(false) => {
            let words = format!("{}.", crate::words::capital(super::gate::NOBODY_YET));
            page::sorry(StatusCode::SERVICE_UNAVAILABLE, &words)
        }
        Err(trouble) => page::trouble(trouble),
    }
}

/// What the form says.
struct Tried {
    name: String,
    password: String,
    to: String,
}

impl Tried {
    fn of(mut values: Values) -> Self {
        let mut take = |field: &str| values.remove(field).unwrap_or_default();
        let (name, password, to) = (take("name"), take("password"), take("to"));
        Self { name: name.trim().chars().take(200).collect(), password, to: way_back(&to).to_owned() }
    }
}

/// Why somebody is not let in.
enum Refusal {
    /// The name or the password.
    Wrong,
    /// So long a delay.
    Wait(Span),
    Trouble(Trouble),
}

impl From<Trouble> for Refusal {
    fn from(trouble: Trouble) -> Self {
        Self::Trouble(trouble)
    }
}

/// `POST /sign-in` with `name`, `password` and `to`: 303 with a new session.
pub(crate) async fn sign_in(State(site): State<Site>, headers: HeaderMap, sent: Sent) -> Response {
    let tried = match sent {
        Ok(Form(values)) => Tried::of(values),
        Err(e) => return unreadable(&e),
    };
    let Some(asker) = who::current().filter(|_| site.access.settings.sign_in) else {
        return page::sorry(StatusCode::NOT_FOUND, "Nobody has to sign in here.");
    };
    match try_it(&site, &headers, &tried, &asker).await {
        Ok(cookies) => {
            let mut answer = Redirect::to(&tried.to).into_response();
            give(&mut answer, cookies);
            answer
        }
        Err(Refusal::Trouble(trouble)) => page::trouble(trouble),
        Err(Refusal::Wrong) => {
            again(&tried, StatusCode::UNAUTHORIZED, "That name and password do not go together.")
        }
        Err(Refusal::Wait(left)) => wait(&tried, left),
    }
}

/// Hands cookies out with an answer.
pub(super) fn give(answer: &mut Response, cookies: Vec<HeaderValue>) {
    for cookie in cookies {
        answer.headers_mut().append(header::SET_COOKIE, cookie);
    }
}

fn again(tried: &Tried, status: StatusCode, words: &str) -> Response {
    (status, page::access::sign_in(&tried.to, &tried.name, Some(words))).into_response()
}

fn wait(tried: &Tried, left: Span) -> Response {
    let seconds = left.millis().div_euclid(1000) + 1;
    let words = format!(
        "Too many wrong passwords came from your address for this name. Wait {seconds} seconds, then try again; nobody is locked out."
    );
    let mut answer = again(tried, StatusCode::TOO_MANY_REQUESTS, &words);
    answer.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from(seconds));
    answer
}

/// Checks the password within the delay of its source. The same is done for a name that nobody has.
async fn try_it(
    site: &Site,
    headers: &HeaderMap,
    tried: &Tried,
    asker: &Asker,
) -> Result<Vec<HeaderValue>, Refusal> {
    let (access, now) = (&site.access, site.keeper.now());
    let person = access.vault()?.person(tried.name.clone()).await?;
    let cookies = access.cookies(headers);
    let device = person.as_ref().and_then(|p| cookies.known_device(headers, p));
    let known = device.is_some();
    let source = device.map_or_else(|| Source::network(&asker.address, &tried.name), Source::Device);
    let count = access.throttle().begin(&source, now).map_err(Refusal::Wait)?;
    // Longer than any that is kept: not hashed, and not right.
    let fits = tried.password.chars().count() <= password::LONGEST;
    let password = if fits { tried.password.clone() } else { String::new() };
    let kept = person.as_ref().map(|p| p.password.clone());
    let right = access.checker.check(password, kept, known).await;
    let right = right.inspect_err(|_| access.throttle().forgive(&source))?;
    let name = person.as_ref().map(|p| p.name.clone());
    let Some(person) = person.filter(|_| right) else {
        failed(site, name, asker, count).await;
        return Err(Refusal::Wrong);
    };
    access.throttle().clear(&source);
    let line = line(site, &person.name, asker, "signed in");
    Ok(begin(access, headers, &person, asker, line).await?)
}

/// A new session in the place of the one that the browser held: whoever had planted that one has nothing of it.
pub(super) async fn begin(
    access: &Access,
    headers: &HeaderMap,
    person: &Person,
    asker: &Asker,
    line: Line,
) -> Result<Vec<HeaderValue>, Trouble> {
    let (cookies, secret, now) = (access.cookies(headers), secret::draw()?, line.at);
    let held = cookies.held(headers).map(|old| Change::EndSession(secret::hash(old)));
    let agent = headers.get(header::USER_AGENT).and_then(|a| a.to_str().ok()).unwrap_or_default();
    let start = Change::StartSession {
        hash: secret::hash(&secret),
        person: person.id,
        password: person.password.clone(),
        address: asker.address.clone(),
        agent: agent.chars().take(200).collect(),
    };
    let old = Change::EndOldSessions(now - WHOLE, now - IDLE);
    let changes = held.into_iter().chain([old, start]).collect();
    access.vault()?.change(now, changes, vec![line]).await?;
    Ok(vec![cookies.give(&secret, WHOLE.millis() / 1000), cookies.give_device(person)?])
}

pub(super) fn line(site: &Site, name: &str, asker: &Asker, what: &str) -> Line {
    Line {
        at: site.keeper.now(),
        who: name.to_owned(),
        how: How::Session,
        address: asker.address.clone(),
        what: what.to_owned(),
        place: "/sign-in".to_owned(),
    }
}

/// Written down at the first, second, fourth, eighth … failure of a source, so that a flood does not fill the disk. A name that
/// nobody has may be a password in the wrong field: it is not written.
async fn failed(site: &Site, name: Option<String>, asker: &Asker, count: u32) {
    if !count.is_power_of_two() {
        return;
    }
    let Ok(vault) = site.access.vault() else { return };
    let name = name.as_deref().unwrap_or("a name that nobody has");
    let what = format!("failed to sign in, {count} in a row from there");
    let line = Line { how: How::Nobody, ..line(site, name, asker, &what) };
    tracing::warn!(address = asker.address, count, "wrong password at signing in");
    if let Err(error) = vault.change(line.at, vec![], vec![line]).await {
        tracing::error!(%error, "a failed sign-in could not be written into the audit log");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Forms of open redirects after the OWASP cheat sheet on unvalidated redirects, and the WHATWG URL standard's reading of
    /// backslashes, tabs and line ends.
    #[test]
    fn the_way_back_stays_here() {
        for good in ["/", "/clutches/C06", "/clutches/C06/what-if?celsius=25&life=rest", "/log"] {
            assert_eq!(way_back(good), good);
        }
        for bad in [
            "",
            "//evil.example",
            "/\\evil.example",
            "\\\\evil.example",
            "https://evil.example",
            "evil.example",
            "javascript:alert(1)",
            "/\t/evil.example",
            "/\n/evil.example",
            "/a\\b",
            "/a b",
            "/\u{202e}a",
            "/sign-in?to=/",
            "@evil",
        ] {
            assert_eq!(way_back(bad), "/", "{bad:?}");
        }
    }

    #[test]
    fn the_address_of_the_form_holds_the_way_back_whole() {
        assert_eq!(address("/"), "/sign-in");
        assert_eq!(
            address("/probes/claim?topic=a%2Fb&x=\u{fc}"),
            "/sign-in?to=/probes/claim%3Ftopic%3Da%252Fb%26x%3D%C3%BC"
        );
    }
}
