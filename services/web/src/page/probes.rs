//! Probes with their two clocks, the devices that send them, the map, and topics that nobody has mapped.

use super::{Clock, Tab, compare, shell};
use crate::probes::{DeviceView, EntryView, ProbeView, ProbesView, RhythmFrom, UnmappedView};
use crate::view::RoomView;
use crate::words;
use axum::response::Html;
use maud::{Markup, html};
use readings::{MapEntry, Says};
use std::fmt::Write;
use units::{Span, Time};

fn since(t: Option<Time>, clock: &Clock) -> String {
    t.map_or_else(|| "not yet".to_owned(), |t| clock.local.since(t, clock.now))
}

fn rhythm(p: &ProbeView) -> String {
    let every = match p.every {
        Some(e) if e < Span::seconds(1) => "second or less".to_owned(),
        every => every.map(|e| e.to_string()).unwrap_or_default(),
    };
    match p.every_from {
        RhythmFrom::Unknown => "rhythm not known yet".to_owned(),
        RhythmFrom::Learnt => format!("about every {every}"),
        RhythmFrom::Told => format!("every {every}, as set"),
    }
}

fn probes(all: &[ProbeView], clock: &Clock) -> Markup {
    html! {
        @if all.is_empty() { p { "No probe has been heard yet." } } @else { table.clocks {
            thead { tr { th scope="col" { "Probe" } th scope="col" { "Last message" } th scope="col" { "Last reading accepted" } } }
            tbody { @for p in all { tr {
                th scope="row" {
                    (p.probe.vessel) " " br; (p.probe.quantity)
                    @if let Some(mark) = &p.probe.mark { br; (mark) }
                }
                td { (since(p.last_message, clock)) }
                td {
                    (since(p.last_accepted, clock))
                    @if p.silent { br; span.bad { "silent" } }
                    (compare::taken(p, clock))
                    br; span.soft {
                        (rhythm(p)) ", silent after " (p.silent_after)
                        @if let Some(device) = &p.device { ", sent by " (device) }
                    }
                }
            } } }
        } }
    }
}

fn devices(all: &[DeviceView], clock: &Clock) -> Markup {
    html! {
        p { "Online and offline are what a device says of itself. They say nothing about air or water." }
        @if all.is_empty() { p { "No device has spoken of itself yet." } }
        ul.said { @for d in all { li {
            b { (d.name) } " "
            @match d.online {
                Some(true) => "says it is online",
                Some(false) => { span.bad { "says it is offline" } }
                None => "says nothing of itself",
            }
            @if let Some(t) = d.since { " since " (clock.local.full(t)) }
            ", last message " (since(d.last_message, clock))
            @if !d.probes.is_empty() {
                br; span.soft { "sends " (d.probes.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")) }
            }
        } } }
    }
}

/// A topic as part of an address: RFC 3986, every byte that is not unreserved.
fn escaped(topic: &str) -> String {
    topic.bytes().fold(String::new(), |mut out, b| {
        if b.is_ascii_alphanumeric() || b"-._~".contains(&b) {
            out.push(char::from(b));
        } else {
            // Writing to a text does not fail.
            let _ = write!(out, "%{b:02X}");
        }
        out
    })
}

fn unmapped(all: &[UnmappedView], clock: &Clock) -> Markup {
    html! {
        p { "Nothing here is guessed: a topic means nothing until you say what it is." }
        @if all.is_empty() { p { "Every topic that was heard is mapped." } }
        ul.said { @for u in all { li {
            b { (u.topic) } ": " (u.count) @if u.count == 1 { " message" } @else { " messages" }
            ", last " (clock.local.since(u.last, clock.now))
            @if u.retained { ", kept by the broker" }
            @if !u.payload.is_empty() { br; span.soft { "last payload: " code { (u.payload) } } }
            br; a.go href={ "/probes/claim?topic=" (escaped(&u.topic)) } { "Say what it is" }
        } } }
    }
}

/// What an entry does, in one line.
fn meaning(e: &MapEntry) -> String {
    let text = |t: &Option<String>| t.clone().unwrap_or_default();
    match e.says {
        Says::Reading => {
            let quantity = e.quantity.map(|q| q.to_string()).unwrap_or_default();
            let mark = e.mark.as_ref().map(|m| format!("/{m}")).unwrap_or_default();
            format!("{}/{quantity}{mark}", text(&e.vessel))
        }
        Says::Availability => format!("whether device {} is online", text(&e.device)),
        Says::SignOfLife => format!("a sign of life of device {}", text(&e.device)),
    }
}

fn map(all: &[EntryView], clock: &Clock) -> Markup {
    html! {
        @if all.is_empty() { p { "No topic is mapped; devices that publish in our own shape need no entry." } }
        ul.said { @for e in all { li {
            b { (e.entry.topic) } " is " (meaning(&e.entry))
            @match (e.claim, e.at) {
                (Some(claim), Some(at)) => {
                    ", claimed " (clock.local.full(at)) " by " (e.by.as_deref().unwrap_or_default())
                    form method="post" action={ "/probes/" (claim) "/release" } {
                        button type="submit" aria-label={ "Release " (e.entry.topic) } { "Release" }
                    }
                }
                _ => ", from the configuration",
            }
        } } }
    }
}

/// The page.
pub(crate) fn page(view: &ProbesView, room: &RoomView, clock: &Clock) -> Html<String> {
    let main = html! {
        main.plain {
            p.eyebrow { span { (room.room) ", " (clock.local.full(clock.now)) } span { (words::heard(room, clock.now)) } }
            h1 {
                @match view.unmapped.len() {
                    0 => "Every topic heard is mapped.",
                    1 => "One topic is not mapped.",
                    n => { (words::capital(&words::count(n))) " topics are not mapped." }
                }
            }
            section aria-labelledby="h-unmapped" { h2 #h-unmapped { "Not mapped" } (unmapped(&view.unmapped, clock))
                p { a.go href="/probes/claim" { "Map a topic" } } }
            section aria-labelledby="h-probes" { h2 #h-probes { "Probes" } (probes(&view.probes, clock)) }
            section aria-labelledby="h-compared" { h2 #h-compared { "Compared" } (compare::list(&view.comparisons, clock)) }
            section aria-labelledby="h-devices" { h2 #h-devices { "Devices" } (devices(&view.devices, clock)) }
            section aria-labelledby="h-map" { h2 #h-map { "Mapped" } (map(&view.map, clock)) }
        }
    };
    shell("Probes", Tab::Probes, &main)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_topic_is_escaped_for_an_address() {
        assert_eq!(escaped("rack/t 1+#é"), "rack%2Ft%201%2B%23%C3%A9");
    }
}
