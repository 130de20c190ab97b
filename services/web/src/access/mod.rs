//! Who may do what on page and API: people with roles, their sessions, tokens of programs, and the log of what they did.
//!
//! `gate` stands before every handler; `rules` has one decision for each route; what is kept is behind [`Vault`].

mod account;
mod api;
mod gate;
pub mod password;
mod people;
mod role;
pub(crate) mod rules;
mod secret;
mod sign_in;
mod throttle;
mod vault;
pub(crate) mod who;

pub(crate) use account::{account, change_password, sign_out};
pub(crate) use api::{api_audit, api_people, api_session};
pub(crate) use gate::gate;
pub use people::name_will_do;
pub(crate) use people::{
    add, audit, end_session, make_token, people, remove, set_password, set_role, withdraw_token,
};
pub(crate) use role::Need;
pub use role::{Role, Scope};
pub(crate) use sign_in::{form, sign_in};
pub use vault::{Change, Hash, How, Line, LineItem, Person, Session, Token, Vault};

use crate::keeper::Trouble;
use axum::http::{HeaderMap, header};
use password::Checker;
use secret::Cookies;
use std::net::IpAddr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use throttle::Throttle;
use units::{Span, Time};
use who::Asker;

/// A session that nobody uses ends after this. A planning value: a phone that lies by the bed is used once a week.
pub(crate) const IDLE: Span = Span::days(7);
/// A session ends after this at the latest: NIST SP 800-63B-4, 2.1.3 advises 30 days for proof by a password alone.
pub(crate) const WHOLE: Span = Span::days(30);
/// That a session was used is written down this often at most.
const SEEN_EVERY: Span = Span::minutes(5);
/// That a token was used, this often at most.
const USED_EVERY: Span = Span::hours(1);

/// How people come in.
#[derive(Debug, Clone, Default)]
pub struct AccessSettings {
    /// Whether people must sign in. Without it everybody who reaches the page may do everything.
    pub sign_in: bool,
    /// Proxies whose `X-Forwarded-For` is believed.
    pub proxies: Vec<IpAddr>,
    /// The host of the public address, with its port if it has one, if that address is https: cookies are then for TLS only.
    pub tls_host: Option<String>,
    /// Whether the page may be asked for by the machine's own number, `192.168.1.5`: a number cannot be pointed elsewhere
    /// as a name can.
    pub by_number: bool,
}

/// Who may do what.
pub struct Access {
    vault: Option<Arc<dyn Vault>>,
    settings: AccessSettings,
    checker: Checker,
    throttle: Mutex<Throttle>,
    somebody: AtomicBool,
}

impl Access {
    /// Everybody may do everything, and nobody is known.
    pub fn open() -> Self {
        Self::of(None, AccessSettings::default())
    }

    /// People are known by what the vault holds. Hashes once, which takes some hundredths of a second.
    pub fn new(vault: Arc<dyn Vault>, settings: AccessSettings) -> Self {
        Self::of(Some(vault), settings)
    }

    fn of(vault: Option<Arc<dyn Vault>>, settings: AccessSettings) -> Self {
        let checker = Checker::new();
        Self { vault, settings, checker, throttle: Mutex::default(), somebody: AtomicBool::new(false) }
    }

    /// How many passwords have been hashed for checking; wrong names cost one as well.
    pub fn passwords_checked(&self) -> u64 {
        self.checker.checked()
    }

    pub(crate) fn by_number(&self) -> bool {
        self.settings.by_number
    }

    fn vault(&self) -> Result<&Arc<dyn Vault>, Trouble> {
        self.vault.as_ref().ok_or_else(|| Trouble::NotFound("no people are kept here".to_owned()))
    }

    /// A panic in between left it whole: it is changed by single calls.
    fn throttle(&self) -> MutexGuard<'_, Throttle> {
        self.throttle.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The cookies of a request: for TLS only where it came by the public address.
    fn cookies(&self, headers: &HeaderMap) -> Cookies {
        let host = headers.get(header::HOST).and_then(|h| h.to_str().ok());
        let public = self.settings.tls_host.as_deref();
        Cookies { secure: host.zip(public).is_some_and(|(h, p)| h.eq_ignore_ascii_case(p)) }
    }

    /// Whether anybody can sign in at all.
    async fn somebody(&self) -> Result<bool, Trouble> {
        // The last keeper cannot be removed: once there is somebody, there always is.
        if !self.somebody.load(Ordering::Relaxed) && !self.vault()?.people().await?.is_empty() {
            self.somebody.store(true, Ordering::Relaxed);
        }
        Ok(self.somebody.load(Ordering::Relaxed))
    }

    /// Whether a stream that was opened by somebody may go on.
    pub(crate) async fn holds(&self, asker: &Asker, now: Time) -> bool {
        let Some(hash) = asker.session else { return true };
        match self.vault() {
            Ok(vault) => match vault.session(hash).await {
                Ok(found) => found.is_some_and(|(session, _)| !expired(&session, now)),
                // A store that fails is told elsewhere; the picture of the room stays.
                Err(_) => true,
            },
            Err(_) => false,
        }
    }

    async fn session(&self, headers: &HeaderMap, address: &str, now: Time) -> Result<Option<Asker>, Trouble> {
        let Some(held) = self.cookies(headers).held(headers) else { return Ok(None) };
        let (vault, hash) = (self.vault()?, secret::hash(held));
        let found = vault.session(hash).await?.filter(|(session, _)| !expired(session, now));
        let Some((session, person)) = found else { return Ok(None) };
        if now - session.seen > SEEN_EVERY {
            note(vault, now, Change::SeenSession(hash));
        }
        Ok(Some(Asker {
            name: Some(person.name),
            role: person.role,
            how: How::Session,
            person: Some(person.id),
            token: None,
            session: Some(hash),
            address: address.to_owned(),
            typed: Default::default(),
        }))
    }

    async fn token(&self, token: &str, address: &str, now: Time) -> Result<Option<Asker>, Trouble> {
        let vault = self.vault()?;
        let Some(token) = vault.token(secret::hash(token)).await? else { return Ok(None) };
        if token.used.is_none_or(|used| now - used > USED_EVERY) {
            note(vault, now, Change::UsedToken(token.id));
        }
        Ok(Some(Asker {
            name: Some(token.name),
            role: token.scope.role(),
            how: How::Token,
            person: None,
            token: Some(token.id),
            session: None,
            address: address.to_owned(),
            typed: Default::default(),
        }))
    }
}

/// Writes down that something was used. Nobody waits for it, and a store that is full must not keep the page away.
fn note(vault: &Arc<dyn Vault>, now: Time, change: Change) {
    let doing = vault.change(now, vec![change], vec![]);
    tokio::spawn(async move {
        let _ = doing.await;
    });
}

pub(crate) fn expired(session: &Session, now: Time) -> bool {
    now - session.seen > IDLE || now - session.since > WHOLE
}

fn anybody(how: How, role: Role, address: String) -> Asker {
    Asker {
        name: None,
        role,
        how,
        person: None,
        token: None,
        session: None,
        address,
        typed: Default::default(),
    }
}
