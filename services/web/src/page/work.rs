//! What there is to do, day by day, and the address for calendars.

use super::form::{Entry, by};
use super::{Clock, Tab, shell};
use crate::calendar::{Address, CalendarView};
use crate::view::{RoomView, TaskView};
use crate::words::{self, capital, count};
use axum::response::Html;
use chrono::NaiveDate;
use maud::{Markup, html};
use std::collections::BTreeMap;

/// Most lines of notices on the opening page; the rest is counted.
const MOST_NOTICES: usize = 6;

/// Where a task stands in the list; the order is that of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum When {
    /// Its window is over, and nothing was recorded.
    Over,
    /// Its likeliest day has gone, its window has not.
    Open,
    /// Its likeliest day.
    Day(NaiveDate),
}

fn when(task: &TaskView, clock: &Clock) -> When {
    let day = clock.local.date(task.likeliest);
    match day < clock.local.date(clock.now) {
        false => When::Day(day),
        true if task.latest < clock.now => When::Over,
        true => When::Open,
    }
}

/// What falls due today: its likeliest time or the beginning of its window is of this day. What merely stays open is not
/// told again each morning, least of all that young can be taken.
fn due_today<'a>(room: &'a RoomView, clock: &Clock) -> Vec<&'a TaskView> {
    let today = clock.local.date(clock.now);
    let due = |t: &&TaskView| [t.likeliest, t.earliest].iter().any(|at| clock.local.date(*at) == today);
    room.work.iter().filter(due).collect()
}

/// The window in words: "today between about 07:00 and 21:00, likeliest about 14:00".
fn window(task: &TaskView, clock: &Clock) -> String {
    let [from, to, likeliest] =
        [task.earliest, task.latest, task.likeliest].map(|t| words::about(t, clock.now, &clock.local));
    if from == to {
        return moment(task.task, &from);
    }
    let day = from.split(" about ").next().unwrap_or_default();
    let hour = |said: &str| said.strip_prefix(&format!("{day} about ")).map(str::to_owned);
    let said = match (hour(&from), hour(&to)) {
        (Some(from), Some(to)) => format!("{day} between about {from} and {to}"),
        _ => format!("between {from} and {to}"),
    };
    match hour(&likeliest).filter(|_| hour(&to).is_some()) {
        _ if task.likeliest == task.earliest => said,
        Some(hour) => format!("{said}, likeliest about {hour}"),
        None => format!("{said}, likeliest {likeliest}"),
    }
}

/// What has no end goes on from then, or is to be done by then.
fn moment(task: &str, at: &str) -> String {
    match task {
        "thin-air" => format!("from {at} on"),
        "ready-nursery" => format!("by {at}"),
        _ => at.to_owned(),
    }
}

fn place(task: &TaskView) -> Option<String> {
    let mother = task.mother.as_ref().map(|m| format!("mother {m}"));
    task.vessel.as_ref().map(ToString::to_string).or(mother)
}

/// Notices for the opening page: one quiet line each, nothing to acknowledge.
pub(super) fn notices(room: &RoomView, clock: &Clock) -> Markup {
    let due = due_today(room, clock);
    let more = due.len().saturating_sub(MOST_NOTICES);
    html! {
        @if !due.is_empty() {
            h2 { "Today" }
            ul.said {
                @for t in due.iter().take(MOST_NOTICES) {
                    li { b { (t.clutch) } ": " (t.title) span.soft { ", " (window(t, clock)) } }
                }
            }
            p {
                @if more > 0 { "And " (count(more)) " more. " }
                a.go href="/work" { "All there is to do" }
            }
        }
    }
}

fn line(task: &TaskView, clock: &Clock) -> Markup {
    html! {
        li {
            b { (capital(task.title)) } ": "
            a.go href={ "/clutches/" (task.clutch) } { (task.clutch) } " "
            i { (task.fish) } @if let Some(place) = place(task) { ", " (place) }
            br; (capital(&window(task, clock))) ". "
            a.soft href={ "#why-" (task.task) } { "Why then?" }
        }
    }
}

fn heading(when: When, clock: &Clock) -> String {
    let today = clock.local.date(clock.now);
    match when {
        When::Over => "Past, and nothing recorded".to_owned(),
        When::Open => "Still open".to_owned(),
        When::Day(day) => {
            let named = match day.signed_duration_since(today).num_days() {
                0 => "Today, ",
                1 => "Tomorrow, ",
                _ => "",
            };
            format!("{named}{}", day.format("%a %-d %b"))
        }
    }
}

fn list(room: &RoomView, clock: &Clock) -> Markup {
    let mut by_day: BTreeMap<When, Vec<&TaskView>> = BTreeMap::new();
    for task in &room.work {
        by_day.entry(when(task, clock)).or_default().push(task);
    }
    html! {
        @for (when, tasks) in by_day {
            section {
                h2 { (heading(when, clock)) }
                @if when == When::Over {
                    p { "By the dates this is over, or should be done. What you have seen you record at the clutch; then the line goes." }
                }
                ul.said { @for t in tasks { (line(t, clock)) } }
            }
        }
    }
}

/// Each kind of task once, in the order of the list.
fn why(room: &RoomView) -> Markup {
    let mut kinds: Vec<&TaskView> = Vec::new();
    for task in &room.work {
        if kinds.iter().all(|k| k.task != task.task) {
            kinds.push(task);
        }
    }
    html! {
        @if !kinds.is_empty() {
            section aria-labelledby="h-why" {
                h2 #h-why { "Why then?" }
                p { "Windows follow the degree-days and move with the water. Before you hand young on, look up your local law." }
                dl { @for k in kinds { dt id={ "why-" (k.task) } { b { (capital(k.title)) } } dd { (k.reason) } } }
            }
        }
    }
}

/// Name of the form.
const FORM: &str = "address";

fn subscribe(address: &Address, calendar: &CalendarView, host: &str, clock: &Clock) -> Markup {
    let url = format!("http://{host}/calendar/{}.ics", address.token);
    html! {
        p { a.go href=(url) { code { (url) } } }
        p {
            "Subscribe to this address in your calendar program; do not import it once, for then nothing moves. "
            "Each task stands there as its whole window and blocks no time. "
            "An entry moves when a date has moved by more than " (calendar.moves_over)
            "; one that falls away is marked as cancelled for 30 days."
        }
        p { b { "Whoever has this address can read the dates of this room. " } "Give it to nobody else. It needs no signing in, and answers where this page does." }
        p.soft {
            "In use since " (clock.local.full(address.since))
            @if let Some(by) = &address.by { ", made by " (by) } "."
        }
        details.record {
            summary { "Make a new address" }
            form.record method="post" action="/calendar/address" {
                p { "The old address then answers nobody: every calendar must be given the new one." }
                (by().draw(FORM, &Entry::default()))
                button type="submit" { "Make a new address" }
            }
        }
    }
}

fn title(due: usize) -> String {
    match due {
        0 => "Nothing falls due today.".to_owned(),
        1 => "One thing falls due today.".to_owned(),
        n => format!("{} things fall due today.", capital(&count(n))),
    }
}

/// The page; `host` is how it was asked for.
pub(crate) fn page(room: &RoomView, calendar: &CalendarView, host: &str, clock: &Clock) -> Html<String> {
    let main = html! {
        main.plain {
            h1 { (title(due_today(room, clock).len())) }
            p.soft { "Times are of the room's clock, " (clock.local.name()) ", to the half hour." }
            @if room.work.is_empty() { p { "No clutch has anything ahead of it that can be dated." } }
            (list(room, clock))
            (why(room))
            section #calendar aria-labelledby="h-calendar" {
                h2 #h-calendar { "In your calendar" }
                @match &calendar.address {
                    Some(address) => (subscribe(address, calendar, host, clock)),
                    None => p { "The address is not made yet. Load this page again in a moment." },
                }
            }
        }
    };
    shell("Work", Tab::Work, &main)
}
