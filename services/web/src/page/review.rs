//! A night looked back on.

use super::{Tab, shell};
use crate::local::Local;
use crate::review::{
    Review, Verdict, VesselNight, block, headline, inline, raised, room_refusals, span, table, title,
};
use axum::response::Html;
use chrono::{Days, NaiveDate};
use maud::{Markup, html};
use units::Time;

/// The page of a night; `now` tells whether a later one has ended.
pub(crate) fn page(r: &Review, now: Time) -> Html<String> {
    let main = html! {
        main.plain {
            h1 { (title(r)) }
            p.eyebrow { span { (r.room) ", " (span(r)) } span { (r.zone) } }
            p.next { (headline(r)) }
            (ways(r, now))
            @if r.vessels.len() > 1 { (overview(r)) }
            @for v in &r.vessels { (vessel(r, v)) }
            (block("Alarms", &r.alarms.iter().map(|a| raised(a, &r.zone)).collect::<Vec<_>>()))
            (block("Not accepted", &room_refusals(r)))
            h2 #h-how { "How to read this" }
            p { "The ribbon runs from the lowest to the highest that was read; the two straight lines are its band. A dotted line = not read. Under it a slanted "
                "stroke for each six minutes of moving air, a solid bar = it stood." }
            p { "Usually = the median of those of the " (r.compared_with) " nights before that have enough readings." }
            (ways(r, now))
        }
    };
    shell(&title(r), Tab::Night, &main)
}

/// To the nights beside it.
fn ways(r: &Review, now: Time) -> Markup {
    let link = |date: NaiveDate, words: &str| html! { a.go href={ "/night/" (date) } { (words) } };
    html! {
        p.two {
            @if let Some(before) = r.date.checked_sub_days(Days::new(1)) { (link(before, "The night before")) }
            @if let Some(after) = r.date.checked_add_days(Days::new(1)).filter(|after| has_ended(*after, r, now)) {
                (link(after, "The night after"))
            }
            a.go href="/" { "Tonight" }
        }
    }
}

/// Whether the night of that evening is over.
fn has_ended(evening: NaiveDate, r: &Review, now: Time) -> bool {
    let local = Local::of(&r.zone);
    let today = local.date(now);
    evening + Days::new(1) < today || (evening + Days::new(1) == today && local.hm(now) >= local.hm(r.dawn))
}

fn overview(r: &Review) -> Markup {
    html! {
        ul.said.verdicts { @for v in &r.vessels { li {
            a.go href={ "#night-" (v.vessel) } { (v.vessel) } " "
            span.bad[v.verdict != Verdict::Good] { (v.verdict.word()) }
            @for remark in &v.remarks { br; span.soft { (remark) } }
        } } }
    }
}

fn vessel(r: &Review, v: &VesselNight) -> Markup {
    html! {
        section aria-labelledby={ "night-" (v.vessel) } {
            h2 id={ "night-" (v.vessel) } { (v.vessel) ", " (v.kind) }
            p { span.bad[v.verdict != Verdict::Good] { (crate::words::capital(v.verdict.word())) "." }
                @for remark in &v.remarks { " " (remark) } }
            (inline(r, v))
            (table(v, &r.zone))
        }
    }
}
