//! The hatchery of two hundred jars: its cuts, and the night on which the strainer blocks.

use super::play::{Check, Played};
use sensors_sim::Known;
use units::Time;

pub(crate) const CHECKS: &[Check] = &[("hatchery-200", hatchery)];

fn hatchery(p: &Played) {
    assert_eq!(p.truth.iter().filter(|t| matches!(t.what, Known::Clutch { .. })).count(), 200);
    standby_bridges_a_dead_circuit(p);
    banks_run_dry_from_the_end_of_the_line(p);
    // Every bank has all its flow again when the strainer is rinsed.
    for bank in 1..=4 {
        p.within(&format!("B{bank}-50/water-flow"), ("day 2 08:00", "day 2 16:00"), 2.3, 3.1);
    }
}

fn standby_bridges_a_dead_circuit(p: &Played) {
    let cut = ("day 1 14:22", "day 1 14:44");
    p.within("mains-switch/pump-house", cut, 0.0, 0.0);
    p.within("mains-switch/standby", cut, 1.0, 1.0);
    p.within("B4-50/water-flow", cut, 2.0, 3.2);
    let header = p.values("level/header", "day 1 14:20", "day 1 14:25");
    assert!(header.iter().any(|l| *l < 95.0), "the header falls until the standby runs: {header:?}");
    // Without the grid there is no pump at all.
    p.within("level/header", ("day 1 21:10", "day 1 21:12"), 0.0, 60.0);
}

fn banks_run_dry_from_the_end_of_the_line(p: &Played) {
    let dry = |bank: u32| -> Time {
        let all = p.of(&format!("B{bank}-01/water-flow"), "day 2 00:00", "day 2 07:30");
        all.into_iter().find(|s| super::play::value(s).is_some_and(|v| v < 0.675)).unwrap().at
    };
    let order = [dry(4), dry(3), dry(2), dry(1)];
    assert!(order.is_sorted(), "{order:?}");
    let ahead = (order[3] - order[0]).as_minutes();
    assert!((30.0..50.0).contains(&ahead), "bank 4 loses its flow {ahead} min before bank 1");
    p.within("level/header", ("day 2 00:00", "day 2 03:05"), 97.0, 101.5);
    p.within("level/header", ("day 2 03:40", "day 2 04:00"), 60.0, 97.0);
    p.within("power/w1", ("day 2 05:00", "day 2 07:00"), 700.0, 800.0);
}
