//! Where and how to post.

use crate::Secret;
use crate::address::shown;
use crate::endpoint::EndpointError;
use crate::template::TemplateError;
use std::fmt;
use std::time::Duration;

/// How long one try may take in all. A planning value.
const TIMEOUT: Duration = Duration::from_secs(5);

/// How a message is sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Method {
    /// As Standard Webhooks has it.
    #[default]
    Post,
    /// Some receivers want it.
    Put,
}

/// Where to post and how to sign. Prints without secrets and the query of the address.
#[derive(Clone)]
pub struct WebhookSettings {
    /// Name of the way, as items give it.
    pub name: String,
    /// `http://` or `https://` address.
    pub url: String,
    /// `whsec_` and the base64 of 24 to 64 bytes. Without it nothing is signed.
    pub secret: Option<Secret>,
    /// How long one try may take in all.
    pub timeout: Duration,
    /// POST or PUT.
    pub method: Method,
    /// What the body is said to be.
    pub content_type: String,
    /// Further headers by name. Their values are never shown: they may be keys.
    pub headers: Vec<(String, Secret)>,
    /// Jinja template of the body, from the item's JSON; without one the body is that JSON. The filter `json` writes a value as JSON.
    pub template: Option<String>,
    /// Bodies of items (JSON) that the template is tried on when the webhook is made, the fullest and the barest: what none of
    /// them lacks can be relied on.
    pub examples: Vec<String>,
}

impl WebhookSettings {
    /// A POST of JSON with a timeout of five seconds, no template and no further headers. The examples are an alarm of a vessel and one
    /// of the service itself.
    pub fn new(name: String, url: String, secret: Option<Secret>) -> Self {
        let examples = [include_str!("../example/alarm.json"), include_str!("../example/service.json")];
        Self {
            name,
            url,
            secret,
            timeout: TIMEOUT,
            method: Method::default(),
            content_type: "application/json".to_owned(),
            headers: Vec::new(),
            template: None,
            examples: examples.map(str::to_owned).into(),
        }
    }
}

impl fmt::Debug for WebhookSettings {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("WebhookSettings")
            .field("name", &self.name)
            .field("url", &shown(&self.url))
            .field("secret", &self.secret)
            .field("timeout", &self.timeout)
            .field("method", &self.method)
            .field("content_type", &self.content_type)
            .field("headers", &self.headers)
            .field("template", &self.template)
            .finish_non_exhaustive()
    }
}

/// Settings that will not do. No secret, and nothing that may be secret in the address, is part of the words.
#[derive(Debug, thiserror::Error)]
pub enum WebhookError {
    /// The address.
    #[error(transparent)]
    Endpoint(#[from] EndpointError),
    /// Not a secret.
    #[error(
        "secret_file does not hold a signing secret; write whsec_ and the base64 of 24 to 64 bytes, e.g. from `openssl rand -base64 32`"
    )]
    Secret,
    /// Not a content type.
    #[error("content_type {0:?} cannot be sent in a header; write one like \"application/json\"")]
    ContentType(String),
    /// A name that no header has.
    #[error(
        "headers {0:?} is no name of a header; write letters, digits and hyphens, e.g. \"Authorization\""
    )]
    HeaderName(String),
    /// A header that is set already.
    #[error("headers {0:?} is set by the service itself; leave it out{1}")]
    HeaderTaken(String, &'static str),
    /// A value that no header can have.
    #[error(
        "the value of headers {0:?} holds characters that a header cannot carry; write it in one line of plain ASCII"
    )]
    HeaderValue(String),
    /// A mistake in the template.
    #[error(transparent)]
    Template(#[from] TemplateError),
    /// The content type says JSON, and the template makes none.
    #[error(
        "template makes no JSON ({reason} in line {line} of the body), though content_type says {content_type:?}; write values with the filter json, as in {{\"text\": {{{{ data.subject | json }}}}}}, or correct content_type"
    )]
    NotJson {
        /// As it is set.
        content_type: String,
        /// Line of the body that was made, counted from 1.
        line: usize,
        /// What a reader of JSON finds there.
        reason: String,
    },
    /// An example that is none.
    #[error("an example is no JSON ({0}); this is a fault of ours, please report it")]
    Example(String),
}
