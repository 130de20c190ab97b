//! Nights drawn by chance through the whole service, on a clock that is moved by hand: quiet ones, in which nobody may be
//! woken, and nights with one fault, which must be told of in time. `HATCHWARDEN_SEED` draws others.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod chance;
mod cut;
mod fault;
mod hands;
mod house;
mod kinds;
mod play;
mod quiet;
mod report;

use fault::fault_night;
use hands::play_all;
use quiet::{Quiet, quiet_night, told};

const QUIET: usize = 60;
const FAULTS: usize = 200;
/// A keeper who is woken for nothing more often than once in two months stops getting up: a planning value.
const FALSE_PAGES: usize = 1;

#[test]
fn sixty_quiet_nights_wake_nobody() {
    let seed = chance::seed();
    let nights = play_all(QUIET, async |number| quiet_night(seed, number).await);
    let count = |of: fn(&Quiet) -> usize| nights.iter().map(of).sum::<usize>();
    let (pages, silences) = (count(|n| n.pages.len()), count(|n| n.silences.len()));
    println!("{}{pages} false pages in {QUIET} nights", told(&nights));
    println!("{silences} devices or probes were silent for a while");
    assert_eq!(count(|n| n.unquiet.len()), 0, "something was really wrong: draw quieter nights");
    assert!(pages <= FALSE_PAGES, "{pages} false pages in {QUIET} nights");
}

#[test]
fn none_of_two_hundred_faults_is_missed() {
    let seed = chance::seed();
    let all = play_all(FAULTS, async |number| fault_night(seed, number).await);
    println!("{}", report::table(&all));
    let unshown: Vec<String> = all.iter().filter(|t| t.truth.is_none()).map(report::whole).collect();
    assert!(unshown.is_empty(), "faults that harmed nothing: draw worse ones\n{}", unshown.join("\n"));
    let missed: Vec<String> = all.iter().filter(|t| t.missed()).map(report::whole).collect();
    assert!(missed.is_empty(), "{} missed\n{}", missed.len(), missed.join("\n"));
}
