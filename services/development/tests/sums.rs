//! Sums of temperature over time from outside, each with its source.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{close, fill, hours, projected, shipped, since, start};
use development::{Course, Form, Need, Species, Spread, degree_days};
use units::{Span, Stage, Time};

/// A trace of hours and °C.
fn trace(points: &[(f64, f64)]) -> Vec<(Time, f64)> {
    points.iter().map(|(h, c)| (hours(*h), *c)).collect()
}

/// A day of two half sines, a point every minute: up from one temperature at midnight, down to the next at midnight.
fn half_sines(from: f64, max: f64, to: f64) -> Vec<(Time, f64)> {
    let height = |m: i64| {
        let min = if m < 720 { from } else { to };
        let turn = std::f64::consts::TAU * m as f64 / 1440.0;
        0.5 * (min + max) - 0.5 * (max - min) * turn.cos()
    };
    (0..=1440).map(|m| (start() + Span::minutes(m), height(m))).collect()
}

/// A day's sine between two temperatures.
fn sine(min: f64, max: f64) -> Vec<(Time, f64)> {
    half_sines(min, max, min)
}

fn triangle(min: f64, max: f64) -> Vec<(Time, f64)> {
    trace(&[(0.0, min), (12.0, max), (24.0, min)])
}

fn steady(days: f64, celsius: f64) -> Vec<(Time, f64)> {
    trace(&[(0.0, celsius), (24.0 * days, celsius)])
}

fn celsius(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8
}

/// Leitritz & Lewis 1976, California Fish Bulletin 164 (memory): days to hatch at °F, and the listed units of °F·d above
/// 32. With a base of 0 °C our degree-days are these over 1.8.
#[test]
fn the_units_of_the_hatchery_table_are_degree_days_above_freezing() {
    for (fahrenheit, days, listed) in [
        (40.0, 80.0, 640.0), // rainbow trout
        (50.0, 31.0, 558.0),
        (55.0, 24.0, 552.0),
        (60.0, 19.0, 532.0),
        (35.0, 156.0, 468.0), // brown trout
        (45.0, 64.0, 832.0),
        (50.0, 41.0, 738.0),
        (35.0, 144.0, 432.0), // brook trout
        (40.0, 103.0, 824.0),
        (45.0, 68.0, 884.0),
        (55.0, 35.0, 805.0),
        (35.0, 162.0, 486.0), // lake trout
        (45.0, 72.0, 936.0),
        (50.0, 49.0, 882.0),
    ] {
        let sum = degree_days(&steady(days, celsius(fahrenheit)), 0.0, None);
        close(sum * 1.8, listed, 1e-6 * listed);
    }
}

/// Predicting the hatch date of salmon using temperature units, a school programme's page of 2012 (ybeep.org, read):
/// autumn chinook come with 756 units and need 900; in water of 50 °F, 18 units a day, that takes 8 days. In our words: a
/// base temperature of 32 °F, and 80 °C·d of 500 still to come.
#[test]
fn the_classroom_example_of_temperature_units() {
    let species = common::plain(0.0, (900.0 - 756.0) / 1.8);
    let course = common::constant(&species, celsius(50.0), 24.0);
    let hatch = projected(&species, &course, &[]).stage(Stage::Hatch).unwrap().likeliest;
    close(since(hatch) / 24.0, 8.0, 1e-3);
    close(degree_days(&steady(1.0, celsius(50.0)), 0.0, None) * 1.8, 18.0, 1e-9);
}

/// Salmon in schools, British Columbia (salmoninschools.ca, read): 100 accumulated thermal units are 10 days at 10 °C or
/// 20 days at 5 °C. And the average method of UC IPM (read): a day of 64 °F over a base of 53 °F makes 11 °F·d.
#[test]
fn units_of_a_steady_day() {
    close(degree_days(&steady(10.0, 10.0), 0.0, None), 100.0, 1e-9);
    close(degree_days(&steady(20.0, 5.0), 0.0, None), 100.0, 1e-9);
    close(degree_days(&steady(1.0, celsius(64.0)), celsius(53.0), None) * 1.8, 11.0, 1e-9);
}

/// Worked out by hand, piece by piece. B catches an engine that clips means or samples: the unclipped trapezoid
/// less T0 gives 3.35417.
#[test]
fn exact_traces() {
    let a = [(0.0, 26.0), (6.0, 26.0), (6.5, 24.0), (18.0, 24.0), (18.25, 27.0), (24.0, 27.0)];
    close(degree_days(&trace(&a), 18.0, None), 7.25521, 5e-6);
    close(degree_days(&trace(&a), 10.3636, None), 14.89157 + 3.636e-5, 5e-6);
    close(degree_days(&trace(&a), 0.57 / 0.055, None), 14.89157, 5e-6);
    let b = [(0.0, 24.0), (6.0, 26.0), (6.5, 26.0), (18.0, 16.0), (21.0, 16.0), (24.0, 24.0)];
    close(degree_days(&trace(&b), 18.0, None), 3.73125, 5e-6);
    let c = [(0.0, 28.0), (4.0, 34.0), (8.0, 34.0), (12.0, 28.0), (24.0, 28.0)];
    close(degree_days(&trace(&c), 18.0, None), 12.0, 1e-9);
    close(degree_days(&trace(&c), 18.0, Some(32.1)), 11.58306, 5e-6);
}

/// Single sine, lower 12, upper 33 °C with horizontal cut-off. Published (read): tests 17 to 19 of TrenchR, to its
/// rounding. Its single-sine test of (35, 40) says 5, which is wrong: all of that day is above the upper threshold,
/// so 33 − 12 = 21, as its own double-sine test says.
#[test]
fn single_sine_days_published() {
    let day = |min, max| degree_days(&sine(min, max), 12.0, Some(33.0));
    for (min, max, published, exact) in [
        (7.0, 14.0, 0.47, 0.4681),
        (7.0, 10.0, 0.0, 0.0),
        (13.0, 14.0, 1.5, 1.5),
        (7.0, 40.0, 10.94, 10.9397),
        (13.0, 40.0, 12.94, 12.9443),
        (7.0, 20.0, 2.87, 2.8744),
        (35.0, 40.0, 21.0, 21.0),
    ] {
        close(day(min, max), published, 0.005);
        close(day(min, max), exact, 1e-4);
    }
}

/// Double sine, lower 12, upper 33 °C with horizontal cut-off: a half sine from the day's minimum to its maximum, another
/// from there to the minimum of the next day. Published: days at the station Ojai in 2016 as worked out by the calculator
/// of UC IPM, kept with the tests of TrenchR (read), to their rounding.
#[test]
fn double_sine_days_published() {
    for (min, max, next_min, published) in [
        (7.8, 19.4, 4.4, 2.53),    // 1 January
        (3.3, 18.9, 10.0, 2.46),   // 3 January
        (10.0, 15.6, 7.2, 1.19),   // 10 January
        (1.1, 16.1, 5.6, 1.04),    // 2 February
        (2.8, 22.8, 15.0, 5.25),   // 4 February
        (15.0, 23.9, 16.1, 7.73),  // 5 February, all of it above the lower
        (18.3, 28.9, 3.9, 9.01),   // 7 February
        (5.6, 30.0, 17.8, 9.57),   // 14 February
        (10.6, 34.4, 11.7, 10.71), // 6 April, through both
        (10.6, 38.9, 14.4, 12.55), // 25 September
        (14.4, 39.4, 15.0, 13.63), // 26 September
        (13.9, 36.1, 15.0, 12.77), // 9 November
    ] {
        close(degree_days(&half_sines(min, max, next_min), 12.0, Some(33.0)), published, 0.0051);
    }
}

/// Computed by numerical integration of the sine elsewhere.
#[test]
fn single_sine_days_computed() {
    close(degree_days(&sine(16.0, 24.0), 18.0, None), 2.4360, 1e-4);
    close(degree_days(&sine(12.0, 24.0), 18.0, None), 1.9099, 1e-4);
    close(degree_days(&sine(28.0, 36.0), 18.0, Some(32.1)), 12.7764, 1e-4);
    close(degree_days(&sine(20.0, 30.0), 18.0, None), 7.0, 1e-4);
    close(degree_days(&sine(10.0, 15.0), 11.0, None), 1.6939, 1e-4);
}

/// Single triangle, same thresholds: 0.29 for (7, 14) published by TrenchR (read), the others computed.
#[test]
fn triangle_days() {
    for (min, max, exact) in [
        (7.0, 14.0, 0.2857),
        (7.0, 40.0, 11.1364),
        (13.0, 40.0, 13.5926),
        (7.0, 20.0, 2.4615),
        (35.0, 40.0, 21.0),
    ] {
        close(degree_days(&triangle(min, max), 12.0, Some(33.0)), exact, 5e-5);
    }
}

/// With a line that never goes below T0 a swing changes nothing; clipping brings the gain back: mean 19 °C, T0 18,
/// K 48.7 takes 48.7 d steady, 39.98 d at amplitude 2 and 32.28 d at amplitude 3 (computed elsewhere).
#[test]
fn a_swing_through_the_base_temperature_hastens() {
    let days = |amplitude: f64| 48.7 / degree_days(&sine(19.0 - amplitude, 19.0 + amplitude), 18.0, None);
    close(days(0.5), 48.7, 1e-3);
    close(days(2.0), 39.98, 0.4);
    close(days(3.0), 32.28, 0.4);
}

/// Crisp's curve of rainbow trout (1981, memory): log10 D = −2.0961 log10(T + 6) + 4.0313.
fn crisp_rainbow(celsius: f64) -> f64 {
    10.0_f64.powf(4.0313 - 2.0961 * f64::log10(celsius + 6.0))
}

/// An entry that develops by it.
fn rainbow_of_crisp() -> Species {
    let mut species = shipped("oncorhynchus-mykiss");
    species.law.form = Form::Power { b: -2.0961, c: -6.0 };
    for r in &mut species.requirements {
        r.need = Need::Anchor { celsius: 10.0, days: crisp_rainbow(10.0) };
        r.spread = Spread { early: 0.0, late: 0.0 };
    }
    species
}

/// The Kaufmann effect (Jensen's inequality; Denny 2017, J. Exp. Biol. 220:139-146, abstract): where speed rises more than
/// in proportion, water that swings about a mean develops eggs sooner than water that stands at it, so a mean must not be
/// put into the law. Its size with the curve of Crisp and a daily sine was computed elsewhere.
#[test]
fn a_swing_hastens_by_a_curved_law() {
    let species = rainbow_of_crisp();
    let days = |mean: f64, amplitude: f64| {
        let mut course = Course::new(&species, start());
        let swing = |h: f64| mean - amplitude * (std::f64::consts::TAU * h / 24.0).cos();
        fill(&mut course, 0.0, 60.0 * 24.0, swing);
        since(projected(&species, &course, &[]).stage(Stage::Hatch).unwrap().likeliest) / 24.0
    };
    close(days(10.0, 0.0), 32.16, 0.005);
    close(days(6.0, 0.0), crisp_rainbow(6.0), 0.005);
    close(days(10.0, 3.0), 31.53, 0.1);
    for (mean, amplitude, percent) in [(10.0, 3.0, -2.0), (10.0, 5.0, -5.3), (6.0, 4.0, -6.0)] {
        let change = 100.0 * (days(mean, amplitude) / days(mean, 0.0) - 1.0);
        println!("mean {mean} °C, amplitude {amplitude} K: {change:.2} %");
        close(change, percent, 0.2); // the last day is not a whole swing
    }
}
