//! The pieces of the opening page that the event stream replaces, each with the id of its place.

use super::{Clock, alarms, simulated, work};
use crate::simulated::Simulated;
use crate::svg::calendar::Calendar;
use crate::svg::ribbon::{Scale, fastest, ribbon};
use crate::svg::{band, flask, strip};
use crate::view::{ClutchView, RoomView, TankView, TumblerView, Turning};
use crate::words;
use maud::{Markup, html};

/// Inside of one place.
pub(crate) type Fragment = (&'static str, Markup);

/// All fragments in the order of the page; those of a simulated room only where it is one.
pub(crate) fn all(room: &RoomView, toy: Option<&Simulated>, clock: &Clock) -> Vec<Fragment> {
    let mut all = vec![
        ("headline", headline(room, clock)),
        ("status", alarms::said(room, clock)),
        ("alarms", alarms::list(room, clock)),
        ("notices", work::notices(room, clock)),
        ("rack", rack(room, clock)),
        ("tanks", tanks(room, clock)),
        ("strip", night(room, clock)),
        ("ribbons", to_come(room, clock)),
        ("refused", refused(room)),
    ];
    if let Some(toy) = toy {
        all.push(("simulated-line", simulated::line(toy)));
        all.push(("simulated", simulated::part(toy, room, clock)));
    }
    all
}

fn headline(room: &RoomView, clock: &Clock) -> Markup {
    let parts = words::say(room, clock.now, &clock.local);
    html! {
        p.eyebrow {
            span { (room.room) ", " (clock.local.full(clock.now)) }
            span { (words::heard(room, clock.now)) }
        }
        @if clock.now - room.now > words::OLD {
            p.old { "This picture is of " (clock.local.since(room.now, clock.now)) ": the service has worked out nothing newer." }
        }
        h1 {
            @for (i, part) in parts.iter().enumerate() {
                @if i > 0 { " " }
                @if !part.strong.is_empty() { mark { (part.strong) } }
                (part.plain)
            }
        }
        @if let Some(next) = words::next_line(room, clock.now, &clock.local) { p.next { (next) } }
        @if let Some(p) = &room.progress {
            p.loading {
                label for="loading" { (words::capital(&p.what)) ", " (p.done) " of " (p.total) }
                progress #loading value=(p.done.min(p.total)) max=(p.total.max(1)) {}
            }
        }
    }
}

pub(super) fn degrees(celsius: Option<f64>) -> String {
    celsius.map_or_else(|| "no temperature".into(), |c| format!("{c:.1}\u{2009}°C"))
}

fn water_words(t: &TumblerView) -> (String, bool) {
    let odd = words::drifts(&t.water) || words::off_band(&t.water).is_some();
    (words::water_state(&t.water).unwrap_or_default(), odd)
}

fn flask_label(t: &TumblerView, turning: &str) -> String {
    let inside = match (t.stage, t.clutch.as_ref()) {
        (Some(stage), Some(c)) => format!("{c}, {}", words::young(t.count, stage)),
        (None, Some(c)) => format!("{c}, {} by the account", t.count),
        (_, None) => "empty".into(),
    };
    let (_, each) = flask::drawn(if t.clutch.is_some() { t.count } else { 0 });
    let many = if each > 1 { format!(", each one drawn stands for {each}") } else { String::new() };
    let (state, _) = water_words(t);
    let degrees =
        t.water.celsius.map_or("temperature not heard".into(), |c| format!("{c:.1} degrees {state}"));
    format!("{}: {turning}; {inside}{many}; {}", t.vessel, degrees.trim_end())
}

fn tumbler(t: &TumblerView, room: &RoomView, clock: &Clock) -> Markup {
    let turning = words::turning(t, room, clock.now, &clock.local);
    let (state, odd) = water_words(t);
    let (_, each) = flask::drawn(if t.clutch.is_some() { t.count } else { 0 });
    html! {
        li {
            (flask::flask(t, &flask_label(t, &turning)))
            div.name {
                b { (t.vessel) } " "
                @match &t.clutch { Some(c) => { a href={ "/clutches/" (c) } { (c) } }, None => span { "empty" } }
            }
            span.bad[t.turning != Turning::Turning && t.clutch.is_some()] { (turning) }
            @if let (Some(flow), true) = (t.air_flow, t.turning != Turning::Unheard) {
                br; span.soft { (format!("{flow:.1}")) "\u{2009}L/min" }
            }
            br;
            (degrees(t.water.celsius)) " "
            span.bad[odd] { (state) }
            @if each > 1 { br; span.soft { "1 drawn = " (each) } }
        }
    }
}

fn rack(room: &RoomView, clock: &Clock) -> Markup {
    html! {
        @if room.tumblers.is_empty() { p { "No tumbler is set up in this room yet." } }
        ul.rack.even[matches!(room.tumblers.len(), 2 | 4)] { @for t in &room.tumblers { (tumbler(t, room, clock)) } }
    }
}

fn tank(t: &TankView, clock: &Clock) -> Markup {
    let odd = words::drifts(&t.water) || words::off_band(&t.water).is_some();
    html! {
        li {
            span.who {
                b { (t.vessel) } " "
                @match words::water_state(&t.water) {
                    Some(state) => {
                        (degrees(t.water.celsius)) " " span.bad[odd] { (state) }
                        @if let (Some(k), true) = (t.water.per_hour, odd) { span.soft { " " (format!("{k:+.1}")) "\u{2009}°C/h" } }
                    }
                    None => span.bad {
                        "temperature not heard"
                        @if let Some(at) = t.water.at { " since " (clock.local.since(at, clock.now)) }
                    }
                }
                br;
                span.soft {
                    @match t.water.band {
                        Some(b) => (format!("band {:.1} to {:.1}\u{2009}°C", b.low, b.high)),
                        None => "no band set",
                    }
                    @if !t.clutches.is_empty() {
                        "; holds "
                        (t.clutches.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "))
                    }
                }
            }
            (band::ruler(&t.water))
        }
    }
}

fn tanks(room: &RoomView, clock: &Clock) -> Markup {
    html! {
        @if room.tanks.is_empty() { p { "No tank is set up in this room yet." } }
        ul.tanks { @for t in &room.tanks { (tank(t, clock)) } }
    }
}

fn night(room: &RoomView, clock: &Clock) -> Markup {
    let told: Vec<(String, String)> = room
        .tumblers
        .iter()
        .map(|t| {
            let said = strip::told(&t.strokes, room.night.dusk, room.now, &clock.local);
            let said = if t.turning == Turning::NoProbe { "no probe of its air".to_owned() } else { said };
            (t.vessel.to_string(), said)
        })
        .collect();
    let label = told.iter().map(|(v, s)| format!("{v}: {s}")).collect::<Vec<_>>().join(". ");
    html! {
        @if !told.is_empty() {
            (strip::strip(room, &clock.local, &label))
            details #strip-words {
                summary { "The same in words" }
                ul.said { @for (v, s) in &told { li { b { (v) } ": " (s) } } }
            }
        }
    }
}

/// The scale of a clutch's ribbon in the room.
fn scale(c: &ClutchView, room: &RoomView, calendar: Calendar, top: f64) -> Scale {
    let of_tumbler = room.tumblers.iter().find(|t| Some(&t.vessel) == c.vessel.as_ref()).map(|t| t.water);
    let of_tank = room.tanks.iter().find(|t| Some(&t.vessel) == c.vessel.as_ref()).map(|t| t.water);
    Scale { calendar, fastest: top, band: of_tumbler.or(of_tank).and_then(|w| w.band) }
}

fn one(c: &ClutchView, scale: &Scale, clock: &Clock) -> Markup {
    let coming = words::coming(c, clock.now, &clock.local);
    let shift = c.shift.clone().unwrap_or_default();
    let label = format!("{}: {coming}; {shift}", c.id);
    html! {
        div.cl {
            h3 {
                a href={ "/clutches/" (c.id) } { b { (c.id) } " " i { (c.fish) } }
                span {
                    "day " (format!("{:.0}", c.age_days.max(0.0).floor())) ", " (words::young(c.count, c.stage))
                    @if let Some(v) = &c.vessel { ", " (v) }
                }
            }
            p { (coming) "." @if !shift.is_empty() { " " em { (words::capital(&shift)) "." } } }
            @for w in &c.warnings { p.bad { (w) } }
            (ribbon(c, scale, label.trim_end_matches([' ', ';'])))
        }
    }
}

/// The ribbons of clutches that are still to hatch or to swim, and the others in a line each.
fn to_come(room: &RoomView, clock: &Clock) -> Markup {
    let (coming, swim): (Vec<ClutchView>, Vec<ClutchView>) = room
        .clutches
        .iter()
        .cloned()
        .partition(|c| words::next_stage(c, room.now).is_some() || c.hatch.is_none());
    html! {
        @if coming.is_empty() && !swim.is_empty() { p { "Nothing is left to hatch or to swim free." } }
        @else { (ribbons(&coming, room, clock)) }
        @if !swim.is_empty() {
            h3 { "They swim free" }
            ul.said {
                @for c in &swim {
                    li {
                        a href={ "/clutches/" (c.id) } { b { (c.id) } " " i { (c.fish) } }
                        ", " (words::young(c.count, c.stage)) @if let Some(v) = &c.vessel { ", " (v) }
                    }
                }
            }
        }
    }
}

/// The ribbons of these clutches on one calendar.
pub(crate) fn ribbons(clutches: &[ClutchView], room: &RoomView, clock: &Clock) -> Markup {
    let calendar = Calendar::over(clutches, room.now);
    let top = fastest(clutches);
    html! {
        @if clutches.is_empty() {
            p { "No clutch in hand. " a.go href="/clutches#add" { "Add one" } }
        } @else {
            (calendar.axis(&clock.local))
            @for c in clutches { (one(c, &scale(c, room, calendar, top), clock)) }
        }
    }
}

fn refused(room: &RoomView) -> Markup {
    let total: u64 = room.refusals.iter().map(|r| r.count).sum();
    html! {
        p {
            @match total {
                0 => "No message has been refused. ",
                1 => "One message was refused. ",
                n => { (n) " messages were refused. " }
            }
            a.go href="/log#refusals" { "See the log" }
        }
    }
}
