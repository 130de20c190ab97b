use crate::sim::{Chance, Tank, rounded};
use crate::{DAY, NIGHTS, Watch, at};
use alarms::monitors::{Change, FastChange};

/// When somebody is called, and what was found then, of what a probe says by minutes.
fn run(minutes: i64, mut says: impl FnMut(i64) -> f64) -> Vec<(i64, Change)> {
    let mut fast = FastChange::new();
    let mut watch = Watch::new(FastChange::settings(FastChange::YOUNG).unwrap());
    let mut called = Vec::new();
    for minute in 0..minutes {
        if fast.note(at(minute), says(minute))
            && let Some(change) = fast.judge()
            && watch.calls(at(minute), change.number())
        {
            called.push((minute, change));
        }
    }
    called
}

fn probe(chance: &mut Chance, celsius: f64) -> f64 {
    rounded(celsius + 0.03 * chance.normal(), 0.0625)
}

#[test]
fn quiet_nights() {
    for mut tank in [Tank::heated(31), Tank::following(32)] {
        let called = run(NIGHTS * DAY, |_| tank.step());
        println!("fast change: {} false pages in {NIGHTS} nights", called.len());
        assert!(called.is_empty(), "{called:?}");
    }
}

/// Heaters of ±0.3 K that switch quicker or slower.
#[test]
fn a_heater_that_switches_is_no_fast_change() {
    for cycle in [12, 20, 30, 40, 50, 60, 90] {
        let mut chance = Chance(33);
        let mut most = 0.0_f64;
        let mut fast = FastChange::new();
        for minute in 0..2 * DAY {
            let phase = (minute % cycle) as f64 / f64::from(cycle as i32);
            let wave = if phase < 0.4 { phase / 0.4 } else { (1.0 - phase) / 0.6 };
            fast.note(at(minute), probe(&mut chance, 25.7 + 0.6 * wave));
            most = most.max(fast.judge().map_or(0.0, |change| change.number()));
        }
        println!("fast change: a heater's cycle of {cycle} min is at most {most:.2} K/h");
        assert!(most < FastChange::YOUNG);
    }
}

#[test]
fn a_heater_that_sticks() {
    for per_hour in [2.5_f64, 4.0, 8.0, -3.0] {
        let mut chance = Chance(34);
        let called = run(DAY, |m| {
            let hours = ((m - 600) as f64 / 60.0).clamp(0.0, 2.0);
            probe(&mut chance, 26.0 + per_hour * hours)
        });
        let (found, change) = called[0];
        println!("fast change of {per_hour} K/h: told after {} min: {change:?}", found - 600);
        assert!((3..=35).contains(&(found - 600)) && change.per_hour * per_hour > 0.0);
        assert_eq!(called.len(), 1);
    }
}

#[test]
fn a_water_change_is_one_fast_change_with_its_size() {
    for size in [-2.0_f64, -4.0, 1.5] {
        let mut chance = Chance(35);
        let says = |m: i64| 26.0 + size * ((m - 600) as f64 / 5.0).clamp(0.0, 1.0);
        let called = run(DAY, |m| probe(&mut chance, says(m)));
        assert_eq!(called.len(), 1, "{called:?}");
        let found = called[0].0;
        println!("water change of {size} K within 5 min: told after {} min: {:?}", found - 600, called[0].1);
        assert!((3..=15).contains(&(found - 600)));
        let mut fast = FastChange::new();
        (0..615).for_each(|m| _ = fast.note(at(m), says(m)));
        assert!((fast.judge().unwrap().size - size).abs() < 1e-9);
    }
}

#[test]
fn a_spike_is_none_and_little_says_nothing() {
    let called = run(DAY, |m| if m % 60 == 0 { 30.0 } else { 26.0 });
    assert!(called.is_empty());
    let mut young = FastChange::new();
    (0..15).for_each(|m| _ = young.note(at(m), 26.0 + m as f64));
    assert_eq!(young.judge(), None);
    assert!(FastChange::settings(0.0).is_none() && FastChange::settings(f64::NAN).is_none());
}
