//! Bodies in the form that a receiver wants, from a template of the Jinja kind.

use minijinja::{AutoEscape, Environment, Error, ErrorKind, UndefinedBehavior, Value};
use std::io::{self, Write};

/// Instructions that a template may take; one of ten values takes about fifty. A planning value.
const FUEL: u64 = 20_000;
/// The most bytes of a body. A planning value: chat services refuse far shorter ones.
const LONGEST: usize = 64 * 1024;
/// The most bytes of a template itself. A planning value.
const LONGEST_TEMPLATE: usize = 16 * 1024;
/// The most characters of a line that an error quotes.
const LONGEST_QUOTED: usize = 120;
const NAME: &str = "template";

/// A template that will not do, or that failed on an item.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("template line {line}: {reason}; {cure}")]
pub struct TemplateError {
    /// Counted from 1.
    pub line: usize,
    /// What is wrong there.
    pub reason: String,
    /// What to write instead.
    pub cure: &'static str,
}

/// A template that parses.
#[derive(Debug)]
pub(crate) struct Template {
    environment: Environment<'static>,
    source: String,
}

impl Template {
    pub(crate) fn new(source: &str) -> Result<Self, TemplateError> {
        if source.len() > LONGEST_TEMPLATE {
            let reason = format!("the template is {} bytes long", source.len());
            return Err(TemplateError { line: 1, reason, cure: "write one of at most 16 KiB" });
        }
        let mut environment = Environment::new();
        environment.set_auto_escape_callback(|_| AutoEscape::None);
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        environment.set_fuel(Some(FUEL));
        environment.add_filter("json", json);
        let parsed = environment.add_template_owned(NAME, source.to_owned());
        parsed.map_err(|e| told(&e, source))?;
        Ok(Self { environment, source: source.to_owned() })
    }

    /// The body for an item.
    pub(crate) fn render(&self, item: &serde_json::Value) -> Result<String, TemplateError> {
        let mut body = Bounded(Vec::new());
        let template = self.environment.get_template(NAME);
        template
            .and_then(|t| t.render_captured_to(item, &mut body).map(|_| ()))
            .map_err(|e| told(&e, &self.source))?;
        // Only whole pieces of text are written, so it is text.
        Ok(String::from_utf8_lossy(&body.0).into_owned())
    }
}

/// The value as JSON: text in quotation marks, with everything in it that JSON wants escaped.
fn json(value: &Value) -> Result<String, Error> {
    if value.is_undefined() {
        return Err(Error::from(ErrorKind::UndefinedError));
    }
    serde_json::to_string(value).map_err(|e| Error::new(ErrorKind::BadSerialization, e.to_string()))
}

/// Takes a body of bounded length.
struct Bounded(Vec<u8>);

impl Write for Bounded {
    fn write(&mut self, piece: &[u8]) -> io::Result<usize> {
        if self.0.len() + piece.len() > LONGEST {
            return Err(io::Error::other("the body grows over 64 KiB"));
        }
        self.0.extend_from_slice(piece);
        Ok(piece.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn told(e: &Error, source: &str) -> TemplateError {
    let mut reason = e.detail().map_or_else(|| e.kind().to_string(), |d| format!("{}: {d}", e.kind()));
    if let Some(inner) = std::error::Error::source(e) {
        reason = format!("{reason}: {inner}");
    }
    let line = e.line().unwrap_or(1);
    let written = source.lines().nth(line.saturating_sub(1)).unwrap_or_default().trim();
    if !written.is_empty() && written.chars().count() <= LONGEST_QUOTED {
        reason = format!("{reason} in `{written}`");
    }
    TemplateError { line, reason, cure: cure(e.kind()) }
}

fn cure(kind: ErrorKind) -> &'static str {
    match kind {
        ErrorKind::UndefinedError => {
            "messages have no such value; see the manual for what they hold, or write `| default(\"\")` behind it"
        }
        ErrorKind::UnknownFilter => {
            "use json, default, upper, lower, replace, trim, join or another filter of Jinja"
        }
        ErrorKind::OutOfFuel => "leave out long loops",
        ErrorKind::WriteFailure => "shorten it",
        _ => "correct the template, e.g. {\"text\": {{ data.subject | json }}}",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn rendered(template: &str) -> Result<String, TemplateError> {
        let item = json!({
            "type": "alarm.raised",
            "data": { "subject": "TU3 \"back row\"\nlies still", "vessel": null, "priority": 1, "c": 25.0 }
        });
        Template::new(template)?.render(&item)
    }

    #[test]
    fn values_stand_as_they_are_and_as_json() {
        assert_eq!(
            rendered("{{ type }}: {{ data.subject }}").unwrap(),
            "alarm.raised: TU3 \"back row\"\nlies still"
        );
        let body = rendered(r#"{"text": {{ data.subject | json }}, "n": {{ data | json }}}"#).unwrap();
        let body: serde_json::Value = serde_json::from_str(&body).unwrap();
        assert_eq!(body["text"], "TU3 \"back row\"\nlies still");
        assert_eq!(
            body["n"],
            json!({"subject": "TU3 \"back row\"\nlies still", "vessel": null, "priority": 1, "c": 25.0})
        );
        assert_eq!(
            rendered("{{ data.subject | json }}<&'>").unwrap(),
            "\"TU3 \\\"back row\\\"\\nlies still\"<&'>"
        );
    }

    #[test]
    fn conditions_and_defaults_work() {
        assert_eq!(
            rendered("{% if data.vessel %}at {{ data.vessel }}{% else %}room{% endif %}").unwrap(),
            "room"
        );
        assert_eq!(rendered("{{ data.clutch | default('none') }}{{ data.priority }}").unwrap(), "none1");
    }

    #[test]
    fn mistakes_name_their_line_and_a_cure() {
        for (template, line, reason, cure) in [
            ("a\n{{ data.subjct }}", 2, "data.subjct", "no such value"),
            ("a\nb\n{{ data.subjct | json }}", 3, "undefined", "default"),
            ("{{ data.subject | jason }}", 1, "jason", "use json"),
            ("a\n{% if data.vessel %}", 2, "unexpected end of input", "correct the template"),
            ("{{ data.subject", 1, "syntax error", "correct the template"),
            ("{% for i in range(90000) %}{% endfor %}", 1, "fuel", "loops"),
            ("{% for i in range(900) %}{{ 'x' * 100 }}{% endfor %}", 1, "over 64 KiB", "shorten"),
        ] {
            let said = rendered(template).unwrap_err();
            let words = said.to_string();
            assert_eq!(said.line, line, "{words}");
            assert!(words.contains(reason) && words.contains(cure), "{words}");
        }
        assert!(rendered(&"x".repeat(20_000)).unwrap_err().to_string().contains("at most 16 KiB"));
    }
}
