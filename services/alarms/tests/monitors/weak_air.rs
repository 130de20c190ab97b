use crate::sim::{Chance, rounded};
use crate::{DAY, NIGHTS, Watch, at};
use alarms::monitors::{Rise, Weak, WeakAir};

/// The flow of a tumbler minute by minute: 0.8 L/min at first, a day of 2 %, noise of 3 %, half of it slow, and a
/// bubble that sticks for some minutes now and then; the probe has `step`.
struct Tumbler {
    chance: Chance,
    slow: f64,
    bubble: i64,
    step: f64,
}

impl Tumbler {
    fn new(seed: u64, step: f64) -> Self {
        Self { chance: Chance(seed), slow: 0.0, bubble: 0, step }
    }

    fn says(&mut self, minute: i64, flow: f64) -> f64 {
        self.slow += -self.slow / 30.0 + 0.015 * (2.0_f64 / 30.0).sqrt() * self.chance.normal();
        if self.chance.uniform() < 1.0 / 720.0 {
            self.bubble = minute + 3;
        }
        let day = 0.02 * (minute as f64 / DAY as f64 * std::f64::consts::TAU).sin();
        let bubble = if minute < self.bubble { 0.6 } else { 1.0 };
        rounded(flow * bubble * (1.0 + day + self.slow + 0.02 * self.chance.normal()), self.step).max(0.0)
    }
}

/// When somebody is called, and what was found then, of a flow by minutes.
fn run(seed: u64, step: f64, minutes: i64, flow: impl Fn(i64) -> f64) -> Vec<(i64, Weak)> {
    let (mut tumbler, mut air) = (Tumbler::new(seed, step), WeakAir::new());
    let mut watch = Watch::new(WeakAir::settings());
    let mut called = Vec::new();
    for minute in 0..minutes {
        if air.note(at(minute), tumbler.says(minute, flow(minute)))
            && let Some(weak) = air.judge()
            && watch.calls(at(minute), weak.number())
        {
            called.push((minute, weak));
        }
    }
    called
}

#[test]
fn quiet_nights() {
    for (seed, step) in [(1, 0.01), (2, 0.1)] {
        let called = run(seed, step, NIGHTS * DAY, |_| 0.8);
        println!("weak air, probe of {step} L/min: {} false pages in {NIGHTS} nights", called.len());
        assert!(called.is_empty(), "{called:?}");
    }
}

/// A stone that clogs within hours, from 0.8 L/min to nothing.
#[test]
fn a_clogging_stone_is_told_before_the_air_stops() {
    for (hours, step) in [
        (60.0, 0.01),
        (48.0, 0.01),
        (1.0, 0.01),
        (4.0, 0.01),
        (12.0, 0.01),
        (24.0, 0.01),
        (4.0, 0.05),
        (4.0, 0.1),
    ] {
        let minutes = (hours * 60.0) as i64;
        let clog = |m: i64| 0.8 * (1.0 - ((m - 2 * DAY) as f64 / (hours * 60.0)).max(0.0));
        let called = run(5, step, 2 * DAY + minutes, clog);
        let (found, weak) = called[0];
        let after = (found - 2 * DAY) as f64 / 60.0;
        println!(
            "weak air, clogged within {hours} h, probe of {step} L/min: told after {after:.2} h at {:.2} L/min, {:.0} % and {:.1} spreads under {:.2} L/min",
            weak.flow, weak.percent, weak.spreads, weak.usual
        );
        assert!(called.len() == 1 && after > 0.0 && after < 0.75 * hours);
        assert!(weak.flow > 0.15 && weak.stepped.is_none());
    }
}

#[test]
fn a_valve_turned_down_and_left_is_no_alarm() {
    for (seed, to) in [(6, 0.6), (7, 0.5), (8, 0.45)] {
        let called = run(seed, 0.01, 6 * DAY, |m| if m < 3 * DAY + 77 { 0.8 } else { to });
        assert!(called.is_empty(), "{to} L/min: {called:?}");
    }
    // Twice in one evening, and up again in the morning.
    let called = run(9, 0.01, 6 * DAY, |m| match m - 3 * DAY {
        ..0 => 0.8,
        0..40 => 0.62,
        40..700 => 0.48,
        _ => 0.8,
    });
    assert!(called.is_empty(), "{called:?}");
}

#[test]
fn what_goes_on_falling_after_a_step_is_told_against_the_new_level() {
    let flow = |m: i64| match m - 3 * DAY {
        ..0 => 0.8,
        n => 0.6 - 0.001 * (n - 120).max(0) as f64,
    };
    let called = run(10, 0.01, 3 * DAY + 600, flow);
    let (found, weak) = called[0];
    println!("weak air, after a step: told after {} min more: {weak:?}", found - 3 * DAY - 120);
    let stepped = weak.stepped.unwrap();
    assert!(
        (found - 3 * DAY - 120) < 300 && (stepped.from - 0.8).abs() < 0.05 && (stepped.to - 0.6).abs() < 0.05
    );
    assert!((at(3 * DAY - 2)..at(3 * DAY + 3)).contains(&stepped.at));
}

/// No keeper turns eggs down to a third.
#[test]
fn a_fall_to_a_third_is_told_at_once() {
    let called = run(11, 0.01, 4 * DAY, |m| if m < 3 * DAY { 0.8 } else { 0.27 });
    let (found, weak) = called[0];
    println!("weak air, down to a third at once: told after {} min", found - 3 * DAY);
    assert!((5..=15).contains(&(found - 3 * DAY)) && weak.percent > 60.0);
    assert_eq!(called.len(), 1);
}

#[test]
fn a_level_that_was_crept_to_is_usual_when_it_has_filled_half_a_day() {
    let crept = |m: i64| 0.8 - 0.25 * ((m - 3 * DAY) as f64 / 300.0).clamp(0.0, 1.0);
    let (mut tumbler, mut air) = (Tumbler::new(12, 0.01), WeakAir::new());
    let mut last = 0;
    for minute in 0..6 * DAY {
        air.note(at(minute), tumbler.says(minute, crept(minute)));
        if minute > 3 * DAY && air.judge().is_some_and(|weak| weak.number() >= 1.0) {
            last = minute - 3 * DAY;
        }
    }
    println!("weak air, a level that was crept to: accepted after {:.1} h", last as f64 / 60.0);
    assert!((6 * 60..20 * 60).contains(&last));
}

#[test]
fn little_or_no_air_is_not_judged() {
    let mut air = WeakAir::new();
    (0..DAY).for_each(|m| _ = air.note(at(m), 0.0));
    assert_eq!(air.judge(), None, "air that never moved has no usual");
    let mut young = WeakAir::new();
    (0..40).for_each(|m| _ = young.note(at(m), 0.8));
    assert_eq!(young.judge(), None);
    let mut dead_still = WeakAir::new();
    (0..DAY).for_each(|m| _ = dead_still.note(at(m), 0.8));
    assert_eq!(dead_still.judge().unwrap().number(), 0.0);
}

/// When somebody is called of a rise, by minutes.
fn rises(seed: u64, step: f64, minutes: i64, flow: impl Fn(i64) -> f64) -> Vec<i64> {
    let (mut tumbler, mut air) = (Tumbler::new(seed, step), WeakAir::new());
    let mut watch = Watch::new(WeakAir::settings_of_rise());
    let mut judged = |minute: i64| {
        let moment = air.note(at(minute), tumbler.says(minute, flow(minute)));
        let number = air.judge().and_then(|weak| air.rise(&weak)).map_or(0.0, |rise| rise.number());
        (moment && watch.calls(at(minute), number)).then_some(minute)
    };
    (0..minutes).filter_map(&mut judged).collect()
}

/// 8 kPa in the line, 3 of them for the water over the stone: without them 8/5 of the flow.
#[test]
fn a_hose_that_comes_off_behind_the_probe_is_told_within_minutes() {
    for step in [0.01, 0.02, 0.05] {
        let called = rises(13, step, 3 * DAY, |m| if m < 2 * DAY { 0.5 } else { 0.8 });
        println!("air strong, probe of {step} L/min: told after {} min", called[0] - 2 * DAY);
        assert!(called.len() == 1 && (1..6).contains(&(called[0] - 2 * DAY)), "{called:?}");
    }
}

/// Turned down for some hours, and up again.
#[test]
fn what_was_usual_before_is_no_rise() {
    let back = rises(16, 0.01, 3 * DAY, |m| if (2 * DAY..2 * DAY + 300).contains(&m) { 0.48 } else { 0.8 });
    assert!(back.is_empty(), "{back:?}");
}

#[test]
fn a_rise_is_explained_by_what_happens_beside_it_at_that_time_alone() {
    let rise = |since: i64, newest: i64, flow: f64| Rise {
        flow,
        newest: (at(newest), flow),
        usual: 0.5,
        since: at(since),
        spreads: 20.0,
        percent: 100.0 * (flow / 0.5 - 1.0),
    };
    let own = rise(100, 105, 0.8);
    let quiet = rise(105, 105, 0.5);
    assert!(!own.is_explained_by(&[]) && !own.is_explained_by(&[quiet, quiet]));
    assert!(own.is_explained_by(&[rise(98, 104, 0.0), quiet, quiet]), "a neighbour is shut");
    assert!(!own.is_explained_by(&[rise(-500, 104, 0.0), quiet]), "it has been shut since the evening");
    assert!(!own.is_explained_by(&[rise(40, 60, 0.0), quiet]), "it has not been heard for long");
    assert!(own.is_explained_by(&[rise(98, 104, 0.7), rise(99, 104, 0.7), quiet]), "most rise with it");
    assert!(!own.is_explained_by(&[rise(98, 104, 0.8), quiet, quiet]), "two hoses");
}

#[test]
fn a_neighbour_that_is_shut_and_quiet_nights_are_no_rise() {
    let shut = rises(14, 0.01, 4 * DAY, |m| if m < 3 * DAY { 0.8 } else { 0.97 });
    assert!(shut.is_empty(), "{shut:?}");
    for (seed, step) in [(1, 0.01), (2, 0.1)] {
        let called = rises(seed, step, NIGHTS * DAY, |_| 0.8);
        assert!(called.is_empty(), "{called:?}");
    }
}
