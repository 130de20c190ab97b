//! Fields of a form, with the entered values kept and the message beside the field that will not do.

use crate::access::who;
use maud::{Markup, html};
use std::collections::BTreeMap;

/// What was entered, and what was wrong with it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Entry {
    /// Which form of the page it came from: the `what` of a record.
    pub form: String,
    /// Values by field.
    pub values: BTreeMap<String, String>,
    /// The field and the message.
    pub fault: Option<(String, String)>,
}

impl Entry {
    fn value(&self, form: &str, name: &str, preset: &str) -> String {
        let kept = (self.form == form).then(|| self.values.get(name)).flatten();
        kept.cloned().unwrap_or_else(|| preset.to_owned())
    }

    fn fault_of(&self, form: &str, name: &str) -> Option<&str> {
        self.fault.as_ref().filter(|(f, _)| self.form == form && f == name).map(|(_, m)| m.as_str())
    }

    /// The message of a field that this form does not have.
    pub(crate) fn stray(&self, form: &str, fields: &[&str]) -> Markup {
        let stray = self.fault.as_ref().filter(|(f, _)| self.form == form && !fields.contains(&f.as_str()));
        html! { @if let Some((field, message)) = stray { p.fault role="alert" { (field) ": " (message) } } }
    }
}

/// What kind of control a field is.
#[derive(Debug, Clone)]
pub(crate) enum Kind {
    /// A line of text.
    Text,
    /// A password, and what a password keeper may fill in there.
    Secret(&'static str),
    /// Several lines of text.
    Lines,
    /// A date and time of the room's clock.
    When,
    /// A whole number, 0 or more.
    Count,
    /// A number with decimals.
    Decimal,
    /// One of these: value and words.
    Choice(Vec<(String, String)>),
}

/// One field.
#[derive(Debug, Clone)]
pub(crate) struct Field<'a> {
    /// Name in the form.
    pub name: &'a str,
    /// Label.
    pub label: &'a str,
    /// What stands below the label, or nothing.
    pub hint: &'a str,
    /// Control.
    pub kind: Kind,
    /// Whether it may not be empty.
    pub required: bool,
    /// Value of a fresh form.
    pub preset: String,
}

impl<'a> Field<'a> {
    /// A required field without hint or preset.
    pub(crate) fn new(name: &'a str, label: &'a str, kind: Kind) -> Self {
        Self { name, label, hint: "", kind, required: true, preset: String::new() }
    }

    /// With words below the label.
    pub(crate) fn hint(mut self, hint: &'a str) -> Self {
        self.hint = hint;
        self
    }

    /// With a first value.
    pub(crate) fn preset(mut self, value: String) -> Self {
        self.preset = value;
        self
    }

    /// May be left empty.
    pub(crate) fn optional(mut self) -> Self {
        self.required = false;
        self
    }

    /// Draws label, control and message.
    pub(crate) fn draw(&self, form: &str, entry: &Entry) -> Markup {
        // Whoever is signed in need not say who it is.
        if let Some(name) = who::name().filter(|_| self.name == "by") {
            return html! { p.soft { "By " bdi { (name) } "." } };
        }
        let id = format!("{form}-{}", self.name);
        let (note, hint) = (format!("{id}-fault"), format!("{id}-hint"));
        let fault = entry.fault_of(form, self.name);
        let value = entry.value(form, self.name, &self.preset);
        let told = match (fault.is_some(), self.hint.is_empty()) {
            (true, true) => Some(note.clone()),
            (true, false) => Some(format!("{note} {hint}")),
            (false, false) => Some(hint.clone()),
            (false, true) => None,
        };
        let bad = fault.is_some().then_some("true");
        html! {
            div.field {
                label for=(id) { (self.label) @if !self.required { span.soft { " (may stay empty)" } } }
                @if !self.hint.is_empty() { p.soft id=(hint) { (self.hint) } }
                @match &self.kind {
                    Kind::Choice(options) => select id=(id) name=(self.name) required[self.required] aria-describedby=[told] aria-invalid=[bad] {
                        @for (v, words) in options { option value=(v) selected[*v == value] { (words) } }
                    },
                    Kind::Text => input type="text" id=(id) name=(self.name) value=(value) required[self.required] aria-describedby=[told] aria-invalid=[bad] autocomplete="off";,
                    Kind::Secret(filled) => input type="password" id=(id) name=(self.name) required[self.required] aria-describedby=[told] aria-invalid=[bad] autocomplete=(filled);,
                    Kind::Lines => textarea id=(id) name=(self.name) rows="12" spellcheck="false" autocapitalize="off" required[self.required] aria-describedby=[told] aria-invalid=[bad] { (value) },
                    Kind::When => input type="datetime-local" id=(id) name=(self.name) value=(value) required[self.required] aria-describedby=[told] aria-invalid=[bad];,
                    Kind::Decimal => input type="text" inputmode="decimal" id=(id) name=(self.name) value=(value) required[self.required] aria-describedby=[told] aria-invalid=[bad] autocomplete="off";,
                    Kind::Count => input type="number" min="0" step="1" inputmode="numeric" id=(id) name=(self.name) value=(value) required[self.required] aria-describedby=[told] aria-invalid=[bad];,
                }
                @if let Some(message) = fault { p.fault id=(note) role="alert" { (message) } }
            }
        }
    }
}

/// Who does it; kept by the script for the next time.
pub(crate) fn by() -> Field<'static> {
    Field::new("by", "Your name", Kind::Text).optional()
}
