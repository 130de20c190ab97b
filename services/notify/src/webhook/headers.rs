//! Headers that the keeper adds.

use super::WebhookError;
use crate::Secret;
use reqwest::header::{HeaderMap, HeaderName, HeaderValue};

/// Headers ready to be sent; none that is the service's own.
pub(super) fn headers(content_type: &str, wanted: &[(String, Secret)]) -> Result<HeaderMap, WebhookError> {
    let mut headers = HeaderMap::new();
    let content_type =
        content_type.parse().map_err(|_| WebhookError::ContentType(content_type.to_owned()))?;
    headers.insert("content-type", content_type);
    for (text, value) in wanted {
        let name: HeaderName = text.parse().map_err(|_| WebhookError::HeaderName(text.clone()))?;
        if let Some(hint) = taken(name.as_str()) {
            return Err(WebhookError::HeaderTaken(text.clone(), hint));
        }
        let value = HeaderValue::from_str(value.expose().trim());
        let mut value = value.map_err(|_| WebhookError::HeaderValue(text.clone()))?;
        value.set_sensitive(true);
        headers.append(name, value);
    }
    Ok(headers)
}

/// What to do instead, for a name that is the service's own.
fn taken(name: &str) -> Option<&'static str> {
    match name {
        "content-type" => Some(" and write content_type instead"),
        "host" => Some(" and write the host into url"),
        "webhook-id" | "webhook-timestamp" | "webhook-signature" => Some(""),
        "content-length" | "transfer-encoding" | "connection" => Some(""),
        _ => None,
    }
}
