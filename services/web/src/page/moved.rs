//! The part of a clutch's page that tells what moved its dates since the last dusk.

use super::Clock;
use super::whatif::moved;
use crate::keeper::Trouble;
use crate::whatif::{Moved, PartMoved, StageMoved};
use crate::words;
use maud::{Markup, html};
use units::{Span, Stage, Time};

/// Below this nothing is shown.
const SHOWN: Span = Span::minutes(1);

/// The parts of each stage, or why there are none.
pub(crate) fn parts(since: &Result<Moved, Trouble>, clock: &Clock) -> Markup {
    let found = match since {
        Ok(found) => found,
        Err(Trouble::Refused { reason, .. }) => {
            return html! { p.soft { (words::capital(reason)) "." } };
        }
        Err(trouble) => return html! { p.soft { (trouble) } },
    };
    let far = |s: &StageMoved| s.parts.iter().any(|p| p.gained.abs() >= SHOWN);
    let shown = |s: &&StageMoved| matches!(s.stage, Stage::Hatch | Stage::FreeSwimming) && far(s);
    let stages: Vec<&StageMoved> = found.stages.iter().filter(shown).collect();
    html! {
        @if stages.is_empty() { p { "Since " (clock.local.full(found.from)) " nothing has moved by a minute." } }
        @for s in stages { (stage(s, found.from, clock)) }
    }
}

fn stage(s: &StageMoved, since: Time, clock: &Clock) -> Markup {
    html! {
        table.water {
            caption { "Since " (clock.local.full(since)) ": " (words::stage(s.stage)) " " b { (moved(-s.gained)) } }
            thead { tr { th scope="col" { "When" } th scope="col" { "What" } th scope="col" { "Moved it" } } }
            tbody { @for p in &s.parts { tr { td { (stretch(p, clock)) } td { (p.cause) } td { (moved(-p.gained)) } } } }
            tfoot { tr { th scope="row" colspan="2" { "In all, from " (clock.local.full(s.before)) " to " (clock.local.full(s.after)) }
                td { b { (moved(-s.gained)) } } } }
        }
    }
}

/// `Thu 26 Nov, 02:00 to 06:00`
fn stretch(p: &PartMoved, clock: &Clock) -> String {
    let from = clock.local.full(p.from);
    match clock.local.date(p.from) == clock.local.date(p.to) {
        _ if p.from == p.to => from,
        true => format!("{from} to {}", clock.local.hm(p.to)),
        false => format!("{from} to {}", clock.local.full(p.to)),
    }
}
