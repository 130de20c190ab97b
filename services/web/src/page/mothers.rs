//! Mothers: how often they held, how long, how it ended, and when they have rested.

use super::account::{forms, withdraw};
use super::form::Entry;
use super::{Clock, Tab, shell};
use crate::account::{HoldView, MotherView};
use crate::entry_account::OF_MOTHER;
use crate::keeper::Keeper;
use axum::response::Html;
use maud::{Markup, html};
use units::Span;

/// How long a mother rests before she spawns again, days: "two to three weeks" in a keepers' guide (aquariumdetective.com,
/// mouthbreeding, read). A planning value.
const REST: (i64, i64) = (14, 21);

/// What she does now: holds, rests, or has rested.
fn state(m: &MotherView, clock: &Clock) -> Markup {
    html! { @match (m.empty_since, m.holds.first()) {
        (None, Some(h)) => { "holds " a href={ "/clutches/" (h.clutch) } { (h.clutch) } ", day " (format!("{:.0}", h.days.max(0.0))) },
        (Some(t), _) if clock.now < t + Span::days(REST.1) => {
            "rests at least until " (clock.local.day(t + Span::days(REST.0), clock.now))
            ", better until " (clock.local.day(t + Span::days(REST.1), clock.now))
        },
        (Some(t), _) => { "has rested since " (clock.local.day(t, clock.now)) },
        (None, None) => "",
    } }
}

/// Whether she spawned again before she had rested.
fn too_soon(m: &MotherView) -> bool {
    m.rests.first().is_some_and(|d| *d < REST.0 as f64)
}

/// In how many of her clutches, alone or in a group, runts or faults were found.
fn sorted(m: &MotherView) -> usize {
    m.holds.iter().filter(|h| !h.sorted_out.is_empty()).count()
}

fn row(m: &MotherView, clock: &Clock) -> Markup {
    html! { li {
        a.go href={ "/mothers/" (m.mother) } { b { (m.mother) } } " " i { (m.fish) } ": " (state(m, clock))
        ", held " (m.holds_in_a_year) @if m.holds_in_a_year == 1 { " time" } @else { " times" } " in a year"
        @if too_soon(m) { span.bad { ", spawned again before she had rested" } }
        @if sorted(m) > 0 { ", runts or faults in " (sorted(m)) " of " (m.holds.len()) }
    } }
}

/// The list.
pub(crate) fn list(all: &[MotherView], clock: &Clock) -> Html<String> {
    let main = html! {
        main.plain {
            h1 { "Mothers." }
            @if all.is_empty() { p { "No mother has been named yet; her code is written down with her clutch." } }
            ul.said { @for m in all { (row(m, clock)) } }
            (rest_words())
        }
    };
    shell("Mothers", Tab::Tanks, &main)
}

fn rest_words() -> Markup {
    html! { p.soft { "A rest of two to three weeks is a planning value from a keepers' guide, not science. Look at her: one that is thin needs longer." } }
}

fn hold(h: &HoldView, clock: &Clock) -> Markup {
    html! { tr {
        th scope="row" { a.go href={ "/clutches/" (h.clutch) } { (h.clutch) } }
        td { (clock.local.full(h.spawned)) }
        td { @match h.how { Some(how) => { (how) ", " (format!("{:.0}", h.days)) " days" }, None => { "holds, day " (format!("{:.0}", h.days)) } }
            @if let Some(path) = &h.path { br; span.soft { "chosen: " (path) } } }
        td { @match h.count { Some(n) => { (n) }, None => "not counted" } }
        td { @for s in &h.sorted_out {
            @if s.of != h.clutch { "in " (s.of) ", with others: " }
            (s.runts) @if s.runts == 1 { " runt" } @else { " runts" } @if s.faulty > 0 { ", " (s.faulty) " with a fault" } br;
        } }
    } }
}

/// One mother.
pub(crate) fn one(m: &MotherView, keeper: &dyn Keeper, entry: &Entry, clock: &Clock) -> Html<String> {
    let main = html! {
        main.plain {
            h1 { (m.mother) " " (state(m, clock)) "." }
            p { i { (m.fish) } @if too_soon(m) { span.bad { " She spawned again " (format!("{:.0}", m.rests[0].max(0.0))) " days after her mouth was empty." } } }
            section aria-labelledby="h-holds" { h2 #h-holds { "What she held" }
                table.water {
                    thead { tr { th scope="col" { "Clutch" } th scope="col" { "Spawned" } th scope="col" { "How it left her" } th scope="col" { "How many" } th scope="col" { "Sorted out" } } }
                    tbody { @for h in &m.holds { (hold(h, clock)) } }
                } }
            section aria-labelledby="h-notes" { h2 #h-notes { "Notes" }
                @if m.notes.is_empty() { p { "None." } }
                ol.said { @for e in &m.notes { li { b { (clock.local.full(e.at)) } ": " (e.text) span.soft { " (" (e.by) ")" } (withdraw(&format!("/mothers/{}/enter", m.mother), e, clock)) } } }
                (forms(&format!("/mothers/{}/enter", m.mother), OF_MOTHER, keeper, entry, clock)) }
            (rest_words())
        }
    };
    shell(m.mother.as_str(), Tab::Tanks, &main)
}
