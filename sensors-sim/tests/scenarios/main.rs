//! Plays every scenario that comes with the program, and looks whether it says what its name promises: in the truth,
//! and in what the devices send.
#![allow(clippy::unwrap_used, clippy::panic, missing_docs, reason = "test code")]

mod calm;
mod devices;
mod faults;
mod hatchery;
mod play;
mod undercroft;
mod water;

use play::{Check, play};
use sensors_sim::{Scenario, Shipped};

/// Scenarios that have checks of their own elsewhere in this test.
const OTHERS: [&str; 1] = ["four-stages"];
/// Played by other tests of this crate, and long.
const ELSEWHERE: [&str; 2] = ["load-1000", "undercroft-cut"];

#[test]
fn every_scenario_reads_and_has_its_checks() {
    for known in Shipped::all() {
        let scenario = Scenario::from_toml(&known.text).unwrap_or_else(|e| panic!("{}: {e}", known.name));
        assert!(!scenario.about.is_empty() && !scenario.about.contains('\n'), "{}: about", known.name);
        let name = known.name.as_str();
        let checked = checks().any(|(n, _)| n == name) || OTHERS.contains(&name) || ELSEWHERE.contains(&name);
        assert!(checked, "{name} has no check; add one to the table of one of the files beside this one");
    }
}

#[test]
fn everything_shows_its_sign() {
    // Each is tried, so that one run tells of all that fail.
    let fails = |(name, check): &Check| std::panic::catch_unwind(|| check(&play(name))).is_err();
    let failed: Vec<_> = checks().filter(fails).map(|(name, _)| name).collect();
    assert_eq!(failed, [""; 0]);
}

fn checks() -> impl Iterator<Item = Check> {
    [faults::CHECKS, water::CHECKS, devices::CHECKS, hatchery::CHECKS, calm::CHECKS, undercroft::CHECKS]
        .into_iter()
        .flatten()
        .copied()
}

/// Nothing happens in the base of the faults, and no clutch passes a stage in its day.
#[test]
fn the_base_room_is_calm_and_every_clutch_stays_in_its_stage() {
    let day = play("four-stages");
    assert!(
        !day.tells("first") && !day.tells("half") && !day.tells("still") && !day.tells("cannot be heard")
    );
    for tumbler in ["TU1", "TU2", "TU3", "TU4"] {
        let flows = day.values(&format!("{tumbler}/air-flow"), "00:00", "23:59");
        assert!(flows.len() > 8_600 && flows.iter().all(|f| (0.35..0.55).contains(f)), "{tumbler}");
    }
    let water = day.values("V1/temperature", "00:00", "23:59");
    assert!(water.iter().all(|c| (26.5..27.5).contains(c)));
    assert!(day.values("V1/leak-switch", "00:00", "23:59").iter().all(|dry| *dry == 1.0));
}
