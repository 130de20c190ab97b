//! A restart reads what a monitor looks back on again, in order of time: it must find the same as one that heard it as it
//! came, late readings among them, for longer.

use crate::sim::{AirLine, Chance, Tank};
use crate::{DAY, at};
use alarms::monitors::{Disagree, Drift, DriftLimit, FastChange, Line, Stuck, Usual, WeakAir};
use units::{Span, Time, VesselId};

/// Readings as they come: some up to three hours late, a few twice.
fn as_they_come(seed: u64, readings: &[(Time, f64)]) -> Vec<(Time, f64)> {
    let mut chance = Chance(seed);
    let mut due: Vec<(i64, (Time, f64))> = Vec::new();
    for (t, value) in readings {
        let late = if chance.uniform() < 0.1 { (180.0 * 60_000.0 * chance.uniform()) as i64 } else { 0 };
        due.push((t.millis() + late, (*t, *value)));
        if chance.uniform() < 0.02 {
            due.push((t.millis() + 2 * late, (*t, *value)));
        }
    }
    due.sort_by_key(|(arrives, _)| *arrives);
    due.into_iter().map(|(_, reading)| reading).collect()
}

/// What a restart reads: the last of them, in order of time.
fn again(readings: &[(Time, f64)], back: Span) -> Vec<(Time, f64)> {
    let newest = readings.last().unwrap().0;
    readings.iter().filter(|(t, _)| *t > newest - back - Span::minutes(30)).copied().collect()
}

fn water(days: i64) -> Vec<(Time, f64)> {
    let mut tank = Tank::heated(71);
    (0..days * DAY).map(|m| (at(m) + Span::seconds(m % 50), tank.step())).collect()
}

fn same<M, R: PartialEq + std::fmt::Debug>(
    back: Span,
    readings: &[(Time, f64)],
    new: impl Fn() -> M,
    note: impl Fn(&mut M, Time, f64),
    judge: impl Fn(&M) -> Option<R>,
) {
    let (mut lived, mut restarted) = (new(), new());
    as_they_come(72, readings).into_iter().for_each(|(t, value)| note(&mut lived, t, value));
    again(readings, back).into_iter().for_each(|(t, value)| note(&mut restarted, t, value));
    assert!(judge(&lived).is_some());
    assert_eq!(judge(&lived), judge(&restarted));
}

#[test]
fn a_restart_finds_the_same() {
    let readings = water(12);
    let limit = DriftLimit::nights(60.0).unwrap();
    same(Drift::LOOKS_BACK, &readings, || Drift::new(limit), |m, t, v| _ = m.note(t, v), Drift::judge);
    same(FastChange::LOOKS_BACK, &readings, FastChange::new, |m, t, v| _ = m.note(t, v), FastChange::judge);
    for new in [Stuck::of_water, Stuck::of_air] {
        same(Stuck::LOOKS_BACK, &readings, new, |m, t, v| _ = m.note(t, v), Stuck::judge);
    }
    same(Usual::LOOKS_BACK, &readings, Usual::new, |m, t, v| _ = m.note(t, v), Usual::judge);
    same(WeakAir::LOOKS_BACK, &readings, WeakAir::new, |m, t, v| _ = m.note(t, v), WeakAir::judge);
    let both = |m: &mut Disagree, t, v| {
        m.note_first(t, v);
        m.note_second(t, v + 1.1);
    };
    same(Disagree::LOOKS_BACK, &readings, || Disagree::new(0.5, 0.5).unwrap(), both, Disagree::judge);
}

#[test]
fn a_restart_finds_the_same_of_a_line() {
    let (mut sim, tu1) = (AirLine::new(1, 73), VesselId::new("TU1").unwrap());
    let (mut lived, mut restarted) = (Line::new(), Line::new());
    let read: Vec<_> = (0..6 * DAY).map(|m| (at(m), sim.read())).collect();
    let tell = |line: &mut Line, n: usize| {
        let (t, (watts, kilopascals, flows)) = &read[n];
        line.note_power(*t, *watts);
        line.note_pressure(*t, *kilopascals);
        line.note_flow(&tu1, *t, flows[0]);
    };
    // Every tenth comes two hours late; the newest are there in the end.
    (0..read.len()).filter(|n| n % 10 != 3).for_each(|n| tell(&mut lived, n));
    (0..read.len()).filter(|n| n % 10 == 3).for_each(|n| tell(&mut lived, n));
    (read.len() - 3 * DAY as usize - 30..read.len()).for_each(|n| tell(&mut restarted, n));
    let now = read.last().unwrap().0;
    assert_eq!(lived.judge(now), restarted.judge(now));
    assert_eq!(lived.judge(now).lacked, []);
}
