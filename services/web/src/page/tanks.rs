//! All vessels: what lives in them, which are free, which clutches need one soon.

use super::account::forms;
use super::form::Entry;
use super::{Clock, Tab, cautions, shell};
use crate::account::{EquipmentView, LivingView, NeedView, TanksPage, VesselRow};
use crate::entry_account::OF_ROOM;
use crate::keeper::Keeper;
use axum::response::Html;
use chrono::NaiveDate;
use maud::{Markup, html};
use std::collections::BTreeMap;

/// What lives in a vessel, in one line each: "M1 (C01 33, C07 9): 42, since 23 Nov".
pub(super) fn living(all: &[LivingView], clock: &Clock) -> Markup {
    html! {
        @for l in all {
            p { a.go href={ "/clutches/" (l.clutch) } { b { (l.clutch) } } " "
                @if l.held { "held" @if let Some(m) = &l.mother { " by " a href={ "/mothers/" (m) } { (m) } } ", uncounted" }
                @else { @match l.count { Some(n) => { (n) }, None => "uncounted" } }
                " " i { (l.fish) }
                @if !l.held { @if let Some(m) = &l.mother { ", from " a href={ "/mothers/" (m) } { (m) } } }
                @if !l.members.is_empty() { ", from " (l.members.iter().map(|m| format!("{} ({})", m.clutch, m.count)).collect::<Vec<_>>().join(" and ")) }
                @if let Some(since) = l.since { span.soft { " since " (clock.local.full(since)) } }
            }
        }
    }
}

/// How full it is, where that can be said.
pub(super) fn density(v: &VesselRow) -> Markup {
    html! { @if let (Some(litres), Some(n)) = (v.litres, v.per_litre) {
        @if n > 0.0 {
            @let words = format!("{n:.1} in a litre of {litres:.0}");
            @if v.crowded() { p.bad { "Crowded: " (words) ", planned are at most " (format!("{:.1}", v.crowded_above)) "." } }
            @else { p.soft { (words) ", planned are at most " (format!("{:.1}", v.crowded_above)) "." } }
        }
    } }
}

fn row(v: &VesselRow, clock: &Clock) -> Markup {
    html! {
        li {
            div.who {
                a.go href={ "/vessels/" (v.vessel) } { b { (v.vessel) } }
                @if let Some(host) = &v.host { span.soft { " in " (host) } }
                @if let Some(l) = v.litres { span.soft { " " (format!("{l:.0}")) "\u{2009}L" } }
                @if let Some(until) = v.quarantine { p.bad { "In quarantine until " (clock.local.full(until)) } }
                (living(&v.living, clock))
                @if v.living.is_empty() { p.soft { "No young by the account." } }
                (density(v))
            }
        }
    }
}

fn need(n: &NeedView, clock: &Clock) -> Markup {
    html! { li {
        a.go href={ "/clutches/" (n.clutch) } { b { (n.clutch) } } " " i { (n.fish) }
        @if let Some(count) = n.count { ", " (count) }
        @if let Some(v) = &n.vessel { " in " (v) }
        @if n.likeliest <= clock.now { ": likeliest swims free since " (clock.local.full(n.likeliest)) }
        @else { ": swims free likeliest " (clock.local.full(n.likeliest)) ", from " (clock.local.full(n.earliest)) " on" }
    } }
}

/// How many fry there will be on which day, by the likeliest dates.
fn fry(needs: &[NeedView], clock: &Clock) -> Markup {
    let mut days: BTreeMap<NaiveDate, Vec<&NeedView>> = BTreeMap::new();
    for n in needs.iter().filter(|n| n.likeliest > clock.now) {
        days.entry(clock.local.date(n.likeliest)).or_default().push(n);
    }
    html! { @if !days.is_empty() {
        h3 { "Fry by the day" }
        ul.said { @for these in days.values() {
            @let sum: u32 = these.iter().filter_map(|n| n.count).sum();
            @let names: Vec<&str> = these.iter().map(|n| n.clutch.as_str()).collect();
            @let uncounted = these.iter().filter(|n| n.count.is_none()).count();
            li {
                b { (these.first().map(|n| clock.local.day(n.likeliest, clock.now)).unwrap_or_default()) } ": "
                (sum) " fry" @if uncounted > 0 { " and " (crate::words::count(uncounted)) " uncounted" } " (" (names.join(", ")) ")"
            }
        } }
        p.soft { "By the likeliest dates; each clutch's window is days wide, and not all that live now will swim." }
    } }
}

fn free(page: &TanksPage, clock: &Clock) -> Markup {
    let free = page.free();
    let later = page.vessels.iter().filter(|v| v.living.is_empty() && v.quarantine.is_some());
    html! {
        @if page.needs.is_empty() { p { "No clutch needs a tank within two weeks." } }
        @else { ol.said { @for n in &page.needs { (need(n, clock)) } } (fry(&page.needs, clock)) }
        p { @if free.is_empty() { "No tank is without young by the account." }
            @else { (free.len()) " without young by the account: "
                @for (n, v) in free.iter().enumerate() { @if n > 0 { ", " } a href={ "/vessels/" (v.vessel) } { (v.vessel) }
                    @if let Some(l) = v.litres { " (" (format!("{l:.0}")) "\u{2009}L)" } } "." } }
        @for v in later { @if let Some(until) = v.quarantine { p { (v.vessel) " is free when its quarantine ends, " (clock.local.full(until)) "." } } }
        @if page.needs.len() > free.len() { p.bad { "More clutches than empty tanks." } }
    }
}

fn equipment(all: &[EquipmentView], clock: &Clock) -> Markup {
    html! {
        @if all.is_empty() { p.soft { "No equipment has been written down." } }
        ul.said { @for e in all { li {
            b { (e.name) } " (" (e.kind) ")" @if let Some(v) = &e.vessel { " at " (v) }
            ", " (format!("{:.0}", (clock.now - e.since).as_days().max(0.0))) " days in use"
            @if let Some(due) = e.due {
                @if due <= clock.now { span.bad { ", due since " (clock.local.full(due)) } } @else { ", due " (clock.local.full(due)) }
            }
        } } }
    }
}

/// The page.
pub(crate) fn page(tanks: &TanksPage, keeper: &dyn Keeper, entry: &Entry, clock: &Clock) -> Html<String> {
    let main = html! {
        main.plain {
            h1 { "Tanks, tumblers and jars." }
            p { a.go href="/strip" { "Strip day" } " \u{b7} " a.go href="/mothers" { "Mothers" } " \u{b7} " a.go href="/labels" { "Labels" } }
            section aria-labelledby="h-free" { h2 #h-free { "Who needs a tank" } (free(tanks, clock)) }
            section aria-labelledby="h-all" { h2 #h-all { "What is in them" } ul.tanks { @for v in &tanks.vessels { (row(v, clock)) } } }
            section aria-labelledby="h-gear" { h2 #h-gear { "Equipment" } (equipment(&tanks.equipment, clock)) }
            @if !tanks.of_room.is_empty() {
                section aria-labelledby="h-room" { h2 #h-room { "What was done in the room" }
                    ol.said { @for e in &tanks.of_room { li { b { (clock.local.full(e.at)) } ": " (e.text) span.soft { " (entry " (e.entry) ", " (e.by) ")" } } } } }
            }
            section aria-labelledby="h-do" { h2 #h-do { "Write down" } (forms("/vessels", OF_ROOM, keeper, entry, clock)) }
            p.soft { "What is planned at most in a litre is a planning value of the configuration (" code { "crowded_above_per_l" } "), not science: how many a tank can carry depends on its filter." }
            (cautions())
        }
    };
    shell("Tanks", Tab::Tanks, &main)
}
