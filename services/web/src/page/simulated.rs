//! The part of the opening page on which a simulated room is broken, mended and hurried.

use super::Clock;
use crate::simulated::{Simulated, Thing};
use crate::view::RoomView;
use crate::words;
use maud::{Markup, html};
use units::Span;

/// Where this part stands on the opening page.
pub(crate) const PLACE: &str = "break";

/// How fast "an hour in 20 seconds" is.
const HURRIED: f64 = 180.0;

/// How long an hour of the room takes: "20 s".
fn hour_takes(pace: f64) -> Span {
    Span::from_millis((3_600_000.0 / pace).round() as i64)
}

fn is_real_time(pace: f64) -> bool {
    (pace - 1.0).abs() < 1e-9
}

/// The small line near the top, one row on a phone: that none of this is real, and the way to the buttons.
pub(crate) fn line(simulated: &Simulated) -> Markup {
    let link = match simulated.things.iter().filter(|t| t.broken).count() {
        0 => "Break something".to_owned(),
        1 => "One thing is broken".to_owned(),
        n => format!("{} things are broken", words::capital(&words::count(n))),
    };
    html! {
        p.simulated {
            span {
                @if is_real_time(simulated.pace) { "This room is simulated." }
                @else { "Simulated, 1 h = " (hour_takes(simulated.pace)) "." }
            }
            a.go href={ "#" (PLACE) } { (link) }
        }
    }
}

/// The inside of the part. Each piece has an id, so that only the one that is being pressed stays as it is.
pub(crate) fn part(simulated: &Simulated, room: &RoomView, clock: &Clock) -> Markup {
    html! {
        @for t in &simulated.things { (thing(t, clock)) }
        (hurry(simulated.pace))
        (said(room, clock))
    }
}

fn thing(t: &Thing, clock: &Clock) -> Markup {
    html! {
        div.thing.broken[t.broken] id={ "thing-" (t.key) } {
            form method="post" action={ "/simulated/faults/" (t.key) } {
                input type="hidden" name="broken" value=(!t.broken);
                button type="submit" { (if t.broken { &t.mends } else { &t.breaks }) }
            }
            @if let Some(since) = t.since {
                p.since { "Broken since " (clock.local.since(since, clock.now)) "." }
            }
            p { (t.what) }
        }
    }
}

fn hurry(pace: f64) -> Markup {
    let real = is_real_time(pace);
    let button = |to: f64, words: &str| {
        html! {
            form method="post" action="/simulated/pace" {
                input type="hidden" name="pace" value=(to);
                button type="submit" { (words) }
            }
        }
    };
    html! {
        div.thing.broken[!real] #thing-pace {
            @if real { (button(HURRIED, "Let an hour pass in 20 seconds")) } @else { (button(1.0, "Back to real time")) }
            @if !real { p.since { "An hour passes in " (hour_takes(pace)) " now." } }
            p {
                "Water is slow: a dead heater needs hours to be seen. At an hour in 20 seconds that is a minute or two. "
                "Back in real time, the room's clock stays ahead of yours."
            }
        }
    }
}

/// What the service makes of it, beside the buttons: the first sentence of the page once more.
fn said(room: &RoomView, clock: &Clock) -> Markup {
    html! {
        div.thing #thing-said {
            p {
                b { "The service says now: " }
                @for part in words::say(room, clock.now, &clock.local) { (part.strong) (part.plain) " " }
            }
            p { a.go href="#headline" { "To the top, where the alarms are" } }
        }
    }
}
