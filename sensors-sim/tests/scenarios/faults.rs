//! Air and mains: what each fault promises, and its sign in the readings.

use super::play::{Check, Played};

pub(crate) const CHECKS: &[Check] = &[
    ("fault-air-power", power),
    ("fault-air-fuse", fuse),
    ("fault-air-fault-current", fault_current),
    ("fault-air-pump", pump),
    ("fault-air-diaphragm", diaphragm),
    ("fault-air-clog", clog),
    ("fault-air-hose-before", hose_before),
    ("fault-air-hose-behind", hose_behind),
    ("fault-air-creep", creep),
    ("fault-air-neighbour", neighbour),
    ("fault-back-siphon", back_siphon),
    ("fault-unplugged", unplugged),
    ("fault-power-battery", battery),
];

/// The tumblers with their clutches, and when a fault that strikes one after the other is at its full size.
pub(crate) const STRIKES: [(&str, &str, (&str, &str)); 4] = [
    ("TU1", "EGGS", ("01:15", "01:25")),
    ("TU2", "EYED", ("02:45", "02:55")),
    ("TU3", "WRIGGLERS", ("04:15", "04:25")),
    ("TU4", "FREE", ("05:45", "05:55")),
];
/// Before anything goes wrong.
const BEFORE: (&str, &str) = ("00:00", "00:09");

fn flow(tumbler: &str) -> String {
    format!("{tumbler}/air-flow")
}

/// Pressure between valve and stone.
fn behind_valve(tumbler: &str) -> String {
    format!("{tumbler}/line-pressure")
}

fn all_still(p: &Played, during: (&str, &str)) {
    for (tumbler, clutch, _) in STRIKES {
        p.within(&flow(tumbler), during, 0.0, 0.0);
        p.within(&flow(tumbler), BEFORE, 0.35, 0.55);
        assert!(p.tells(&format!("{clutch} lies still in {tumbler}")), "{clutch}");
    }
}

fn all_turn(p: &Played, during: (&str, &str)) {
    for (tumbler, clutch, _) in STRIKES {
        p.within(&flow(tumbler), during, 0.35, 0.55);
        assert!(p.tells(&format!("{clutch} turns again in {tumbler}")), "{clutch}");
    }
}

/// A check valve keeps the pressure of the shallowest outlet, 0.15 m or 1.47 kPa, and that leaks away.
fn pressure_is_held_and_leaks(p: &Played) {
    p.within("V1/line-pressure", BEFORE, 7.7, 8.3);
    p.within("V1/line-pressure", ("02:18", "02:21"), 1.1, 1.7);
    p.within("V1/line-pressure", ("02:56", "03:03"), 0.2, 0.8);
}

fn power(p: &Played) {
    all_still(p, ("02:01", "03:29"));
    all_turn(p, ("03:31", "07:59"));
    p.within("V1/mains-switch", ("02:02", "03:29"), 0.0, 0.0);
    assert!(p.of("power/p1", "02:01", "03:29").is_empty(), "the plug has no battery");
    assert!(p.tells("device plug cannot be heard: no power"));
}

fn fuse(p: &Played) {
    all_still(p, ("02:01", "03:29"));
    p.within("mains-switch/air", ("02:02", "03:29"), 0.0, 0.0);
    p.within("mains-switch/heat", ("02:02", "03:29"), 1.0, 1.0);
    p.within("power/p1", ("02:01", "03:29"), 0.0, 0.0);
    p.within("power/w1", ("02:01", "03:29"), 15.0, 35.0);
}

fn fault_current(p: &Played) {
    all_still(p, ("02:01", "03:29"));
    p.within("mains-switch/air", ("02:02", "03:29"), 0.0, 0.0);
    p.within("mains-switch/heat", ("02:02", "03:29"), 0.0, 0.0);
    p.within("V1/mains-switch", ("02:02", "03:29"), 1.0, 1.0);
    p.within("JR1/water-flow", ("03:15", "03:29"), 0.0, 0.1);
    assert!(p.mean("V1/temperature", "02:00", "02:05") - p.mean("V1/temperature", "03:20", "03:29") > 0.1);
}

fn pump(p: &Played) {
    all_still(p, ("02:18", "03:06"));
    all_turn(p, ("03:08", "07:59"));
    pressure_is_held_and_leaks(p);
    p.within("power/p1", ("02:18", "07:59"), 0.0, 0.0);
}

fn diaphragm(p: &Played) {
    all_still(p, ("02:18", "03:03"));
    all_turn(p, ("03:05", "07:59"));
    pressure_is_held_and_leaks(p);
    p.within("power/p1", ("02:18", "07:59"), 2.0, 5.6);
}

/// Each tumbler in its turn has little flow and its clutch lies still, while the next has its usual flow.
fn one_after_the_other(p: &Played) {
    for (i, (tumbler, clutch, (from, to))) in STRIKES.into_iter().enumerate() {
        p.within(&flow(tumbler), (from, to), 0.0, 0.11);
        p.within(&flow(STRIKES[(i + 1) % 4].0), (from, to), 0.3, 0.6);
        assert!(p.tells(&format!("{clutch} lies still in {tumbler}")), "{clutch}");
    }
}

fn clog(p: &Played) {
    one_after_the_other(p);
    for (tumbler, _, (from, to)) in STRIKES {
        let usual = p.mean(&behind_valve(tumbler), BEFORE.0, BEFORE.1);
        p.within(&behind_valve(tumbler), (from, to), usual + 1.5, 8.3);
    }
}

fn creep(p: &Played) {
    one_after_the_other(p);
    for (tumbler, _, (from, to)) in STRIKES {
        let usual = p.mean(&behind_valve(tumbler), BEFORE.0, BEFORE.1);
        assert!(p.mean(&behind_valve(tumbler), from, to) < usual - 0.5, "{tumbler}");
    }
}

fn hose_before(p: &Played) {
    one_after_the_other(p);
    for (tumbler, _, (from, to)) in STRIKES {
        p.within(&flow(tumbler), (from, to), 0.0, 0.0);
        assert!(p.mean(&behind_valve(tumbler), from, to) < 0.1);
    }
    let usual = p.mean(&flow("TU2"), BEFORE.0, BEFORE.1);
    assert!(
        p.mean(&flow("TU2"), "00:31", "01:29") < 0.97 * usual,
        "the air lost should be missing at others"
    );
}

fn hose_behind(p: &Played) {
    for (tumbler, clutch, (from, to)) in STRIKES {
        let usual = p.mean(&flow(tumbler), BEFORE.0, BEFORE.1);
        let now = p.mean(&flow(tumbler), from, to);
        assert!(now > 1.5 * usual, "{tumbler}: {now} after {usual}");
        assert!(p.tells(&format!("{clutch} lies still in {tumbler}")), "{clutch}");
    }
}

fn neighbour(p: &Played) {
    for (tumbler, clutch, _) in STRIKES {
        p.within(&flow(tumbler), ("00:12", "02:08"), 0.0, 0.2);
        p.within(&flow(tumbler), ("02:11", "07:59"), 0.35, 0.55);
        assert!(p.tells(&format!("{clutch} lies still in {tumbler}")), "{clutch}");
    }
    p.within("V1/line-pressure", ("00:12", "02:08"), 3.0, 6.0);
    p.within("power/p1", ("00:12", "02:08"), 2.0, 5.6);
}

fn back_siphon(p: &Played) {
    all_still(p, ("02:18", "03:16"));
    p.within("V1/line-pressure", ("02:18", "03:16"), -0.3, 0.3);
    p.within("V1/leak-switch", ("00:30", "02:16"), 1.0, 1.0);
    p.within("V1/leak-switch", ("02:18", "03:16"), 0.0, 0.0);
}

fn unplugged(p: &Played) {
    all_still(p, ("00:21", "01:34"));
    all_turn(p, ("01:36", "07:59"));
    p.within("power/p1", ("00:21", "01:34"), 0.0, 0.0);
    p.within("mains-switch/air", ("00:21", "01:34"), 1.0, 1.0);
}

fn battery(p: &Played) {
    for (tumbler, ..) in STRIKES {
        p.within(&flow(tumbler), ("02:01", "03:59"), 0.12, 0.9);
    }
    assert!(!p.tells("lies still in TU"));
    p.within("V1/mains-switch", ("02:02", "03:59"), 0.0, 0.0);
    p.within("JR1/water-flow", ("03:00", "03:59"), 0.0, 0.1);
    assert!(
        p.mean("V1/room-temperature", "02:00", "02:05") - p.mean("V1/room-temperature", "03:50", "03:59")
            > 0.3
    );
}
