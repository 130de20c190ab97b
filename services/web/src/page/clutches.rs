//! The list of clutches and the form for a new one.

use super::form::{Entry, Field, Kind, by};
use super::{Clock, Tab, fragments, night, shell};
use crate::keeper::Keeper;
use crate::species::SpeciesView;
use crate::view::RoomView;
use axum::response::Html;
use maud::{Markup, html};

/// Name of the form.
pub(crate) const FORM: &str = "add";
const FIELDS: [&str; 9] =
    ["id", "fish", "species", "mother", "vessel", "day0_earliest", "day0_latest", "day0_grade", "by"];

fn pair(value: &str, words: &str) -> (String, String) {
    (value.to_owned(), words.to_owned())
}

/// How well day 0 is known.
pub(super) fn grades() -> Kind {
    Kind::Choice(vec![
        pair("seen", "seen: the hour is known"),
        pair("window", "window: between two looks"),
        pair("guess", "guess: judged from her throat"),
    ])
}

fn fields(keeper: &dyn Keeper, species: &[SpeciesView], clock: &Clock) -> Vec<Field<'static>> {
    let species = species.iter().map(|s| pair(&s.key, &s.name)).collect();
    let vessels = keeper.vessels().iter().map(|v| pair(v.as_str(), v.as_str())).collect();
    vec![
        Field::new("id", "Name of the clutch", Kind::Text)
            .hint("Short, for the label on the tumbler, e.g. C12"),
        Field::new("fish", "Fish, in your words", Kind::Text),
        Field::new("species", "Species entry used for projecting", Kind::Choice(species)),
        Field::new("mother", "Mother's code", Kind::Text).optional(),
        Field::new("vessel", "Where she is", Kind::Choice(vessels)),
        Field::new("day0_grade", "How you know when she spawned", grades()),
        Field::new("day0_earliest", "Spawned, at the earliest", Kind::When)
            .preset(clock.local.input(clock.now)),
        Field::new("day0_latest", "Spawned, at the latest", Kind::When)
            .hint("Leave empty when the hour was seen")
            .optional(),
        by(),
    ]
}

fn add(keeper: &dyn Keeper, species: &[SpeciesView], entry: &Entry, clock: &Clock) -> Markup {
    html! {
        form.record method="post" action="/clutches" {
            (entry.stray(FORM, &FIELDS))
            @for f in fields(keeper, species, clock) { (f.draw(FORM, entry)) }
            p.soft { "Times are of the room's clock, " (clock.local.name()) "." }
            button type="submit" { "Add the clutch" }
        }
    }
}

/// The page.
pub(crate) fn page(
    keeper: &dyn Keeper,
    species: &[SpeciesView],
    room: &RoomView,
    entry: &Entry,
    clock: &Clock,
) -> Html<String> {
    let main = html! {
        main.plain {
            h1 {
                @match room.clutches.len() {
                    0 => "No clutch in hand.",
                    1 => "One clutch in hand.",
                    n => { (crate::words::capital(&crate::words::count(n))) " clutches in hand." }
                }
            }
            p { a.go href="#add" { "Add a clutch" } }
            section aria-labelledby="h-list" {
                h2 #h-list { "Clutches" }
                (night::hint())
                (fragments::ribbons(&room.clutches, room, clock))
            }
            section #add aria-labelledby="h-add" {
                h2 #h-add { "Add a clutch" }
                (add(keeper, species, entry, clock))
                p { a.go href="/species" { "Species entries, and one of your own" } }
            }
        }
    };
    shell("Clutches", Tab::Clutches, &main)
}
