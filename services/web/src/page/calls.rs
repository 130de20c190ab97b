//! The page of calls: who is woken, by which way, and whether it works.

use super::alarms::segment;
use super::{Clock, Tab, cautions, shell};
use crate::calls::{CallView, CallsView, DrillView, TryView};
use axum::response::Html;
use maud::{Markup, html};
use units::Span;

/// The whole page.
pub(crate) fn page(view: &CallsView, clock: &Clock) -> Html<String> {
    let main = html! {
        main.plain {
            h1 { "Calls" }
            p.soft { "Who is woken for what. It is set in the configuration of the service; here it can be tried." }
            @if view.calls.is_empty() { (nobody()) }
            @for call in &view.calls { (one(call)) }
            @if !view.sirens.is_empty() { p { "Sirens and lamps hear: " (view.sirens.join(", ")) "." } }
            @if !view.calls.is_empty() && !view.links {
                p.soft { "Messages hold no link to take an alarm on: " code { "[page] address" } " is not set." }
            }
            h2 #tried { "Tried" }
            @if view.tries.is_empty() { p.soft { "Nobody has tried a way yet." } }
            ul.said { @for t in &view.tries { li { (tried(t, clock)) } } }
            h2 #drills { "Drills" }
            p.soft {
                "A drill goes through the whole chain as an alarm does, until somebody takes it on. "
                @match view.next_drill {
                    Some(at) => { "The next one: " (clock.local.since(at, clock.now)) "." }
                    None => { "None is planned." }
                }
            }
            ul.said { @for d in &view.drills { li { (drill(d, clock)) } } }
            p { a.go href="/" { "Back to the night" } }
            (cautions())
        }
    };
    shell("Calls", Tab::Log, &main)
}

fn nobody() -> Markup {
    html! { p.warn role="note" {
        b { "Nobody is called. " }
        "Alarms stand on the page and on MQTT only. Write a " code { "[[call]]" } " into the configuration; config/room.toml shows one."
    } }
}

fn one(call: &CallView) -> Markup {
    html! {
        section.call {
            h3 { (call.person.as_deref().unwrap_or(&call.name)) }
            p { "By " (way(call)) ", " (urgency(call.priority)) ", " (hours(call)) (later(call)) "." }
            @if let Some(why) = &call.failing { p.warn role="note" { b { "Nothing arrives by it: " } (why) } }
            form.take method="post" action={ "/calls/" (segment(&call.name)) "/try" } {
                input type="hidden" name="by" value="";
                button type="submit" { "Try it now" span.vh { ": " (call.name) } }
            }
        }
    }
}

/// A way by mail is named by its address.
fn way(call: &CallView) -> String {
    call.way.strip_prefix("mail:").map_or_else(|| call.way.clone(), |to| format!("mail to {to}"))
}

fn hours(call: &CallView) -> String {
    call.hours.as_ref().map_or_else(|| "at any hour".to_owned(), |hours| format!("from {hours}"))
}

fn urgency(priority: u8) -> String {
    match priority {
        5 => "for every alarm".to_owned(),
        1 => "for priority 1 only".to_owned(),
        n => format!("for priority 1 to {n}"),
    }
}

fn later(call: &CallView) -> String {
    if call.after == Span::ZERO {
        String::new()
    } else {
        format!(", when nobody has answered for {}", call.after)
    }
}

fn tried(t: &TryView, clock: &Clock) -> Markup {
    let at = clock.local.since(t.at, clock.now);
    html! { (t.call) ", " (at) ", by " (t.by) ": " (t.fate.as_deref().unwrap_or("on its way")) "." }
}

fn drill(d: &DrillView, clock: &Clock) -> Markup {
    let at = clock.local.since(d.at, clock.now);
    html! {
        (at) ": "
        @match &d.answered {
            Some((by, when)) => { (by) " answered after " (*when - d.at) "." }
            None => { b { "nobody answered." } }
        }
    }
}
