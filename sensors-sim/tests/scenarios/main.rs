//! Plays every scenario that comes with the program, and looks whether it says what its name promises: in the truth,
//! and in what the devices send.
#![allow(clippy::unwrap_used, clippy::panic, missing_docs, reason = "test code")]

mod calm;
mod devices;
mod faults;
mod hatchery;
mod play;
mod readme;
mod undercroft;
mod water;

use play::{Check, play, play_text};
use sensors_sim::{Scenario, Shipped, shipped};

/// Scenarios that have tests of their own below.
const OTHERS: [&str; 3] = ["four-stages", "load-1000", "undercroft-cut"];

#[test]
fn every_scenario_reads_and_has_its_checks() {
    for known in Shipped::all() {
        let scenario = Scenario::from_toml(&known.text).unwrap_or_else(|e| panic!("{}: {e}", known.name));
        assert!(!scenario.about.is_empty() && !scenario.about.contains('\n'), "{}: about", known.name);
        let name = known.name.as_str();
        let tables = [&short()[..], &LONG.concat()].concat();
        let checked = tables.iter().any(|(n, _)| *n == name) || OTHERS.contains(&name);
        assert!(checked, "{name} has no check; add one to the table of one of the files beside this one");
    }
}

#[test]
fn every_fault_shows_its_sign() {
    all_hold(&short());
}

/// Beside the faults, so that both cores of a small machine have something to do.
#[test]
fn the_long_rooms_keep_their_promise() {
    all_hold(&LONG.concat());
}

fn short() -> Vec<Check> {
    [faults::CHECKS, water::CHECKS, devices::CHECKS].concat()
}

const LONG: [&[Check]; 3] = [hatchery::CHECKS, calm::CHECKS, undercroft::CHECKS];

/// Each is tried, so that one run tells of all that fail.
fn all_hold(checks: &[Check]) {
    let fails = |(name, check): &&Check| std::panic::catch_unwind(|| check(&play(name))).is_err();
    let failed: Vec<_> = checks.iter().filter(fails).map(|(name, _)| *name).collect();
    assert_eq!(failed, [""; 0]);
}

#[test]
fn the_room_of_the_demo_has_two_cool_nights() {
    let p = play("undercroft-cut");
    for night in [("day 9 05:00", "day 9 05:40"), ("day 20 05:00", "day 20 05:40")] {
        p.within("V1/temperature", night, 24.5, 25.7);
    }
    p.within("V1/temperature", ("day 15 00:00", "day 15 23:59"), 26.6, 27.4);
}

/// A day of it is 8.6 million messages; ten minutes show the rate.
#[test]
fn a_thousand_probes_speak_every_ten_seconds() {
    let text = shipped("load-1000").unwrap().text.replace("length = \"1 d\"", "length = \"10 min\"");
    let p = play_text(&text);
    assert_eq!(p.readings("00:00", "00:10").count(), 1000 * 60);
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
