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
        Field::new("vessel", "Vessel it measures", Kind::Choice(vessels))
            .hint("A reading needs one")
            .optional(),
        Field::new("quantity", "What it measures", Kind::Choice(quantities))
            .hint("A reading needs one")
            .optional(),
        Field::new("format", "Payload", formats()),
        text("pointer", "Where the value is, in JSON").hint("For example /sensors[id=28-00b7]/c"),
        text("name", "Name of the SenML record"),
        text("words", "Words and their values").hint("For example ON=1, OFF=0"),
        text("column", "Item of the list, counted from 0"),
        text("key", "Key of the pair"),
        text("unit", "Unit it is sent in").hint("Without one: the unit of the quantity"),
        text("scale", "Factor before the unit").hint("For example 0.001 for thousandths"),
    ]
}

fn rarer() -> Vec<Field<'static>> {
    let text = |name, label| Field::new(name, label, Kind::Text).optional();
    vec![
        text("mark", "Mark").hint("Only for a second probe of the same quantity"),
        text("device", "Device that sends it").hint("Availability and signs of life need one"),
        text("time", "Where its time is, in JSON"),
        text("age", "Where its age in seconds is, in JSON"),
        text("sequence", "Where its running number is, in JSON"),
        text("unit_at", "Where its unit is, in JSON"),
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

/// What a form begins with, and what came of it.
#[derive(Default)]
pub(crate) struct Claim<'a> {
    /// The topic.
    pub topic: &'a str,
    /// Its last payload, if it has been heard.
    pub payload: Option<&'a str>,
    /// What was entered.
    pub entry: Entry,
    /// What a trial found.
    pub results: Option<Vec<Tried>>,
}

/// The page.
pub(crate) fn page(keeper: &dyn Keeper, claim: &Claim<'_>) -> Html<String> {
    let (entry, fields, rarer) = (&claim.entry, fields(keeper, claim.topic), rarer());
    let names: Vec<&str> = fields.iter().chain(&rarer).map(|f| f.name).chain(["by"]).collect();
    let used = rarer.iter().any(|f| {
        entry.values.get(f.name).is_some_and(|v| !v.is_empty())
            || entry.fault.as_ref().is_some_and(|(field, _)| field == f.name)
    });
    let main = html! {
        main.plain {
            h1 { "Say what a topic is." }
            @if let Some(payload) = claim.payload { p { "Last payload: " code { (payload) } } }
            (tried(claim.results.as_deref()))
            form.record method="post" action="/probes/claim" {
                (entry.stray(FORM, &names))
                @for f in &fields { (f.draw(FORM, entry)) }
                details open[used] {
                    summary { "Rarely needed" }
                    @for f in &rarer { (f.draw(FORM, entry)) }
                }
                (by().draw(FORM, entry))
                p.two {
                    button type="submit" name="do" value="try" { "Try it on the last payload" }
                    button type="submit" name="do" value="save" { "Save it" }
                }
            }
            p { a.go href="/probes" { "Back to the probes" } }
        }
    };
    shell("Map a topic", Tab::Probes, &main)
}
