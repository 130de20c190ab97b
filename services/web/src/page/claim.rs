//! The form that says what a topic is.

use super::form::{Entry, Field, Kind, by};
use super::{Tab, shell};
use crate::keeper::Keeper;
use axum::response::Html;
use maud::{Markup, html};
use readings::trial::Tried;
use units::Quantity;

/// Name of the form.
pub(crate) const FORM: &str = "claim";
/// Fields that go into the entry as they are, and those that are more than text.
pub(crate) const TEXTS: [&str; 15] = [
    "topic", "says", "vessel", "quantity", "mark", "device", "format", "pointer", "time", "age", "sequence",
    "unit_at", "name", "key", "unit",
];
/// Whole and other numbers.
pub(crate) const NUMBERS: [&str; 2] = ["column", "scale"];

fn pairs(all: &[(&str, &str)]) -> Vec<(String, String)> {
    all.iter().map(|(v, w)| ((*v).to_owned(), (*w).to_owned())).collect()
}

fn says() -> Kind {
    Kind::Choice(pairs(&[
        ("reading", "a reading"),
        ("availability", "whether a device is online"),
        ("sign-of-life", "a sign of life, no reading"),
    ]))
}

fn formats() -> Kind {
    Kind::Choice(pairs(&[
        ("plain", "the bare number"),
        ("json", "JSON"),
        ("senml", "SenML, JSON or CBOR"),
        ("words", "a word"),
        ("list", "a comma list"),
        ("key-value", "key=value pairs"),
        ("float32-le", "four bytes, a float, little-endian"),
    ]))
}

fn fields(keeper: &dyn Keeper, topic: &str) -> Vec<Field<'static>> {
    let vessels = std::iter::once((String::new(), "none".to_owned()))
        .chain(keeper.vessels().iter().map(|v| (v.to_string(), v.to_string())))
        .collect();
    let quantities = std::iter::once((String::new(), "none".to_owned()))
        .chain(Quantity::ALL.iter().map(|q| (q.to_string(), format!("{q}, {}", q.unit()))))
        .collect();
    let text = |name, label| Field::new(name, label, Kind::Text).optional();
    vec![
        Field::new("topic", "Topic", Kind::Text).preset(topic.to_owned()),
        Field::new("says", "What it says", says()),
        Field::new("vessel", "Vessel it measures", Kind::Choice(vessels)).optional(),
        Field::new("quantity", "What it measures", Kind::Choice(quantities)).optional(),
        text("mark", "Mark").hint("Only for a second probe of the same quantity"),
        text("device", "Device that sends it"),
        Field::new("format", "Payload", formats()),
        text("pointer", "Where the value is, in JSON").hint("For example /sensors[id=28-00b7]/c"),
        text("time", "Where its time is, in JSON"),
        text("age", "Where its age in seconds is, in JSON"),
        text("sequence", "Where its running number is, in JSON"),
        text("unit_at", "Where its unit is, in JSON"),
        text("name", "Name of the SenML record"),
        text("words", "Words and their values").hint("For example ON=1, OFF=0"),
        text("column", "Item of the list, counted from 0"),
        text("key", "Key of the pair"),
        text("unit", "Unit it is sent in").hint("Without one: the unit of the quantity"),
        text("scale", "Factor before the unit").hint("For example 0.001 for thousandths"),
        by(),
    ]
}

fn outcome(t: &Tried) -> Markup {
    let place = t.place.as_deref().unwrap_or_default();
    html! { li {
        b { (place) } " "
        @match (t.value, t.reason) {
            (_, Some(reason)) => { span.bad { "would be refused: " (reason) } }
            (Some(value), None) => {
                "would read " (value) " " (t.unit.as_deref().unwrap_or_default())
                @if let Some(time) = t.time { ", measured " (time) }
                @if let Some(flag) = t.flag { " (" (flag) ")" }
            }
            (None, None) => "would say nothing",
        }
    } }
}

fn tried(all: Option<&[Tried]>) -> Markup {
    html! { @if let Some(all) = all {
        section role="status" aria-labelledby="h-tried" {
            h2 #h-tried { "On the last payload" }
            ul.said { @for t in all { (outcome(t)) } }
            p { "Nothing is saved yet." }
        }
    } }
}

/// The page; `results` are those of a trial.
pub(crate) fn page(
    keeper: &dyn Keeper,
    topic: &str,
    entry: &Entry,
    results: Option<&[Tried]>,
) -> Html<String> {
    let fields = fields(keeper, topic);
    let names: Vec<&str> = fields.iter().map(|f| f.name).collect();
    let main = html! {
        main.plain {
            h1 { "Say what a topic is." }
            (tried(results))
            form.record method="post" action="/probes/claim" {
                (entry.stray(FORM, &names))
                @for f in &fields { (f.draw(FORM, entry)) }
                button type="submit" name="do" value="try" { "Try it on the last payload" }
                button type="submit" name="do" value="save" { "Save it" }
            }
            p { a.go href="/probes" { "Back to the probes" } }
        }
    };
    shell("Map a topic", Tab::Probes, &main)
}
