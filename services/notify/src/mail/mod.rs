//! Alarms by mail, to one server by SMTP.

mod arrived;
mod check;
mod letter;
mod reason;
mod rich;
mod settings;
mod talk;

use crate::{Failure, Item, Step, Way};
use arrived::Arrived;
use lettre::message::Mailbox;
use reason::Place;
pub use settings::{MailError, MailServer, MailSettings, Tls};
use std::fmt;
use std::sync::Arc;
use std::time::Duration;
use talk::{Letter, Server};

/// A way out by mail.
pub struct Mail {
    name: String,
    inner: Arc<Inner>,
}

struct Inner {
    server: Server,
    from: Mailbox,
    to: Vec<Mailbox>,
    patience: Duration,
    place: Place,
    arrived: Arrived,
}

/// A way out by mail from its settings. Nothing is asked of the server yet.
///
/// ```
/// use notify::{MailServer, MailSettings, mail};
/// let server = MailServer::new("mail.example.org".to_owned(), "Hatchwarden <room@example.org>".to_owned());
/// let to = vec!["mia@example.org".to_owned()];
/// assert!(mail(MailSettings { name: "mia".to_owned(), to, server }).is_ok());
/// ```
///
/// # Errors
/// [`MailError`] naming the field, its value and the cure.
pub fn mail(settings: MailSettings) -> Result<Mail, MailError> {
    let MailSettings { name, to, server: given } = settings;
    if to.is_empty() {
        return Err(MailError::Nobody);
    }
    let from = check::mailbox("from", &given.from)?;
    let to = to.iter().map(|t| check::mailbox("to", t)).collect::<Result<_, _>>()?;
    let server = check::server(&given, &from)?;
    let place = Place { at: format!("{}:{}", given.host, given.port), entry: format!("[[mail]] {name}") };
    let arrived = Arrived::default();
    Ok(Mail { name, inner: Arc::new(Inner { server, from, to, patience: given.timeout, place, arrived }) })
}

impl Way for Mail {
    fn name(&self) -> &str {
        &self.name
    }

    fn deliver(&self, item: &Item, unix_seconds: i64) -> Step<Result<(), Failure>> {
        let (inner, item) = (self.inner.clone(), item.clone());
        Box::pin(async move {
            let tried = inner.deliver(&item, unix_seconds).await;
            // Whatever the server says, the item waits for better days: what is wrong is mostly mended in the configuration or at the
            // server, by a person, and then the alarm must still be there. An unknown mailbox (550 to 553) is no exception:
            // addresses are no part of an item, so a corrected one gets it.
            tried.map_err(|reason| Failure::Later { reason, after: None })
        })
    }
}

impl Inner {
    /// Sends to all addresses that have not got it yet; one that is refused does not keep it from the others.
    async fn deliver(&self, item: &Item, unix_seconds: i64) -> Result<(), String> {
        let to = self.arrived.missing(&item.id, self.to.iter().map(|m| &m.email));
        let text = letter::letter(item, unix_seconds, &self.from, &self.to)?;
        let letter = Letter { from: self.from.email.clone(), to, text };
        let sent = self.server.send(&letter, self.patience).await;
        let refusals = sent.map_err(|trouble| self.place.trouble(&trouble, self.patience))?;
        if refusals.is_empty() {
            self.arrived.forget(&item.id);
            return Ok(());
        }
        let taken = letter.to.iter().filter(|to| !refusals.iter().any(|r| r.to == **to));
        self.arrived.note(&item.id, taken);
        Err(self.place.refusals(&refusals, self.to.len()))
    }
}

impl fmt::Debug for Mail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Mail")
            .field("name", &self.name)
            .field("at", &self.inner.place.at)
            .finish_non_exhaustive()
    }
}
