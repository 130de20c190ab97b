//! One receiver by HTTP, signed as in Standard Webhooks.

use crate::sign::sign;
use crate::{Failure, Item, Secret, Step, Way};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use reqwest::{Client, StatusCode, Url, redirect};
use std::sync::Arc;
use std::time::Duration;

/// Where to post and how to sign.
#[derive(Debug, Clone)]
pub struct WebhookSettings {
    /// `http://` or `https://` address.
    pub url: String,
    /// `whsec_` and the base64 of 24 to 64 bytes.
    pub secret: Secret,
    /// How long one try may take in all.
    pub timeout: Duration,
}

impl WebhookSettings {
    /// With a timeout of five seconds.
    pub fn new(url: String, secret: String) -> Self {
        Self { url, secret: secret.into(), timeout: Duration::from_secs(5) }
    }
}

/// Settings that will not do. The secret is never part of the words.
#[derive(Debug, thiserror::Error)]
pub enum WebhookError {
    /// Not an address.
    #[error("url {0:?} is no http address; write it as https://example.org/alarms")]
    Url(String),
    /// Not a secret.
    #[error(
        "secret_file does not hold a signing secret; write whsec_ and the base64 of 24 to 64 bytes, e.g. from `openssl rand -base64 32`"
    )]
    Secret,
    /// No client.
    #[error("no http client can be made: {0}; check the system's certificates")]
    Client(String),
}

/// One receiver.
pub struct Webhook {
    client: Client,
    url: Url,
    key: Arc<[u8]>,
    timeout: Duration,
}

/// A receiver from its settings.
///
/// # Errors
/// [`WebhookError`] naming the field and the cure.
pub fn webhook(settings: WebhookSettings) -> Result<Webhook, WebhookError> {
    let url =
        Url::parse(&settings.url).ok().filter(|u| matches!(u.scheme(), "http" | "https") && u.has_host());
    let url = url.ok_or(WebhookError::Url(settings.url))?;
    let key = key(settings.secret.expose()).ok_or(WebhookError::Secret)?;
    // Another part of the program may have installed it already.
    let _ = rustls::crypto::ring::default_provider().install_default();
    let client = Client::builder()
        .no_proxy()
        .redirect(redirect::Policy::none())
        .user_agent(concat!("hatchwarden/", env!("CARGO_PKG_VERSION")))
        .build()
        .map_err(|e| WebhookError::Client(e.to_string()))?;
    Ok(Webhook { client, url, key: key.into(), timeout: settings.timeout })
}

fn key(secret: &str) -> Option<Vec<u8>> {
    let bytes = STANDARD.decode(secret.strip_prefix("whsec_")?).ok()?;
    (24..=64).contains(&bytes.len()).then_some(bytes)
}

impl Way for Webhook {
    fn name(&self) -> &'static str {
        "webhook"
    }

    fn deliver(&self, item: &Item, unix_seconds: i64) -> Step<Result<(), Failure>> {
        let host = self.url.host_str().unwrap_or_default().to_owned();
        let post = self
            .client
            .post(self.url.clone())
            .header("content-type", "application/json")
            .header("webhook-id", &item.id)
            .header("webhook-timestamp", unix_seconds)
            .header("webhook-signature", sign(&self.key, &item.id, unix_seconds, &item.body))
            .body(item.body.clone())
            .send();
        let timeout = self.timeout;
        Box::pin(async move {
            match tokio::time::timeout(timeout, post).await {
                Ok(Ok(answer)) => judge(answer.status(), retry_after(&answer), &host),
                // The address can hold a key in its query, so it stays out of the words.
                Ok(Err(e)) => later(format!("{host} cannot be reached: {}", root(&e.without_url())), None),
                Err(_) => later(format!("{host} did not answer within {} s", timeout.as_secs_f32()), None),
            }
        })
    }
}

fn later(reason: String, after: Option<Duration>) -> Result<(), Failure> {
    Err(Failure::Later { reason, after })
}

fn judge(status: StatusCode, after: Option<Duration>, host: &str) -> Result<(), Failure> {
    match status {
        s if s.is_success() => Ok(()),
        s if s.is_redirection() => later(
            format!("{host} answers {s}: redirects are not followed; put the new address into [webhook] url"),
            None,
        ),
        StatusCode::GONE => {
            Err(Failure::Never(format!("{host} answers {status}: it wants no more of these")))
        }
        s => later(format!("{host} answers {s}"), after),
    }
}

/// Longest wish to be left alone that is granted: an alarm grows old.
const LONGEST_WISH: Duration = Duration::from_secs(600);

/// Seconds of a Retry-After header (RFC 9110, 10.2.3); a date in it is not read.
fn retry_after(answer: &reqwest::Response) -> Option<Duration> {
    let seconds = answer.headers().get("retry-after")?.to_str().ok()?.trim().parse().ok()?;
    Some(Duration::from_secs(seconds).min(LONGEST_WISH))
}

/// The innermost reason, which is the one that helps.
fn root(e: &reqwest::Error) -> String {
    let mut reason: &dyn std::error::Error = e;
    while let Some(inner) = reason.source() {
        reason = inner;
    }
    reason.to_string()
}
