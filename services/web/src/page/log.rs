//! The log: what was not accepted, the alarms, and the newest reading of each probe.

use super::{Clock, Tab, shell};
use crate::view::{AlarmView, ReadingView, RefusalView, RoomView};
use crate::words;
use axum::response::Html;
use maud::{Markup, html};
use units::Span;

fn refusals(all: &[RefusalView], clock: &Clock) -> Markup {
    html! {
        @if all.is_empty() { p { "No message has been refused." } }
        ul.said { @for r in all { li {
            b { (r.reason) } " from " (r.place) ": " (r.count) @if r.count == 1 { " time" } @else { " times" }
            ", last " (clock.local.since(r.last, clock.now))
            @if !r.excerpt.is_empty() { br; span.soft { "last payload: " code { (r.excerpt) } } }
        } } }
    }
}

fn alarms(all: &[AlarmView], clock: &Clock) -> Markup {
    html! {
        @if all.is_empty() { p { "No alarm stands, and none has gone unseen." } }
        ul.said { @for a in all { li {
            b { (words::capital(&a.subject)) } ", " (a.state) ", since " (clock.local.full(a.since))
            @if let Some(end) = a.ended { ", gone " (clock.local.full(end)) }
            @if let Some((by, at)) = &a.acknowledged { ", acknowledged by " (by) " " (clock.local.since(*at, clock.now)) }
        } } }
    }
}

fn age(r: &ReadingView, room: &RoomView, clock: &Clock) -> Markup {
    let silent = room.heard.silent.contains(&r.probe);
    html! {
        @if silent { span.bad { "silent for " (clock.now - r.time) } }
        @else if !r.fresh { span.bad { "late or retained" } ", " (clock.now - r.time) " old" }
        @else { "fresh, " ((clock.now - r.time).max(Span::ZERO)) " old" }
    }
}

fn readings(all: &[ReadingView], room: &RoomView, clock: &Clock) -> Markup {
    html! {
        @if all.is_empty() { p { "No probe has been heard yet." } } @else {
            table {
                thead { tr { th scope="col" { "Probe" } th scope="col" { "Reading" } th scope="col" { "Measured" } } }
                tbody { @for r in all { tr {
                    th scope="row" {
                            (r.probe.vessel) " " br; (r.quantity)
                            @if let Some(mark) = &r.probe.mark { br; (mark) }
                        }
                    td { (format!("{:.2}", r.value)) "\u{2009}" (r.unit) }
                    td { (clock.local.since(r.time, clock.now)) br; (age(r, room, clock)) }
                } } }
            }
        }
    }
}

/// The page.
pub(crate) fn page(room: &RoomView, newest: &[ReadingView], clock: &Clock) -> Html<String> {
    let main = html! {
        main.plain {
            p.eyebrow { span { (room.room) ", " (clock.local.full(clock.now)) } span { (words::heard(room, clock.now)) } }
            h1 {
                @match room.heard.silent.len() {
                    _ if room.heard.probes == 0 => "No probe has been heard yet.",
                    0 => "All probes are heard.",
                    1 => { (room.heard.silent[0]) " is silent." }
                    n => { (words::capital(&words::count(n))) " probes are silent." }
                }
            }
            section aria-labelledby="h-now" { h2 #h-now { "Readings now" } (readings(newest, room, clock)) }
            section #refusals aria-labelledby="h-refusals" { h2 #h-refusals { "Not accepted" }
                p { "A refused message changes nothing: no date moves and no alarm clears by it." }
                (refusals(&room.refusals, clock)) }
            section aria-labelledby="h-alarms" { h2 #h-alarms { "Alarms standing or not yet seen" } (alarms(&room.alarms, clock)) }
        }
    };
    shell("Log", Tab::Log, &main)
}
