//! What is posted.

use super::{WebhookError, WebhookSettings};
use crate::Item;
use crate::template::Template;
use crate::words::Words;
use serde_json::Value;

/// A body, and what went wrong in making it.
pub(super) struct Body {
    pub(super) text: String,
    /// The template's mistake: the text is then the bare words instead, since an alarm must leave in any case.
    pub(super) mistake: Option<String>,
}

impl Body {
    /// The item's own JSON, or what the template makes of it.
    pub(super) fn of(item: &Item, template: Option<&Template>) -> Self {
        let Some(template) = template else { return Self { text: item.body.clone(), mistake: None } };
        let json: Result<Value, _> = serde_json::from_str(&item.body);
        let made = json.map_err(|e| format!("the message is no JSON: {e}"));
        match made.and_then(|json| template.render(&json).map_err(|e| e.to_string())) {
            Ok(text) => Self { text, mistake: None },
            Err(mistake) => Self { text: bare(&item.body), mistake: Some(mistake) },
        }
    }
}

fn bare(body: &str) -> String {
    let words = Words::of(body);
    format!("{}\n\n{}", words.subject, words.message)
}

/// A template that parses, makes a body of every example, and makes JSON where that is what the body is said to be.
pub(super) fn tried(settings: &WebhookSettings) -> Result<Option<Template>, WebhookError> {
    let Some(source) = &settings.template else { return Ok(None) };
    let template = Template::new(source)?;
    for example in &settings.examples {
        let example = serde_json::from_str(example).map_err(|e| WebhookError::Example(e.to_string()))?;
        let body = template.render(&example)?;
        if is_json(&settings.content_type) {
            parses(&body, &settings.content_type)?;
        }
    }
    Ok(Some(template))
}

/// `application/json` and the `+json` types of RFC 6839.
fn is_json(content_type: &str) -> bool {
    let essence = content_type.split(';').next().unwrap_or_default().trim().to_ascii_lowercase();
    essence == "application/json" || essence.ends_with("+json")
}

fn parses(body: &str, content_type: &str) -> Result<(), WebhookError> {
    let read: Result<Value, _> = serde_json::from_str(body);
    let Err(e) = read else { return Ok(()) };
    let said = e.to_string();
    let reason = said.split(" at line ").next().unwrap_or(&said).to_owned();
    Err(WebhookError::NotJson { content_type: content_type.to_owned(), line: e.line(), reason })
}
