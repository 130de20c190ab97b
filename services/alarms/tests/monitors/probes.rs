//! Probes that cannot be right: stuck, at odds with each other, refused.

use crate::sim::{Chance, Tank, rounded};
use crate::{DAY, NIGHTS, Watch, at};
use alarms::monitors::{Disagree, Refusals, Stuck};
use units::Span;

/// When somebody is called of a probe's values by minutes.
fn stuck(mut probe: Stuck, minutes: i64, mut says: impl FnMut(i64) -> f64) -> Vec<i64> {
    let mut watch = Watch::new(Stuck::settings());
    let judged = |minute: i64| {
        let repeats = probe.note(at(minute), says(minute)).then(|| probe.judge()).flatten()?;
        watch.calls(at(minute), repeats.number()).then_some(minute)
    };
    (0..minutes).filter_map(judged).collect()
}

/// Water so steady, on a probe so coarse, that it says one value for much of a night, and another by day.
fn steady(chance: &mut Chance, minute: i64) -> f64 {
    let day = 0.06 * (minute as f64 / DAY as f64 * std::f64::consts::TAU).sin();
    rounded(26.06 + day + 0.003 * chance.normal(), 0.0625)
}

#[test]
fn quiet_nights_of_steady_water_and_of_flow() {
    let mut chance = Chance(51);
    let called = stuck(Stuck::of_water(), NIGHTS * DAY, |m| steady(&mut chance, m));
    assert!(called.is_empty(), "steady water: {called:?}");
    let mut tank = Tank::heated(52);
    let called = stuck(Stuck::of_water(), NIGHTS * DAY, |_| tank.step());
    assert!(called.is_empty(), "heated water: {called:?}");
    // Where the step hides the noise, most readings repeat the one before.
    for step in [0.01, 0.02, 0.05, 0.1] {
        let says = |_| rounded(0.81 + 0.02 * chance.normal(), step);
        let called = stuck(Stuck::of_air(), NIGHTS * DAY, says);
        assert!(called.is_empty(), "flow in steps of {step}: {called:?}");
    }
    // Off for half of each day: nought is no fault of the probe.
    let says = |m| if m % DAY < 720 { 0.0 } else { 0.8 + 0.02 * chance.normal() };
    let called = stuck(Stuck::of_air(), NIGHTS * DAY, says);
    assert!(called.is_empty(), "flow that is off by night: {called:?}");
}

#[test]
fn the_limit_follows_from_what_the_probe_does() {
    let mut chance = Chance(53);
    let mut flow = |step| {
        let says = |m| if m < 5 * DAY { rounded(0.8 + 0.02 * chance.normal(), step) } else { 0.8 };
        stuck(Stuck::of_air(), 6 * DAY, says)
    };
    let (fine, coarse) = (flow(0.01), flow(0.05));
    let mut tank = Tank::heated(54);
    let mut held = 26.0;
    let water = stuck(Stuck::of_water(), 7 * DAY, |m| {
        let says = tank.step();
        held = if m < 5 * DAY { says } else { held };
        held
    });
    let still =
        stuck(Stuck::of_water(), 12 * DAY, |m| if m < 5 * DAY { steady(&mut chance, m) } else { 26.0625 });
    let hours = |called: &[i64]| (called[0] - 5 * DAY) as f64 / 60.0;
    println!(
        "stuck: a flow meter of 0.01 L/min is told after {:.2} h, one of 0.05 after {:.2} h, heated water after {:.1} h, water \
         that rightly stands for hours after {:.1} h",
        hours(&fine),
        hours(&coarse),
        hours(&water),
        hours(&still)
    );
    assert!(hours(&fine) < 0.5 && hours(&coarse) < 3.0);
    assert!(hours(&water) < 8.0 && hours(&still) > 12.0 && hours(&still) < 48.0);
    assert_eq!([&fine, &coarse, &water, &still].map(Vec::len), [1; 4]);
}

#[test]
fn silence_is_not_repetition_and_a_day_must_be_known() {
    let mut chance = Chance(55);
    let mut probe = Stuck::of_water();
    (0..DAY).for_each(|m| _ = probe.note(at(m), rounded(0.8 + 0.02 * chance.normal(), 0.01)));
    probe.note(at(DAY), 0.81);
    probe.note(at(2 * DAY), 0.81); // silent for a day, then the same
    assert!(probe.judge().unwrap().lasting <= Span::minutes(15));
    let mut young = Stuck::of_water();
    (0..600).for_each(|m| _ = young.note(at(m), 26.0));
    assert_eq!(young.judge(), None);
}

/// Two probes in one tank; the first stops at the fifth day.
#[test]
fn stuck_while_a_sister_moves() {
    let (mut tank, mut chance) = (Tank::heated(56), Chance(57));
    let (mut one, mut other) = (Stuck::of_water(), Stuck::of_water());
    let (mut watch, mut held, mut called) = (Watch::new(Stuck::settings()), 0.0, Vec::new());
    for minute in 0..6 * DAY {
        let says = tank.step();
        held = if minute < 5 * DAY { says } else { held };
        other.note(at(minute), rounded(tank.celsius + 0.2 + 0.03 * chance.normal(), 0.0625));
        let beside = one.note(at(minute), held).then(|| one.beside(&other)).flatten();
        if let Some(beside) = beside
            && watch.calls(at(minute), beside.number())
        {
            called.push((minute - 5 * DAY, beside));
        }
    }
    println!("stuck beside a sister that moves: {called:?}");
    assert!(called.len() == 1 && (50..240).contains(&called[0].0) && called[0].1.moved >= 0.3);
}

#[test]
fn steady_water_is_not_stuck_beside_its_sister() {
    let mut chance = Chance(58);
    let (mut one, mut other) = (Stuck::of_water(), Stuck::of_water());
    for minute in 0..NIGHTS * DAY {
        other.note(at(minute), steady(&mut chance, minute) + 0.25);
        if one.note(at(minute), steady(&mut chance, minute)) {
            let number = one.beside(&other).map_or(0.0, |beside| beside.number());
            assert!(number < 1.0, "minute {minute}: {number}");
        }
    }
}

/// Two rated 0.5 K, as far apart as that allows but for a little, in a tank with a heater.
#[test]
fn probes_that_differ_by_what_they_may_are_no_fault() {
    let (mut tank, mut chance) = (Tank::heated(61), Chance(62));
    let mut pair = Disagree::new(Disagree::ONE_WIRE, Disagree::ONE_WIRE).unwrap();
    let mut watch = Watch::new(pair.settings());
    for minute in 0..NIGHTS * DAY {
        let says = tank.step();
        pair.note_first(at(minute), says);
        pair.note_second(at(minute), rounded(tank.celsius + 0.9 + 0.03 * chance.normal(), 0.0625));
        let number = pair.judge().map_or(0.0, |apart| apart.number());
        assert!(!watch.calls(at(minute), number), "minute {minute}");
    }
}

#[test]
fn a_probe_that_goes_off_is_told_by_its_sister() {
    let (mut tank, mut chance) = (Tank::heated(63), Chance(64));
    let mut pair = Disagree::new(0.5, 0.5).unwrap();
    let (mut watch, mut called) = (Watch::new(pair.settings()), Vec::new());
    for minute in 0..DAY {
        let off = if minute < 600 { 0.2 } else { 1.6 };
        let says = tank.step();
        pair.note_first(at(minute), says + off);
        pair.note_second(at(minute), rounded(tank.celsius + 0.03 * chance.normal(), 0.0625));
        if let Some(apart) = pair.judge()
            && watch.calls(at(minute), apart.number())
        {
            called.push((minute - 600, apart));
        }
    }
    println!("disagree, off by 1.6 K: {called:?}");
    assert!(called.len() == 1 && (15..=35).contains(&called[0].0) && called[0].1.by > 1.0);
    assert!((called[0].1.first - called[0].1.second - called[0].1.by).abs() < 0.3);
    for (a, b) in [(0.0, 0.0), (-0.1, 0.5), (f64::NAN, 0.5), (f64::INFINITY, 0.5)] {
        assert!(Disagree::new(a, b).is_none());
    }
}

#[test]
fn one_that_is_silent_is_not_compared() {
    let mut pair = Disagree::new(0.5, 0.5).unwrap();
    (0..60).for_each(|m| _ = pair.note_first(at(m), 26.0));
    (0..30).for_each(|m| _ = pair.note_second(at(m), 29.0));
    assert_eq!(pair.judge(), None);
}

/// A message a minute, of which one in fifty is refused, and a board that starts again once a day and says 85.0 twice.
#[test]
fn some_refusals_are_quiet() {
    let (mut chance, mut count, mut watch) = (Chance(65), Refusals::new(), Watch::new(Refusals::settings()));
    for minute in 0..NIGHTS * DAY {
        let refused = minute % DAY < 2 || chance.uniform() < 0.02;
        count.note(at(minute), refused);
        assert!(!watch.calls(at(minute), count.share(at(minute)).number()), "minute {minute}");
    }
}

#[test]
fn a_probe_that_has_come_off_is_told() {
    for (every, part) in [(1, 1.0), (1, 0.8), (5, 1.0)] {
        let (mut chance, mut count, mut watch) =
            (Chance(66), Refusals::new(), Watch::new(Refusals::settings()));
        let mut called = Vec::new();
        for minute in 0..DAY {
            if minute % every == 0 {
                count.note(at(minute), minute >= 600 && chance.uniform() < part);
            }
            if watch.calls(at(minute), count.share(at(minute)).number()) {
                called.push((minute - 600, count.share(at(minute))));
            }
        }
        println!("refusals, {part} of a message every {every} min: {called:?}");
        assert!(!called.is_empty() && called[0].0 <= 30);
    }
}

#[test]
fn counts_of_any_order_are_the_same() {
    let notes: Vec<(i64, bool)> = (0..40).map(|m| (m * 7 % 40, m % 3 == 0)).collect();
    let mut sorted = notes.clone();
    sorted.sort_unstable();
    let counted = |notes: &[(i64, bool)]| {
        let mut count = Refusals::new();
        notes.iter().for_each(|(m, refused)| count.note(at(*m), *refused));
        count
    };
    assert_eq!(counted(&notes), counted(&sorted));
    assert_eq!(counted(&sorted).share(at(39)).refused + counted(&sorted).share(at(39)).accepted, 15);
}

/// Stuck for a week: what it said before is forgotten, and it is still stuck.
#[test]
fn one_that_has_long_been_stuck_is_not_well_again() {
    let (mut chance, mut probe) = (Chance(67), Stuck::of_air());
    (0..DAY).for_each(|m| _ = probe.note(at(m), rounded(0.8 + 0.02 * chance.normal(), 0.01)));
    (DAY..2 * DAY).for_each(|m| _ = probe.note(at(m), 0.8));
    assert!(probe.judge().unwrap().number() > 1.0 && !probe.has_forgotten());
    (2 * DAY..8 * DAY).for_each(|m| _ = probe.note(at(m), 0.8));
    assert!(probe.judge().is_none() && probe.has_forgotten());
}
