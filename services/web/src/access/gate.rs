//! The gate before every handler: it finds out who asks, looks up what the route asks for, and lets through or not.

use super::role::Need;
use super::rules::{self, Rule};
use super::vault::{How, Line};
use super::who::{self, Asker};
use super::{Access, Role, anybody, secret};
use crate::Site;
use crate::keeper::Trouble;
use crate::page;
use crate::problem::Problem;
use axum::extract::{ConnectInfo, MatchedPath, Request, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

/// Longest address of a page that a sign-in leads back to.
const LONGEST_WAY_BACK: usize = 500;

/// What is asked, kept from the request before the handler takes it.
struct Asked {
    rule: Option<&'static Rule>,
    /// Whether the address is for everybody, by another method at least.
    public: bool,
    /// Whether there is such an address at all.
    matched: bool,
    path: String,
    way_back: String,
    safe: bool,
    api: bool,
}

impl Asked {
    fn of(request: &Request) -> Self {
        let matched = request.extensions().get::<MatchedPath>();
        let public = matched.is_some_and(|m| rules::is_public(m.as_str()));
        let rule = matched.and_then(|m| rules::find(request.method(), m.as_str()));
        let uri = request.uri();
        let way_back = uri.path_and_query().map_or("/", |p| p.as_str());
        Self {
            rule,
            public,
            // Axum's own name for what answers where there is nothing.
            matched: matched.is_some_and(|m| !m.as_str().contains("__private__axum")),
            path: uri.path().to_owned(),
            way_back: way_back.chars().take(LONGEST_WAY_BACK).collect(),
            safe: rules::is_safe(request.method()),
            api: uri.path() == "/api" || uri.path().starts_with("/api/"),
        }
    }

    /// What has no decision is for keepers; that there is nothing at an address is told to whoever may read.
    fn need(&self) -> Need {
        match self.rule {
            Some(rule) => rule.need,
            // It is told then that there is no such method.
            None if self.public => Need::Public,
            None if self.safe && !self.matched => Need::Read,
            None => Need::Manage,
        }
    }
}

/// Lets a request through, or answers it.
pub(crate) async fn gate(State(site): State<Site>, request: Request, next: Next) -> Response {
    let asked = Asked::of(&request);
    let address = site.access.address(&request);
    let asker = match site.access.asker(&site, &asked, request.headers(), address).await {
        Ok(asker) => Arc::new(asker),
        Err(refusal) => return *refusal,
    };
    let answer = who::with(asker.clone(), next.run(request)).await;
    let again = answer.extensions().get::<crate::once::Again>().is_some();
    if !again && changed(&asked, answer.status()) {
        write_down(&site, &asked, &asker).await;
    }
    answer
}

impl Access {
    /// Where a request comes from. A proxy that is believed says it as the last of its header; what stands before that was
    /// said by whoever asked.
    fn address(&self, request: &Request) -> String {
        let peer = request.extensions().get::<ConnectInfo<SocketAddr>>().map(|c| c.0.ip().to_canonical());
        let Some(peer) = peer else { return "unknown".to_owned() };
        let trusted = |ip: &IpAddr| self.settings.proxies.contains(ip);
        if !trusted(&peer) {
            return peer.to_string();
        }
        let said = request.headers().get_all("x-forwarded-for").iter().filter_map(|v| v.to_str().ok());
        let all: Vec<IpAddr> =
            said.flat_map(|v| v.split(',')).filter_map(|a| a.trim().parse::<IpAddr>().ok()).collect();
        all.into_iter().rev().find(|ip| !trusted(ip)).unwrap_or(peer).to_string()
    }

    async fn asker(
        &self,
        site: &Site,
        asked: &Asked,
        headers: &HeaderMap,
        address: String,
    ) -> Result<Asker, Box<Response>> {
        let need = asked.need();
        if need == Need::Public {
            return Ok(anybody(How::Nobody, Role::Looker, address));
        }
        let asker = match self.known(site, asked, headers, &address).await {
            Ok(Some(asker)) => asker,
            Ok(None) => return Err(Box::new(self.nobody(asked).await)),
            Err(trouble) => return Err(Box::new(unable(asked, trouble))),
        };
        if !asker.role.may(need) || (need == Need::Own && asker.how == How::Token) {
            return Err(Box::new(not_allowed(asked, &asker)));
        }
        if asker.how == How::Session && !asked.safe && !from_a_browser(headers) {
            return Err(Box::new(refused(
                asked,
                StatusCode::FORBIDDEN,
                "a change by a session must say from which page it comes, as browsers do; programs use a token",
            )));
        }
        Ok(asker)
    }

    /// Who it is, by token, session, or since nobody has to sign in here.
    async fn known(
        &self,
        site: &Site,
        asked: &Asked,
        headers: &HeaderMap,
        address: &str,
    ) -> Result<Option<Asker>, Trouble> {
        let now = site.keeper.now();
        if asked.api && headers.contains_key(header::AUTHORIZATION) {
            let Some(token) = secret::bearer(headers) else { return Ok(None) };
            return self.token(token, address, now).await;
        }
        if self.settings.sign_in {
            return self.session(headers, address, now).await;
        }
        Ok(Some(anybody(How::Machine, Role::Keeper, address.to_owned())))
    }

    /// What somebody is told who is not known.
    async fn nobody(&self, asked: &Asked) -> Response {
        // Where nobody has to sign in, a token that does not hold is all that brings anybody here.
        let somebody = if self.settings.sign_in { self.somebody().await } else { Ok(true) };
        match somebody {
            Ok(true) => {}
            Ok(false) => return refused(asked, StatusCode::SERVICE_UNAVAILABLE, NOBODY_YET),
            Err(trouble) => return unable(asked, trouble),
        }
        let said = "sign in first, or send a token that holds: Authorization: Bearer hw_…";
        if asked.api {
            let mut answer = Problem::new(StatusCode::UNAUTHORIZED, said).into_response();
            answer.headers_mut().insert(header::WWW_AUTHENTICATE, header::HeaderValue::from_static("Bearer"));
            return answer;
        }
        if asked.safe {
            return Redirect::to(&super::sign_in::address(&asked.way_back)).into_response();
        }
        page::access::signed_out(StatusCode::UNAUTHORIZED)
    }
}

/// What is said while nobody can sign in; the cure stands in it.
pub(crate) const NOBODY_YET: &str = "nobody can sign in yet, and this page can be reached from other machines. On the machine that runs \
    the service, make the first keeper: hatchwarden people --config FILE add NAME --role keeper";

/// Browsers say with each change from where it comes, by one header or the other; the layer outside has compared it.
fn from_a_browser(headers: &HeaderMap) -> bool {
    headers.contains_key(header::ORIGIN) || headers.contains_key("sec-fetch-site")
}

fn refused(asked: &Asked, status: StatusCode, words: &str) -> Response {
    if asked.api {
        Problem::new(status, words).into_response()
    } else {
        page::sorry(status, &format!("{}.", crate::words::capital(words)))
    }
}

fn unable(asked: &Asked, trouble: Trouble) -> Response {
    if asked.api { Problem::from(trouble).into_response() } else { page::trouble(trouble) }
}

fn not_allowed(asked: &Asked, asker: &Asker) -> Response {
    let words = match asker.how {
        How::Token => {
            format!("this token has not the scope for that; it may do what a {} may", asker.role.word())
        }
        _ => format!("as a {} you may not do that; a keeper can, or can change your role", asker.role.word()),
    };
    refused(asked, StatusCode::FORBIDDEN, &words)
}

/// Whether an answer says that something was changed: forms of pages lead on to a page, the API says 2xx.
fn changed(asked: &Asked, status: StatusCode) -> bool {
    let named = asked.rule.is_some_and(|r| !r.what.is_empty());
    let plain = asked.api || asked.path.starts_with("/on-it/");
    named && !asked.safe && (status.is_redirection() || (plain && status.is_success()))
}

async fn write_down(site: &Site, asked: &Asked, asker: &Asker) {
    let (Ok(vault), Some(rule)) = (site.access.vault(), asked.rule) else { return };
    // The address of a link is a secret.
    let link = rule.need == Need::Public;
    let typed = asker.typed.get().cloned();
    let line = Line {
        at: site.keeper.now(),
        who: asker.name.clone().or(typed).unwrap_or_else(|| crate::entry::NOBODY.to_owned()),
        how: if link { How::Link } else { asker.how },
        address: asker.address.clone(),
        what: rule.what.to_owned(),
        place: if link { rule.path.to_owned() } else { asked.path.clone() },
    };
    if let Err(error) = vault.change(line.at, vec![], vec![line]).await {
        tracing::error!(%error, "a change could not be written into the audit log");
    }
}
