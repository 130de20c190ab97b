//! The opening page.

use super::{Clock, Tab, cautions, fragments, shell, simulated::PLACE};
use crate::simulated::Simulated;
use crate::view::RoomView;
use axum::response::Html;
use maud::{Markup, html};

/// The opening page of the room.
pub(crate) fn page(room: &RoomView, toy: Option<&Simulated>, clock: &Clock) -> Html<String> {
    let parts = fragments::all(room, toy, clock);
    let at = |id: &str| -> Markup {
        parts.iter().find(|(name, _)| *name == id).map_or_else(|| html! {}, |(_, m)| m.clone())
    };
    let main = html! {
        main data-live="/api/v1/events" data-clock=(clock.local.hm(clock.now)) {
            header {
                @if toy.is_some() { div #simulated-line { (at("simulated-line")) } }
                div #headline { (at("headline")) }
                // One line for each alarm, of which only new ones are read out.
                p.vh #status role="status" aria-atomic="false" aria-relevant="additions" { (at("status")) }
                p.vh #done role="status" {}
                section #alarms aria-label="Alarms" { (at("alarms")) }
                section #notices aria-label="Due today" { (at("notices")) }
            }
            div {
                section aria-labelledby="h-rack" {
                    h2 #h-rack { "Are they turning?" }
                    p { "Eggs spread = turning. Eggs heaped = still. Hollow with ? = not known. A tilted waterline = water drifting." }
                    div #rack { (at("rack")) }
                }
                section aria-labelledby="h-tanks" {
                    h2 #h-tanks { "The tanks" }
                    p { "Two posts = the band, the dot = the water now." }
                    div #tanks { (at("tanks")) }
                }
                section aria-labelledby="h-strip" {
                    h2 #h-strip { "Since dusk" }
                    p { "A slanted stroke for each six minutes of turning. A solid bar = still. Blank = not heard." }
                    div #strip { (at("strip")) }
                    p { a.go href="/night" { "How the last night was" } }
                }
            }
            div {
                section aria-labelledby="h-ribbons" {
                    h2 #h-ribbons { "Who hatches next?" }
                    (hint())
                    div #ribbons { (at("ribbons")) }
                }
                section aria-labelledby="h-refused" {
                    h2 #h-refused { "Not accepted" }
                    div #refused { (at("refused")) }
                }
            }
            @if toy.is_some() {
                section id=(PLACE) aria-labelledby="h-break" {
                    h2 #h-break { "Break something" }
                    p { "This room is simulated: nothing that you break here is alive. Break it, and watch what the service makes of it; it hears only what the probes say." }
                    div #simulated { (at("simulated")) }
                }
            }
            section aria-labelledby="h-calls" {
                h2 #h-calls { "If something happens" }
                p { a.go href="/calls" { "Who is called, and a button to try it" } }
                button #sound type="button" aria-pressed="false" hidden { "Sound on this device: off" }
            }
            (cautions())
        }
    };
    shell("Night", Tab::Night, &main)
}

/// How a ribbon is read; folded, since it is learnt once.
pub(crate) fn hint() -> Markup {
    html! {
        details.hint {
            summary { "How to read the ribbons" }
            p {
                "Thickness = speed of development, so the area is the heat gathered. Right of the upright line lies what is to come: "
                "each lens is a window from earliest to latest. Dots below = where each earlier night had put it, the oldest lowest. "
                "A line above or below the ribbon = warmer or colder than the band; a dotted gap = not read. "
                "Diamond = seen by the keeper. Days after the fifth are folded small."
            }
        }
    }
}
