//! The alarms with what to do first and the button that takes them on.

use super::Clock;
use crate::view::{AlarmView, RoomView, ShelvedView};
use crate::words::{capital, young};
use maud::{Markup, html};
use units::{Span, Time};

/// `id` attributes must not hold spaces; ids of alarms do not, but they come from outside this crate.
fn anchor(id: &str) -> String {
    let safe: String = id.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    format!("alarm-{safe}")
}

/// An alarm's id as one segment of an address.
pub(crate) fn segment(id: &str) -> String {
    id.bytes().fold(String::new(), |mut out, b| {
        if b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.' | b'~') {
            out.push(char::from(b));
        } else {
            out.push_str(&format!("%{b:02X}"));
        }
        out
    })
}

pub(super) fn deadline(a: &AlarmView, clock: &Clock) -> Option<String> {
    let within = a.act_within.filter(|_| a.standing)?;
    let by: Time = a.since + within;
    let left = by - clock.now;
    let by = clock.local.since(by, clock.now);
    Some(if left > Span::ZERO {
        format!("Act within {within}: by {by}, {left} left (planning value)")
    } else {
        format!("Act within {within} (planning value): that time passed at {by}, {} ago", -left)
    })
}

/// Who hangs on it.
fn held(a: &AlarmView) -> Option<String> {
    a.clutch.as_ref().map(|c| format!("{}: {} of {}", c.id, young(c.count, c.stage), c.fish))
}

/// Who has taken it on.
pub(super) fn taken(a: &AlarmView, clock: &Clock) -> Markup {
    html! { @if let Some((by, at)) = &a.acknowledged {
        p.taken { "Acknowledged by " (by) ", " (clock.local.since(*at, clock.now)) "." }
    } }
}

fn button(a: &AlarmView, clock: &Clock) -> Markup {
    if a.acknowledged.is_some() {
        return taken(a, clock);
    }
    let words = if a.standing { "I am on it" } else { "I have seen it" };
    html! {
        form.take method="post" action={ "/alarms/" (segment(&a.id)) "/acknowledge" } data-acknowledge=(segment(&a.id)) {
            input type="hidden" name="by" value="";
            button type="submit" {
                (words)
                span.vh { " (acknowledge: " (a.subject) ")" }
            }
        }
    }
}

/// The choices of the form, minutes; the alarm itself knows how long it may be.
const SHELVE_FOR: [u32; 4] = [5, 10, 20, 30];

/// Whoever works at the vessel wants no calls from there for a while.
fn shelve(a: &AlarmView) -> Markup {
    let to = format!("/alarms/{}/shelve", segment(&a.id));
    let id = format!("{}-shelve", anchor(&a.id));
    html! {
        details id=(id) {
            summary { "Shelve it" span.vh { ": " (a.subject) } }
            form.record method="post" action=(to) {
                p.soft { "It calls nobody for that long, and then at once if it is still so." }
                div.field { label for={ (id) "-minutes" } { "Minutes" }
                    select id={ (id) "-minutes" } name="minutes" { @for m in SHELVE_FOR { option value=(m) { (m) } } } }
                div.field { label for={ (id) "-why" } { "Why" }
                    input type="text" id={ (id) "-why" } name="why" required maxlength="200" autocomplete="off"; }
                input type="hidden" name="by" value="";
                button type="submit" { "Shelve" }
            }
        }
    }
}

/// What is read out: a line for each alarm that nobody has taken on. Each has an id, so that the page adds only what is new.
pub(super) fn said(room: &RoomView, clock: &Clock) -> Markup {
    html! { @for a in room.alarms.iter().filter(|a| a.standing && a.acknowledged.is_none()) {
        span id={ (anchor(&a.id)) "-said" } { "Alarm: " (a.subject) " since " (clock.local.since(a.since, clock.now)) ". " }
    } }
}

/// Alarms that call nobody just now.
fn shelved(all: &[ShelvedView]) -> Markup {
    html! {
        @if !all.is_empty() {
            h3.gonehead #alarms-shelved { "Shelved" }
            ul.said #alarms-shelved-list { @for s in all { li id={ (anchor(&s.id)) "-shelved" } {
                (s.text) @if s.standing { " " b { "It is so now." } }
                form method="post" action={ "/alarms/" (segment(&s.id)) "/unshelve" } {
                    input type="hidden" name="by" value="";
                    button type="submit" { "Let it call again" span.vh { ": " (s.id) } }
                }
            } } }
        }
    }
}

/// One alarm; the button stands right under its heading so that its place does not hang on the text.
fn alarm(a: &AlarmView, clock: &Clock) -> Markup {
    let since = clock.local.since(a.since, clock.now);
    html! {
        article.alarm.gone[!a.standing] id=(anchor(&a.id)) data-calls[a.standing && a.acknowledged.is_none()] {
            h3 {
                @match &a.vessel {
                    Some(v) => { (v) ": " (a.condition) }
                    None => { (a.subject) }
                }
                span {
                    "since " (since)
                    @if a.standing { ", " (clock.now - a.since) }
                    @if let Some(end) = a.ended { ", gone " (clock.local.since(end, clock.now)) }
                }
            }
            (button(a, clock))
            @if let Some(line) = deadline(a, clock) { p.deadline { (line) } }
            @if let Some(line) = held(a) { p.held { (line) } }
            @if a.standing { p.first { b { "First: " } (a.first_step) } }
            @if a.standing { (shelve(a)) }
            details id={ (anchor(&a.id)) "-whole" } {
                summary { "The whole message" }
                p { (a.text) }
                p.soft { "Priority " (a.priority) ", " (a.state) "." }
            }
        }
    }
}

/// Inside of the alarm section: nothing at all when there is none.
pub(crate) fn list(room: &RoomView, clock: &Clock) -> Markup {
    let alarms = &room.alarms;
    let standing = alarms.iter().filter(|a| a.standing);
    let gone: Vec<&AlarmView> = alarms.iter().filter(|a| !a.standing).collect();
    html! {
        @if !alarms.is_empty() {
            h2.vh { "Alarms" }
            @for a in standing { (alarm(a, clock)) }
            @if !gone.is_empty() {
                h3.gonehead #alarms-gone { (capital("gone, but not yet acknowledged")) }
                @for a in gone { (alarm(a, clock)) }
            }
        }
        (shelved(&room.shelved))
    }
}
