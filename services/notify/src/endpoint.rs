//! An address that is asked by HTTP, and its client.

use crate::address::shown;
use reqwest::{Client, RequestBuilder, Url, redirect};
use std::time::Duration;
use tokio::time::timeout;

/// Longest wait for the answer to a sign of life, ours or another's.
const PATIENCE: Duration = Duration::from_secs(10);

/// An address that will not do. What may be secret in it is no part of the words.
#[derive(Debug, thiserror::Error)]
pub enum EndpointError {
    /// Not an address.
    #[error("url {0:?} is no http address; write it as https://example.org/alarms")]
    Url(String),
    /// No client.
    #[error("no http client can be made: {0}; check the system's certificates")]
    Client(String),
}

/// A client for HTTP that takes no way around: no proxy, no redirects.
///
/// # Errors
/// [`EndpointError::Client`] when the system has no certificates.
pub fn http_client() -> Result<Client, EndpointError> {
    // Another part of the program may have installed it already.
    let _ = rustls::crypto::ring::default_provider().install_default();
    Client::builder()
        .no_proxy()
        .redirect(redirect::Policy::none())
        .user_agent(concat!("hatchwarden/", env!("CARGO_PKG_VERSION")))
        .build()
        .map_err(|e| EndpointError::Client(e.to_string()))
}

/// Where to ask, and with what: no proxy, no redirects.
pub(crate) struct Endpoint {
    pub(crate) client: Client,
    pub(crate) url: Url,
    /// Host and port, as they are written in messages.
    pub(crate) at: String,
}

impl Endpoint {
    pub(crate) fn new(text: &str) -> Result<Self, EndpointError> {
        let url = Url::parse(text).ok().filter(|u| matches!(u.scheme(), "http" | "https") && u.has_host());
        let url = url.ok_or_else(|| EndpointError::Url(shown(text)))?;
        let client = http_client()?;
        let host = url.host_str().unwrap_or_default();
        let at = url.port().map_or_else(|| host.to_owned(), |port| format!("{host}:{port}"));
        Ok(Self { client, url, at })
    }

    /// Whether the answer is one of the 200s; if not, why not.
    pub(crate) async fn agrees(&self, request: RequestBuilder) -> Result<(), String> {
        let at = &self.at;
        match timeout(PATIENCE, request.send()).await {
            Ok(Ok(answer)) if answer.status().is_success() => Ok(()),
            Ok(Ok(answer)) if answer.status().is_redirection() => Err(format!(
                "{at} answers {}: redirects are not followed; write the new address",
                answer.status()
            )),
            Ok(Ok(answer)) => Err(format!("{at} answers {}", answer.status())),
            Ok(Err(e)) => Err(format!("{at} cannot be reached: {}", root(e))),
            Err(_) => Err(format!("{at} did not answer within {} s", PATIENCE.as_secs())),
        }
    }
}

/// The innermost reason, which is the one that helps. The address can hold a key in its query, so it stays out.
pub(crate) fn root(e: reqwest::Error) -> String {
    let e = e.without_url();
    let mut reason: &dyn std::error::Error = &e;
    while let Some(inner) = reason.source() {
        reason = inner;
    }
    reason.to_string()
}
