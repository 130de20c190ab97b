//! Strip day: several mothers, one after another, and no chance to put two clutches together.

use super::form::{Entry, Field, Kind, by};
use super::{Clock, Tab, cautions, shell};
use crate::account::{LivingView, TanksPage, VesselRow};
use crate::entry_account::{Ask, Doing};
use crate::view::RoomView;
use axum::response::Html;
use maud::{Markup, html};
use units::VesselKind;

/// Name of the form.
pub(crate) const FORM: &str = "taken";
/// What it writes down.
pub(crate) const DOING: &[Doing] = &[Doing {
    what: FORM,
    words: "Taken from the mother",
    fields: &[
        ("at", "When", Ask::When, true),
        ("vessel", "Into", Ask::Vessel, true),
        ("alive", "Alive", Ask::Count, true),
        ("dead", "Dead", Ask::Count, true),
        ("how", "How", Ask::Choice(&HOW), false),
    ],
}];
const HOW: [(&str, &str); 3] = [
    ("stripped", "her mouth was emptied by hand"),
    ("spat", "she spat them, these were saved"),
    ("released", "she let them out, these were caught"),
];

/// Clutches that are still with their mothers.
pub(crate) fn holding(tanks: &TanksPage) -> impl Iterator<Item = &LivingView> {
    tanks.vessels.iter().flat_map(|v| &v.living).filter(|l| l.held)
}

/// First: which mother is in the hand.
pub(crate) fn choose(tanks: &TanksPage, room: &RoomView, done: Option<&str>, clock: &Clock) -> Html<String> {
    let done = done.and_then(|d| {
        tanks.vessels.iter().find_map(|v| v.living.iter().find(|l| l.clutch.as_str() == d).map(|l| (v, l)))
    });
    let due = |l: &LivingView| room.clutches.iter().find(|c| c.id == l.clutch);
    let main = html! {
        main.plain {
            h1 { "Which mother is in your hand?" }
            @if let Some((v, l)) = done {
                p.next role="status" { b { (l.clutch) } " is in " b { (v.vessel) } @if let Some(n) = l.count { ": " (n) " alive" } ". Label the vessel, rinse net and jug, then take the next." }
            }
            @if holding(tanks).next().is_none() { p { "No mother holds a clutch that was written down. " a.go href="/clutches#add" { "Add a clutch" } } }
            ul.said { @for l in holding(tanks) { li {
                a.big href={ "/strip?clutch=" (l.clutch) } {
                    b { @match &l.mother { Some(m) => { (m) }, None => "no code" } } " " (l.clutch) br; i { (l.fish) }
                    @if let Some(c) = due(l) { br; (crate::words::coming(c, clock.now, &clock.local)) }
                } } } }
            p.soft { "She has fasted: handle her as little as can be, and leave her if she is thin. To leave the clutch with her is as good a way." }
            (cautions())
        }
    };
    shell("Strip day", Tab::Tanks, &main)
}

/// Vessels that nothing lives in, tumblers and jars first.
fn empty(tanks: &TanksPage) -> Vec<&VesselRow> {
    let mut all: Vec<&VesselRow> =
        tanks.vessels.iter().filter(|v| v.living.is_empty() && v.quarantine.is_none()).collect();
    all.sort_by_key(|v| v.kind == VesselKind::Tank);
    all
}

fn fields(tanks: &TanksPage, clock: &Clock) -> Vec<Field<'static>> {
    let pair = |v: &&VesselRow| (v.vessel.to_string(), v.vessel.to_string());
    let how = HOW.iter().map(|(v, w)| ((*v).to_owned(), (*w).to_owned())).collect();
    vec![
        Field::new("alive", "Alive", Kind::Count),
        Field::new("dead", "Dead", Kind::Count).preset("0".to_owned()),
        Field::new("vessel", "Into, empty ones only", Kind::Choice(empty(tanks).iter().map(pair).collect())),
        Field::new("how", "How", Kind::Choice(how)),
        Field::new("at", "When", Kind::When).preset(clock.local.input(clock.now)),
        by(),
    ]
}

/// Then: her young alone on the screen.
pub(crate) fn count(hers: &LivingView, tanks: &TanksPage, entry: &Entry, clock: &Clock) -> Html<String> {
    let fields = fields(tanks, clock);
    let names: Vec<&str> = fields.iter().map(|f| f.name).collect();
    let taken: Vec<&VesselRow> =
        tanks.vessels.iter().filter(|v| v.kind != VesselKind::Tank && !v.living.is_empty()).collect();
    let button: Markup = html! { button type="submit" { "Record " (hers.clutch) " as taken" } };
    let main = html! {
        main.plain {
            h1 { @match &hers.mother { Some(m) => { (m) ": " (hers.clutch) }, None => { (hers.clutch) } } }
            p.next { i { (hers.fish) } }
            form.record method="post" action={ "/strip/" (hers.clutch) } {
                input type="hidden" name="doing" value=(FORM);
                (entry.stray(FORM, &names))
                @for f in &fields { (f.draw(FORM, entry)) }
                (button)
            }
            @if !taken.is_empty() { p.soft { "Not empty: "
                @for (n, v) in taken.iter().enumerate() { @if n > 0 { ", " } (v.vessel) " (" (v.living.iter().map(|l| l.clutch.as_str()).collect::<Vec<_>>().join(", ")) ")" } "." } }
            p { a.go href="/strip" { "Another mother" } }
            (cautions())
        }
    };
    shell("Strip day", Tab::Tanks, &main)
}
