//! Delivery of alarms from an outbox that outlives a crash: an item is written down before it is tried.
//!
//! Ways out are a [`Webhook`] and [`Mail`]; [`run`] gives each of them a lane of its own and tells which of them fail. Two eyes on what
//! may die unheard: a [`Heartbeat`] is a sign of life to whoever watches the watcher, and a [`Watcher`] asks another service for one.

mod address;
mod backoff;
mod endpoint;
mod fate;
mod health;
mod heartbeat;
mod item;
mod lanes;
mod mail;
mod run;
mod secret;
mod sign;
mod template;
mod watcher;
mod webhook;
mod words;

pub use backoff::next_try;
pub use endpoint::{EndpointError, http_client};
pub use health::{Trouble, Troubles};
pub use heartbeat::Heartbeat;
pub use item::{Failure, Item, Outbox, Step, Way};
pub use mail::{Mail, MailError, MailServer, MailSettings, Tls, mail};
pub use run::run;
pub use secret::Secret;
pub use sign::sign;
pub use template::TemplateError;
pub use watcher::Watcher;
pub use webhook::{Method, Webhook, WebhookError, WebhookSettings, webhook};
