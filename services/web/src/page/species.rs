//! Species entries: what each says and from where, and the forms for one of one's own.

use super::clutch::figures;
use super::form::{Entry, Field, Kind, by};
use super::{Clock, Tab, shell};
use crate::species::{EntryFrom, SpeciesView};
use crate::words;
use axum::response::Html;
use maud::{Markup, html};

/// Name of the form of days.
pub(crate) const PLAIN: &str = "days";
/// Name of the form of text.
pub(crate) const TEXT: &str = "text";
/// Fields of the form of days.
pub(crate) const FIELDS: [&str; 17] = [
    "key",
    "name",
    "mouthbrooder",
    "hatch_days",
    "hatch_celsius",
    "free_swimming_days",
    "free_swimming_celsius",
    "release_days",
    "release_celsius",
    "spread_percent",
    "base_low",
    "base_likely",
    "base_high",
    "source",
    "how",
    "by",
    "what",
];

fn pairs(all: &[(&str, &str)]) -> Vec<(String, String)> {
    all.iter().map(|(v, w)| ((*v).to_owned(), (*w).to_owned())).collect()
}

fn hows() -> Kind {
    Kind::Choice(pairs(&[
        ("observed", "seen by yourself and written down"),
        ("read", "read in the work itself"),
        ("read (secondary)", "read in a work that quotes it"),
        ("abstract", "read in an abstract"),
        ("memory", "from memory"),
        ("hobby page", "on a page of keepers"),
        ("common practice", "what keepers say"),
    ]))
}

fn fields() -> Vec<Field<'static>> {
    let days = |name, label| Field::new(name, label, Kind::Decimal).optional();
    vec![
        Field::new("name", "Name", Kind::Text).hint("As people say it, e.g. Tropheus moorii (blunthead)"),
        Field::new("key", "Key", Kind::Text)
            .hint("a-z, 0-9 and hyphens, e.g. tropheus-moorii. A key that exists is replaced"),
        Field::new(
            "mouthbrooder",
            "Where it broods",
            Kind::Choice(pairs(&[("true", "in the mouth"), ("false", "elsewhere")])),
        ),
        days("hatch_days", "Half have hatched after, days").hint("From spawning"),
        days("hatch_celsius", "at, °C"),
        days("free_swimming_days", "They swim free after, days").hint("From spawning"),
        days("free_swimming_celsius", "at, °C"),
        days("release_days", "The mother lets them out after, days").hint("From spawning"),
        days("release_celsius", "at, °C"),
        Field::new("source", "Where these days come from", Kind::Text)
            .hint("A book, a page, your own notes with the year"),
        Field::new("how", "How they were got", hows()),
    ]
}

fn rarer() -> Vec<Field<'static>> {
    let base = |name, label, preset: &str| Field::new(name, label, Kind::Decimal).preset(preset.to_owned());
    vec![
        Field::new("spread_percent", "Four clutches of five come within ± %", Kind::Decimal)
            .hint("Empty: 10 % before, 12 % after")
            .optional(),
        base("base_low", "Base temperature at the least, °C", "10"),
        base("base_likely", "Base temperature, °C", "14")
            .hint("Where development stands still if its rate is drawn on as a straight line. 14 is a planning value"),
        base("base_high", "Base temperature at the most, °C", "18"),
    ]
}

fn days_form(entry: &Entry) -> Markup {
    let (fields, rarer) = (fields(), rarer());
    let faulty = entry.fault.as_ref().is_some_and(|(f, _)| rarer.iter().any(|r| r.name == f));
    html! {
        form.record method="post" action="/species" {
            (entry.stray(PLAIN, &FIELDS))
            @for f in &fields { (f.draw(PLAIN, entry)) }
            details open[faulty] {
                summary { "Rarely needed" }
                @for f in &rarer { (f.draw(PLAIN, entry)) }
            }
            (by().draw(PLAIN, entry))
            button type="submit" { "Add the entry" }
        }
    }
}

fn text_form(entry: &Entry) -> Markup {
    let open = entry.form == TEXT;
    let text = Field::new("text", "One entry, as text", Kind::Lines)
        .hint("Everything that an entry can say: observations at several temperatures, tolerated and upper temperatures, stages that count from another")
        .preset(EXAMPLE.to_owned());
    html! {
        details open[open] {
            summary { "Write it as text" }
            form.record method="post" action="/species" {
                (entry.stray(TEXT, &["text", "by"]))
                (text.draw(TEXT, entry))
                (by().draw(TEXT, entry))
                button type="submit" { "Add this text" }
            }
        }
    }
}

/// What the text begins with.
const EXAMPLE: &str = r#"[species.my-fish]
name = "My fish"
mouthbrooder = true

[[species.my-fish.stage.hatch.series]]
days = [[24.0, 7.2], [26.0, 5.9], [28.0, 5.1]]
source = "my own notes"
how = "observed"
"#;

fn origin(s: &SpeciesView, clock: &Clock) -> Markup {
    html! {
        @match &s.from {
            EntryFrom::Page { by, at, text } => {
                p.soft { "Written on the page " (clock.local.full(*at)) " by " (by) "." }
                pre { (text) }
                form method="post" action={ "/species/" (s.key) "/withdraw" } {
                    button type="submit" aria-label={ "Withdraw it: the entry " (s.key) } { "Withdraw it" }
                }
            }
            EntryFrom::File => p.soft { "From the file of this room." },
            EntryFrom::Shipped => {},
        }
    }
}

fn line(s: &SpeciesView) -> String {
    let stages: Vec<String> =
        s.stages.iter().map(|(stage, k)| format!("{} {k:.0}\u{2009}°C·d", words::stage(*stage))).collect();
    format!("{} over {:.1}\u{2009}°C", stages.join(", "), s.base)
}

fn one(s: &SpeciesView, clock: &Clock) -> Markup {
    html! { details.entry id={ "entry-" (s.key) } {
        summary { (s.name) " " span.soft { (line(s)) } }
        @for l in &s.learnt { p { (words::capital(&l.words)) "." } }
        (figures(&s.figures))
        (origin(s, clock))
    } }
}

fn section(id: &str, title: &str, all: &[&SpeciesView], clock: &Clock) -> Markup {
    html! { @if !all.is_empty() {
        section aria-labelledby=(id) { h2 id=(id) { (title) } @for s in all { (one(s, clock)) } }
    } }
}

/// The page.
pub(crate) fn page(all: &[SpeciesView], entry: &Entry, clock: &Clock) -> Html<String> {
    let own = |s: &&SpeciesView| s.from != EntryFrom::Shipped;
    let (own, shipped): (Vec<_>, Vec<_>) = all.iter().partition(own);
    let (mouth, other): (Vec<_>, Vec<_>) = shipped.into_iter().partition(|s| s.mouthbrooder);
    let main = html! {
        main.plain {
            h1 { (words::capital(&words::count(all.len()))) " species entries." }
            p { "An entry says how much warmth each stage needs, and where that is from. The dates of a clutch follow from it and from the water that the clutch had." }
            (section("h-own", "Of this room", &own, clock))
            (section("h-mouth", "Mouthbrooders", &mouth, clock))
            (section("h-other", "Other fish", &other, clock))
            section aria-labelledby="h-new" {
                h2 #h-new { "Add an entry, or replace one" }
                p { "Clutches that use an entry follow it at once, and say so." }
                (days_form(entry))
                (text_form(entry))
            }
            p { a.go href="/clutches" { "Back to the clutches" } }
        }
    };
    shell("Species entries", Tab::Clutches, &main)
}
