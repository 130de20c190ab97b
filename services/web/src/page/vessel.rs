//! One vessel: what is in it, since when, from whom; its water; what was done to it.

use super::account::{forms, withdraw};
use super::form::Entry;
use super::{Clock, Tab, cautions, shell, tanks};
use crate::account::{ContactView, POOR_PERCENT, VesselPage};
use crate::entry_account::OF_VESSEL;
use crate::keeper::Keeper;
use crate::svg::course::{Past, course};
use crate::view::EventView;
use axum::response::Html;
use maud::{Markup, html};
use units::{ProbeKey, Quantity, Span, Time};

/// Longest past that is shown.
pub(crate) const LONGEST_HOURS: u32 = 24 * 62;
/// So many probes are shown.
pub(crate) const MOST_COURSES: usize = 6;
/// Lengths that can be chosen: hours and words.
const ZOOMS: [(u32, &str); 6] =
    [(1, "an hour"), (6, "6 h"), (24, "a day"), (168, "a week"), (720, "30 days"), (1488, "62 days")];

/// A vessel and the past of its probes.
pub(crate) struct Shown {
    /// Everything about it.
    pub page: VesselPage,
    /// The past of each probe.
    pub courses: Vec<(ProbeKey, Past)>,
    /// Begin of what is shown.
    pub from: Time,
    /// Its end.
    pub to: Time,
    /// Its length, hours.
    pub hours: u32,
}

fn ticks(from: Time, to: Time, clock: &Clock) -> Vec<(Time, String)> {
    let long = to - from > Span::hours(30);
    let words = |t: Time| if long { clock.local.day(t, clock.now) } else { clock.local.hm(t) };
    (0..4)
        .map(|n| from + Span::from_millis((to - from).millis() * (2 * n + 1) / 8))
        .map(|t| (t, words(t)))
        .collect()
}

fn figures(past: &Past, unit: &str) -> Option<String> {
    let (low, high) = past.range()?;
    Some(format!(
        "{} readings, from {low:.2} to {high:.2} {unit}, the newest {:.2} {unit}",
        past.count, past.newest
    ))
}

fn picture(shown: &Shown, probe: &ProbeKey, past: &Past, clock: &Clock) -> Markup {
    let band = shown.page.water.band.filter(|_| probe.quantity == Quantity::Temperature);
    let unit = probe.quantity.unit().to_string();
    let name = format!("{} of {}", probe.quantity.word().replace('-', " "), probe.vessel);
    let said = figures(past, &unit).unwrap_or_else(|| "nothing was read in that time".to_owned());
    let label = format!("{name}: {said}");
    let drawn = course(past, (shown.from, shown.to), band, &ticks(shown.from, shown.to, clock), &label);
    html! {
        h3 { (crate::words::capital(&name)) @if let Some(mark) = &probe.mark { " (" (mark) ")" } ", " (unit) }
        @if let Some(drawn) = drawn { (drawn) }
        p.soft { (crate::words::capital(&said)) "." }
    }
}

fn zooms(shown: &Shown) -> Markup {
    html! { p aria-label="How much of the past" {
        @for (hours, words) in ZOOMS {
            @if hours == shown.hours { b { (words) } " " }
            @else { a.go href={ "/vessels/" (shown.page.row.vessel) "?hours=" (hours) } { (words) } " " }
        }
    } }
}

fn contact(c: &ContactView, clock: &Clock) -> Markup {
    html! { li { a.go href={ "/vessels/" (c.vessel) } { b { (c.vessel) } } " on " (clock.local.full(c.at)) ", by " (c.by) " out of " (c.from) } }
}

fn twice((a, b): &(EventView, EventView), clock: &Clock) -> Markup {
    html! { p.bad { "Fed twice: " (clock.local.full(a.at)) " by " (a.by) " and " (clock.local.full(b.at)) " by " (b.by) ". Test for ammonia." } }
}

fn event(e: &EventView, action: &str, clock: &Clock) -> Markup {
    html! { li { b { (clock.local.full(e.at)) } ": " @if e.stands { (e.text) } @else { s { (e.text) } ", a mistake" }
    span.soft { " (entry " (e.entry) ", " (e.by) ")" } (withdraw(action, e, clock)) } }
}

fn passages(p: &VesselPage, clock: &Clock) -> Markup {
    html! { @if !p.passages.is_empty() {
        section aria-labelledby="h-passages" {
            h2 #h-passages { "How clutches fared in it" }
            @if p.is_poor() {
                p.bad { "Three clutches running kept fewer than " (POOR_PERCENT) " of a hundred here. Look at its air, its screen and its walls before the next." }
            }
            ul.said { @for one in &p.passages { li {
                a.go href={ "/clutches/" (one.clutch) } { b { (one.clutch) } } " " i { (one.fish) } ", from " (clock.local.full(one.stay.from))
                @if let Some(until) = one.stay.until { " to " (clock.local.full(until)) }
                ": " (one.stay.came) " came in, " (one.stay.lost) " lost, " (format!("{:.0}", one.stay.kept_percent())) "\u{2009}% kept"
            } } }
            p.soft { "Poor is under " (POOR_PERCENT) " of a hundred kept: a planning value. What died before they came here counts elsewhere." }
        }
    } }
}

/// The page.
pub(crate) fn page(shown: &Shown, keeper: &dyn Keeper, entry: &Entry, clock: &Clock) -> Html<String> {
    let p = &shown.page;
    let name = &p.row.vessel;
    let main = html! {
        main.plain {
            h1 { (name) @match p.row.living.len() { 0 => " holds no young by the account.", 1 => " holds one clutch.", n => { " holds " (crate::words::count(n)) " clutches." } } }
            @if let Some(host) = &p.row.host { p { "It hangs in " a.go href={ "/vessels/" (host) } { (host) } " and shares its water." } }
            @if !p.hanging.is_empty() { p { "In it hang " @for v in &p.hanging { a.go href={ "/vessels/" (v) } { (v) } " " } } }
            @if let Some(until) = p.row.quarantine { p.bad { "In quarantine until " (clock.local.full(until)) "." } }
            @for pair in &p.fed_twice { (twice(pair, clock)) }
            section aria-labelledby="h-in" { h2 #h-in { "What is in it" } @if p.row.living.is_empty() { p { "No young by the account." } } (tanks::living(&p.row.living, clock)) (tanks::density(&p.row)) }
            @if !p.contacts.is_empty() {
                section aria-labelledby="h-touched" { h2 #h-touched { "Touched since its quarantine began" } ol.said { @for c in &p.contacts { (contact(c, clock)) } } }
            }
            section aria-labelledby="h-water" { h2 #h-water { "Readings" } (zooms(shown))
                @if shown.courses.is_empty() { p { "No probe has been heard here." } }
                @for (probe, past) in &shown.courses { (picture(shown, probe, past, clock)) } }
            (passages(p, clock))
            section aria-labelledby="h-do" { h2 #h-do { "Write down" } (forms(&format!("/vessels/{name}/enter"), OF_VESSEL, keeper, entry, clock)) }
            section aria-labelledby="h-care" { h2 #h-care { "What was done" } @if p.care.is_empty() { p { "Nothing has been written down." } } ol.said { @for e in &p.care { (event(e, &format!("/vessels/{name}/enter"), clock)) } } }
            p.soft { "Treatments are written down as they were given; nothing is recommended. Doses do not carry over from one species to another. Gloves, no open cuts, no siphon by mouth; ask a veterinarian, and keep to the law where you are." }
            (cautions())
        }
    };
    shell(name.as_str(), Tab::Tanks, &main)
}
