//! The ways out that the configuration names: mail and webhooks, and the other Hatchwarden that is watched.

use crate::clock::Clock;
use crate::config::{Config, MailServer, MailTls, Webhook};
use crate::keys;
use crate::outbox::StoreOutbox;
use crate::service::StartError;
use notify::{MailSettings, Tls, Troubles, Watcher, Way, WebhookSettings};
use std::collections::BTreeSet;
use std::sync::Arc;
use store::Store;
use tokio::sync::{Notify, watch};
use tokio::task::JoinHandle;

/// How a way by mail is named before its address.
const MAIL: &str = "mail:";

/// Ways out that are ready to be set going.
pub(crate) struct Outlets {
    ways: Vec<Box<dyn Way>>,
    watcher: Option<Watcher>,
    troubles: watch::Sender<Troubles>,
    other: watch::Sender<Option<String>>,
}

impl Outlets {
    /// Everything that the configuration names, with its secrets read.
    ///
    /// # Errors
    /// [`StartError`] naming the field and the cure.
    pub(crate) fn of(config: &Config) -> Result<Self, StartError> {
        let mut ways: Vec<Box<dyn Way>> = Vec::new();
        for hook in &config.webhooks {
            ways.push(Box::new(
                notify::webhook(settings(hook)?).map_err(|error| StartError::Webhook {
                    name: hook.name.clone(),
                    error: Box::new(error),
                })?,
            ));
        }
        let mut mails: BTreeSet<&str> =
            config.calls.iter().filter_map(|c| c.way.strip_prefix(MAIL)).collect();
        mails.extend(config.night.iter().flat_map(|night| night.to.iter().map(String::as_str)));
        if let Some(server) = &config.mail {
            let server = mail_server(server)?;
            for to in mails {
                let settings = MailSettings {
                    name: format!("{MAIL}{to}"),
                    to: vec![to.to_owned()],
                    server: server.clone(),
                };
                ways.push(Box::new(notify::mail(settings).map_err(Box::new)?));
            }
        }
        let watcher = config.watch.as_ref().map(|w| Watcher::new(&w.url, w.every)).transpose();
        let watcher = watcher.map_err(StartError::Watch)?;
        Ok(Self {
            ways,
            watcher,
            troubles: watch::Sender::new(Troubles::new()),
            other: watch::Sender::new(None),
        })
    }

    /// Tells which ways fail.
    pub(crate) fn undelivered(&self) -> watch::Receiver<Troubles> {
        self.troubles.subscribe()
    }

    /// Tells why the other service is taken to be dead.
    pub(crate) fn other(&self) -> watch::Receiver<Option<String>> {
        self.other.subscribe()
    }

    /// Sets them going, until `stop`.
    pub(crate) fn start(
        self,
        store: Store,
        clock: Clock,
        changed: Arc<Notify>,
        stop: &watch::Sender<bool>,
    ) -> Vec<(&'static str, JoinHandle<()>)> {
        let Self { ways, watcher, troubles, other } = self;
        let mut parts = Vec::new();
        if !ways.is_empty() {
            let outbox = Arc::new(StoreOutbox::new(store, clock, changed));
            let seconds = Arc::new(Clock::unix_seconds);
            let work = notify::run(outbox, ways, seconds, troubles, stop.subscribe());
            parts.push(("deliveries", tokio::spawn(work)));
        }
        if let Some(watcher) = watcher {
            let stop = stop.subscribe();
            let work = async move {
                let tell = |reason| {
                    other.send_replace(reason);
                };
                watcher.run(tell, stop).await;
            };
            parts.push(("watch", tokio::spawn(work)));
        }
        parts
    }
}

fn settings(hook: &Webhook) -> Result<WebhookSettings, StartError> {
    let read = |file| keys::secret("[[webhook]] secret_file", file);
    let secret = hook.secret_file.as_deref().map(read).transpose()?;
    let mut settings = WebhookSettings::new(hook.name.clone(), hook.url.clone(), secret.map(Into::into));
    settings.template.clone_from(&hook.template);
    if let Some(content_type) = &hook.content_type {
        settings.content_type.clone_from(content_type);
    }
    if let Some(file) = &hook.key_file {
        let key = keys::secret("[[webhook]] authorization_file", file)?;
        settings.headers.push(("Authorization".to_owned(), key.into()));
    }
    Ok(settings)
}

fn mail_server(set: &MailServer) -> Result<notify::MailServer, StartError> {
    let mut server = notify::MailServer::new(set.host.clone(), set.from.clone());
    server.port = set.port;
    server.tls = match set.tls {
        MailTls::StartTls => Tls::StartTls,
        MailTls::Tls => Tls::Tls,
        MailTls::None => Tls::None,
    };
    server.username.clone_from(&set.username);
    let password =
        set.password_file.as_deref().map(|f| keys::secret("[mail] password_file", f)).transpose()?;
    server.password = password.map(Into::into);
    server.ca_file = set.ca.as_deref().map(|f| keys::secret("[mail] ca", f)).transpose()?;
    Ok(server)
}
