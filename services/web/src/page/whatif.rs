//! The part of a clutch's page that tries other water.

use super::Clock;
use super::form::{Entry, Field, Kind};
use crate::view::{ClutchView, Window};
use crate::whatif::{OtherStage, OtherWater};
use crate::words;
use maud::{Markup, html};
use units::{Span, Stage, Time};

/// The form for a temperature.
pub(crate) const WATER: &str = "water";
/// The form for a date.
pub(crate) const DATE: &str = "date";

/// Both forms, and the answer to the one that was sent.
pub(crate) fn section(c: &ClutchView, entry: &Entry, answer: Option<&OtherWater>, clock: &Clock) -> Markup {
    let stages = due(c);
    html! {
        section id="what-if" aria-labelledby="h-what-if" {
            h2 #h-what-if { "What if" }
            @if let Some(water) = answer { (said(water, clock)) }
            (form(c, WATER, "What if the water were \u{2026}", &water_fields(), entry))
            @if let Some((_, first)) = stages.first() {
                (form(c, DATE, "Put a stage at \u{2026}", &date_fields(&stages, first.likeliest, clock), entry))
                p.soft { "Times are of the room's clock, " (clock.local.name()) "." }
            }
        }
    }
}

/// Stages nobody has seen yet.
fn due(c: &ClutchView) -> Vec<(Stage, Window)> {
    let all = [(Stage::Hatch, c.hatch), (Stage::FreeSwimming, c.free_swimming)];
    all.into_iter().filter_map(|(s, w)| Some((s, w.filter(|w| w.seen.is_none())?))).collect()
}

fn water_fields() -> Vec<Field<'static>> {
    let lives =
        [("rest", "from the last reading on"), ("whole", "all its life")].map(|(v, w)| (v.into(), w.into()));
    vec![
        Field::new("celsius", "Temperature, °C", Kind::Decimal),
        Field::new("life", "For how long", Kind::Choice(lives.to_vec())),
    ]
}

fn date_fields(stages: &[(Stage, Window)], likeliest: Time, clock: &Clock) -> Vec<Field<'static>> {
    let choice = stages.iter().map(|(s, _)| (s.word().to_owned(), words::stage(*s))).collect();
    vec![
        Field::new("stage", "Stage", Kind::Choice(choice)),
        Field::new("at", "When it is wanted", Kind::When).preset(clock.local.input(likeliest)),
    ]
}

fn form(c: &ClutchView, what: &str, words: &str, fields: &[Field<'_>], entry: &Entry) -> Markup {
    html! {
        details.record id={ "do-" (what) } open[entry.form == what] {
            summary { (words) }
            form.record method="get" action={ "/clutches/" (c.id) "/what-if#what-if" } {
                (entry.stray(what, &fields.iter().map(|f| f.name).collect::<Vec<_>>()))
                @for f in fields { (f.draw(what, entry)) }
                button type="submit" { "Try it" }
            }
        }
    }
}

fn said(water: &OtherWater, clock: &Clock) -> Markup {
    html! {
        p role="status" { b { (headline(water, clock)) } }
        @if let Some(put) = &water.put {
            p { "Each tenth of a degree warmer brings it " (put.per_tenth) " sooner. It was looked for within " (put.range) "." }
        }
        table.water {
            thead { tr { th scope="col" { "Stage" } th scope="col" { "As it is" } th scope="col" { "In that water" } } }
            tbody { @for s in &water.stages { (row(s, clock)) } }
        }
        @if !water.warnings.is_empty() { ul { @for w in &water.warnings { li { (words::capital(w)) "." } } } }
        p { b { "Caution. " } (water.caution) }
    }
}

fn headline(water: &OtherWater, clock: &Clock) -> String {
    let held = match water.from {
        Some(from) => format!("held from the last reading on ({})", clock.local.full(from)),
        None => "held all its life".to_owned(),
    };
    match &water.put {
        Some(put) => format!(
            "{} at {} needs water of {:.2} °C, {held}.",
            words::capital(&words::stage(put.stage)),
            clock.local.full(put.at),
            water.celsius
        ),
        None => format!("With water of {:.1} °C, {held}:", water.celsius),
    }
}

fn row(s: &OtherStage, clock: &Clock) -> Markup {
    let when = |t| clock.local.full(t);
    html! {
        tr { th scope="row" { (words::stage(s.stage)) }
            td { (s.as_is.map_or_else(|| "not known".to_owned(), when)) }
            td { b { (when(s.likeliest)) }
                @if let Some(was) = s.as_is { ", " (moved(s.likeliest - was)) }
                br; span.soft { "earliest " (when(s.earliest)) br; "latest " (when(s.latest)) } }
        }
    }
}

/// How far a date moves, in words.
pub(crate) fn moved(later: Span) -> String {
    match later.millis() {
        0 => "the same".to_owned(),
        ms if ms < 0 => format!("{} sooner", later.abs()),
        _ => format!("{later} later"),
    }
}
