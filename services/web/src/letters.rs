//! Letters that turn the direction of others, or cannot be seen: one of them in a name makes it look like another, and turns what
//! stands behind it on the page (Unicode UAX 9, 2; the attacks are in Unicode TR 36).

use crate::keeper::Trouble;
use serde_json::{Map, Value};

fn turns(letter: char) -> bool {
    let written = matches!(letter, '\t' | '\n' | '\r');
    (letter.is_control() && !written) || matches!(letter, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Refuses a text of a field that has such a letter. Right-to-left writing itself needs none of them.
pub(crate) fn straight(field: &str, text: &str) -> Result<(), Trouble> {
    match text.chars().find(|c| turns(*c)) {
        None => Ok(()),
        Some(letter) => Err(Trouble::Refused {
            field: field.to_owned(),
            reason: format!(
                "it has the letter U+{:04X}, which cannot be seen and turns what stands behind it; take it out",
                u32::from(letter)
            ),
        }),
    }
}

/// The same for everything in a body. What a device has sent may hold anything: `payload` is only tried.
pub(crate) fn all_straight(sent: &Map<String, Value>) -> Result<(), Trouble> {
    sent.iter().filter(|(field, _)| *field != "payload").try_for_each(|(field, value)| {
        straight(field, field)?;
        value_straight(field, value)
    })
}

fn value_straight(field: &str, value: &Value) -> Result<(), Trouble> {
    match value {
        Value::String(text) => straight(field, text),
        Value::Array(all) => all.iter().try_for_each(|v| value_straight(field, v)),
        Value::Object(all) => all_straight(all),
        Value::Null | Value::Bool(_) | Value::Number(_) => Ok(()),
    }
}
