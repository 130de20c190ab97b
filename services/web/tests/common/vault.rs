//! People in memory, and a router with them.
#![allow(clippy::unwrap_used, missing_docs, dead_code, unreachable_pub, reason = "test code")]

use super::common::{FakeKeeper, calm, now};
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Request, StatusCode, header};
use axum::response::Response;
use http_body_util::BodyExt;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use tower::ServiceExt;
use units::Time;
use web::access::*;
use web::keeper::{Answer, Trouble};
use web::{Settings, guarded};

/// What the vault holds.
#[derive(Default)]
pub struct Held {
    pub people: Vec<Person>,
    pub sessions: Vec<(Hash, Session)>,
    pub tokens: Vec<(Hash, Token)>,
    pub lines: Vec<Line>,
    number: u64,
}

#[derive(Default)]
pub struct FakeVault(pub Mutex<Held>);

fn ready<T: Send + 'static>(value: Result<T, Trouble>) -> Answer<T> {
    Box::pin(async move { value })
}

impl Held {
    fn next(&mut self) -> u64 {
        self.number += 1;
        self.number
    }

    fn end_of(&mut self, person: u64) {
        self.sessions.retain(|(_, s)| s.person != person);
    }

    fn change(&mut self, at: Time, change: Change) -> Result<(), Trouble> {
        match change {
            Change::AddPerson(name, role, password) => {
                let id = self.next();
                self.people.push(Person { id, name, role, password, since: at, changed: at });
            }
            Change::SetPassword(id, password) => {
                self.end_of(id);
                self.people.iter_mut().filter(|p| p.id == id).for_each(|p| p.password.clone_from(&password));
            }
            Change::SetRole(id, role) => {
                self.people.iter_mut().filter(|p| p.id == id).for_each(|p| p.role = role);
            }
            Change::RemovePerson(id) => {
                self.end_of(id);
                self.people.retain(|p| p.id != id);
            }
            Change::StartSession { hash, person, password, address, agent } => {
                if !self.people.iter().any(|p| p.id == person && p.password == password) {
                    return Err(Trouble::Unable("changed meanwhile".into()));
                }
                let id = self.next();
                self.sessions.push((hash, Session { id, person, since: at, seen: at, address, agent }));
            }
            Change::SeenSession(hash) => {
                self.sessions.iter_mut().filter(|(h, _)| *h == hash).for_each(|(_, s)| s.seen = at);
            }
            Change::EndSession(hash) => self.sessions.retain(|(h, _)| *h != hash),
            Change::EndSessionNumber(id) => self.sessions.retain(|(_, s)| s.id != id),
            Change::EndOldSessions(since, seen) => {
                self.sessions.retain(|(_, s)| s.since >= since && s.seen >= seen);
            }
            Change::AddToken(hash, name, scope, person) => {
                let id = self.next();
                self.tokens.push((hash, Token { id, name, scope, person, since: at, used: None }));
            }
            Change::UsedToken(_) => {}
            Change::WithdrawToken(id) => self.tokens.retain(|(_, t)| t.id != id),
        }
        Ok(())
    }
}

impl Vault for FakeVault {
    fn people(&self) -> Answer<Vec<Person>> {
        ready(Ok(self.0.lock().unwrap().people.clone()))
    }
    fn person(&self, name: String) -> Answer<Option<Person>> {
        let key = name.to_lowercase();
        ready(Ok(self.0.lock().unwrap().people.iter().find(|p| p.name.to_lowercase() == key).cloned()))
    }
    fn session(&self, hash: Hash) -> Answer<Option<(Session, Person)>> {
        let held = self.0.lock().unwrap();
        let session = held.sessions.iter().find(|(h, _)| *h == hash).map(|(_, s)| s.clone());
        ready(Ok(
            session.and_then(|s| Some((s.clone(), held.people.iter().find(|p| p.id == s.person)?.clone())))
        ))
    }
    fn sessions(&self) -> Answer<Vec<Session>> {
        ready(Ok(self.0.lock().unwrap().sessions.iter().map(|(_, s)| s.clone()).collect()))
    }
    fn token(&self, hash: Hash) -> Answer<Option<Token>> {
        ready(Ok(self.0.lock().unwrap().tokens.iter().find(|(h, _)| *h == hash).map(|(_, t)| t.clone())))
    }
    fn tokens(&self) -> Answer<Vec<Token>> {
        ready(Ok(self.0.lock().unwrap().tokens.iter().map(|(_, t)| t.clone()).collect()))
    }
    fn change(&self, at: Time, changes: Vec<Change>, lines: Vec<Line>) -> Answer<()> {
        let mut held = self.0.lock().unwrap();
        let done = changes.into_iter().try_for_each(|c| held.change(at, c));
        if done.is_ok() {
            held.lines.extend(lines);
        }
        ready(done)
    }
    fn audit(&self, limit: usize, before: Option<u64>) -> Answer<Vec<LineItem>> {
        let held = self.0.lock().unwrap();
        let all = held.lines.iter().enumerate().map(|(i, l)| LineItem { id: i as u64 + 1, line: l.clone() });
        let mut all: Vec<_> = all.filter(|i| before.is_none_or(|b| i.id < b)).collect();
        all.reverse();
        all.truncate(limit);
        ready(Ok(all))
    }
}

/// The password of everybody here, whose hash is worked out once.
pub const PASSWORD: &str = "correct horse battery";

/// A page that people sign in at.
pub struct App {
    pub keeper: Arc<FakeKeeper>,
    pub vault: Arc<FakeVault>,
    pub access: Arc<Access>,
    pub router: axum::Router,
}

impl App {
    pub fn new() -> Self {
        Self::with(AccessSettings { sign_in: true, ..AccessSettings::default() })
    }

    pub fn with(settings: AccessSettings) -> Self {
        let (keeper, vault) = (FakeKeeper::simulated(calm()), Arc::new(FakeVault::default()));
        let access = Arc::new(Access::new(vault.clone(), settings));
        let hosts = vec!["fishroom.example".to_owned()];
        let router = guarded(keeper.clone(), Settings { hosts, ..Settings::default() }, access.clone());
        Self { keeper, vault, access, router }
    }

    pub fn held(&self) -> std::sync::MutexGuard<'_, Held> {
        self.vault.0.lock().unwrap()
    }

    pub fn add(&self, name: &str, role: Role) -> u64 {
        static KEPT: std::sync::OnceLock<String> = std::sync::OnceLock::new();
        let kept = KEPT.get_or_init(|| password::hash(PASSWORD).unwrap());
        let mut held = self.held();
        held.change(now(), Change::AddPerson(name.into(), role, kept.clone())).unwrap();
        held.people.last().unwrap().id
    }

    /// A session without signing in: its cookie.
    pub fn session(&self, person: u64) -> String {
        use sha2::{Digest, Sha256};
        let secret = format!("session-of-{person}");
        let mut held = self.held();
        let password = held.people.iter().find(|p| p.id == person).unwrap().password.clone();
        let start = Change::StartSession {
            hash: Sha256::digest(&secret).into(),
            person,
            password,
            address: "192.0.2.1".into(),
            agent: "a phone".into(),
        };
        held.change(now(), start).unwrap();
        format!("hatchwarden={secret}")
    }

    /// A token of a scope.
    pub fn token(&self, scope: Scope) -> String {
        use sha2::{Digest, Sha256};
        let token = format!("hw_{}", scope.word());
        let add = Change::AddToken(Sha256::digest(&token).into(), "a script".into(), scope, None);
        self.held().change(now(), add).unwrap();
        token
    }

    pub async fn ask(&self, request: Ask) -> Response {
        self.router.clone().oneshot(request.0).await.unwrap()
    }
}

/// A request in pieces.
pub struct Ask(pub Request<Body>);

impl Ask {
    pub fn get(path: &str) -> Self {
        Self(Request::get(path).body(Body::empty()).unwrap()).with("host", "localhost")
    }
    /// A form, as a browser of the page itself sends it.
    pub fn form(path: &str, body: &str) -> Self {
        let kind = "application/x-www-form-urlencoded";
        let request = Request::post(path).body(Body::from(body.to_owned())).unwrap();
        Self(request)
            .with("host", "localhost")
            .with("content-type", kind)
            .with("sec-fetch-site", "same-origin")
    }
    /// JSON, as a program sends it.
    pub fn json(path: &str, body: &str) -> Self {
        let request = Request::post(path).body(Body::from(body.to_owned())).unwrap();
        Self(request).with("host", "localhost").with("content-type", "application/json")
    }
    pub fn with(mut self, name: &'static str, value: &str) -> Self {
        self.0.headers_mut().insert(name, value.parse().unwrap());
        self
    }
    pub fn without(mut self, name: &'static str) -> Self {
        self.0.headers_mut().remove(name);
        self
    }
    pub fn cookie(self, cookie: &str) -> Self {
        self.with("cookie", cookie)
    }
    pub fn bearer(self, token: &str) -> Self {
        self.with("authorization", &format!("Bearer {token}"))
    }
    pub fn from(mut self, address: &str) -> Self {
        let place: SocketAddr = format!("{address}:50000").parse().unwrap();
        self.0.extensions_mut().insert(ConnectInfo(place));
        self
    }
}

/// Every cookie that an answer sets: its pair, and the whole line.
pub fn cookies(answer: &Response) -> Vec<(String, String)> {
    let lines = answer.headers().get_all(header::SET_COOKIE).iter().map(|v| v.to_str().unwrap().to_owned());
    lines.map(|line| (line.split(';').next().unwrap().to_owned(), line)).collect()
}

pub async fn text(answer: Response) -> String {
    String::from_utf8(answer.into_body().collect().await.unwrap().to_bytes().to_vec()).unwrap()
}

/// Signs in; the answer.
pub fn signing(name: &str, password: &str) -> Ask {
    let enc = |s: &str| s.bytes().map(|b| format!("%{b:02X}")).collect::<String>();
    Ask::form("/sign-in", &format!("name={}&password={}&to=%2Flog", enc(name), enc(password)))
        .from("192.0.2.7")
}

/// What the gate has said: `None` when it let through.
pub fn turned_away(answer: &Response) -> Option<StatusCode> {
    let to_sign_in =
        answer.headers().get(header::LOCATION).is_some_and(|l| l.to_str().unwrap().starts_with("/sign-in"));
    match answer.status() {
        StatusCode::SEE_OTHER if to_sign_in => Some(StatusCode::SEE_OTHER),
        s @ (StatusCode::UNAUTHORIZED | StatusCode::FORBIDDEN) => Some(s),
        _ => None,
    }
}
