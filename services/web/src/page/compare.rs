//! Comparing a probe with a reference thermometer: the form, and what was compared.

use super::form::{Entry, Field, Kind, by};
use super::fragments::degrees;
use super::{Clock, Tab, shell};
use crate::probes::{ComparisonView, OffsetView, ProbeView};
use axum::response::Html;
use maud::{Markup, html};
use units::Quantity;

/// Name of the form.
pub(crate) const FORM: &str = "compare";
/// Its fields.
pub(crate) const FIELDS: [&str; 8] =
    ["probe", "reference", "against", "at", "since", "read", "accuracy", "by"];

/// `+0.3 °C` or `−0.3 °C`.
fn added(by: f64) -> String {
    let sign = if by < 0.0 { '\u{2212}' } else { '+' };
    format!("{sign}{:.1}\u{2009}°C", by.abs())
}

/// What a probe reads and how it is taken, in the list of probes.
pub(super) fn taken(p: &ProbeView, clock: &Clock) -> Markup {
    html! {
        @if let (Some(OffsetView { by, from }), Some(raw), Some(value)) = (p.offset, p.raw, p.value) {
            br; span.soft {
                "reads " (degrees(Some(raw))) ", taken as " (degrees(Some(value))) ": " (added(by)) " since " (clock.local.full(from))
            }
        }
        @if p.probe.quantity == Quantity::Temperature {
            br; a.go href={ "/probes/compare?probe=" (p.probe) } aria-label={ "Compare " (p.probe) " with a reference thermometer" } { "Compare" }
        }
    }
}

/// What was compared, the newest first.
pub(super) fn list(all: &[ComparisonView], clock: &Clock) -> Markup {
    html! {
        p { "A probe that was held beside a reference thermometer is corrected from then on. What it sent is kept as it was." }
        @if all.is_empty() { p { "No probe has been compared yet." } }
        ul.said { @for c in all { li {
            b { (c.comparison.probe) } " read " (degrees(Some(c.comparison.read))) ", " (c.comparison.against) " " (degrees(Some(c.comparison.reference)))
            ": " (added(c.offset)) " since " (clock.local.full(c.comparison.holds_from()))
            br; span.soft { "entered " (clock.local.full(c.recorded)) " by " (c.by) }
            @match &c.withdrawn {
                Some((who, when)) => { br; span.soft { "withdrawn " (clock.local.full(*when)) " by " (who) } }
                None => form method="post" action={ "/probes/comparisons/" (c.number) "/withdraw" } {
                    button type="submit" aria-label={ "This was a mistake: the comparison of " (c.comparison.probe) } { "This was a mistake" }
                },
            }
        } } }
    }
}

fn fields(probes: &[ProbeView], probe: &str, clock: &Clock) -> Vec<Field<'static>> {
    let thermometers = probes
        .iter()
        .filter(|p| p.probe.quantity == Quantity::Temperature)
        .map(|p| (p.probe.to_string(), p.probe.to_string()))
        .collect();
    vec![
        Field::new("probe", "Probe", Kind::Choice(thermometers)).preset(probe.to_owned()),
        Field::new("reference", "The reference reads, °C", Kind::Decimal)
            .hint("Both in the same moving water, side by side, for five minutes"),
        Field::new("against", "Which reference", Kind::Text).hint("For example glass thermometer 3"),
        Field::new("at", "When", Kind::When).preset(clock.local.input(clock.now)),
    ]
}

fn rarer() -> Vec<Field<'static>> {
    vec![
        Field::new("read", "The probe itself read, °C", Kind::Decimal)
            .hint("Before any correction; empty: its newest reading")
            .optional(),
        Field::new("since", "It has been so since", Kind::When)
            .hint("Empty: from the comparison on. Earlier readings are corrected too")
            .optional(),
        Field::new("accuracy", "The reference is rated to ± °C", Kind::Decimal).optional(),
    ]
}

/// The form.
pub(crate) fn page(probes: &[ProbeView], probe: &str, entry: &Entry, clock: &Clock) -> Html<String> {
    let (fields, rarer) = (fields(probes, probe, clock), rarer());
    let used = rarer.iter().any(|f| {
        entry.values.get(f.name).is_some_and(|v| !v.is_empty())
            || entry.fault.as_ref().is_some_and(|(field, _)| field == f.name)
    });
    let main = html! {
        main.plain {
            h1 { "Compare a probe." }
            p { "Use a thermometer that you trust: checked in melting ice, or with a certificate. A probe that drifts by a degree moves a hatch by most of a day." }
            form.record method="post" action="/probes/compare" {
                (entry.stray(FORM, &FIELDS))
                @for f in &fields { (f.draw(FORM, entry)) }
                details open[used] {
                    summary { "Rarely needed" }
                    @for f in &rarer { (f.draw(FORM, entry)) }
                }
                (by().draw(FORM, entry))
                button type="submit" { "Correct the probe" }
            }
            p.soft { "Dry your hands before you touch a plug, and pull the plug of a heater before hands go into the water." }
            p { a.go href="/probes" { "Back to the probes" } }
        }
    };
    shell("Compare a probe", Tab::Probes, &main)
}
