//! Figures from outside, each with its source.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{ask, close, constant, fill, hours, plain, projected, shipped, since, start};
use development::{Course, degree_days, project};
use units::{Sighting, Span, Stage, Time};

/// A trace of hours and °C.
fn trace(points: &[(f64, f64)]) -> Vec<(Time, f64)> {
    points.iter().map(|(h, c)| (hours(*h), *c)).collect()
}

/// A day's sine between two temperatures, a point every minute.
fn sine(min: f64, max: f64) -> Vec<(Time, f64)> {
    let height = |m: i64| {
        let turn = std::f64::consts::TAU * m as f64 / 1440.0;
        0.5 * (min + max) - 0.5 * (max - min) * turn.cos()
    };
    (0..=1440).map(|m| (start() + Span::minutes(m), height(m))).collect()
}

fn triangle(min: f64, max: f64) -> Vec<(Time, f64)> {
    trace(&[(0.0, min), (12.0, max), (24.0, min)])
}

/// Kimmel et al. 1995, Dev. Dyn. 203:253-310, Fig. 2 (read): the hours at T for what takes h hours at 28.5 °C are
/// h / (0.055 T − 0.57). In degree-hours: h / 0.055 above 0.57 / 0.055 = 10.3636 °C.
fn kimmel(h: f64, celsius: f64) -> f64 {
    let species = plain(0.57 / 0.055, h / 0.055 / 24.0);
    let course = constant(&species, celsius, 12.0);
    since(projected(&species, &course, &[]).stage(Stage::Hatch).unwrap().likeliest)
}

#[test]
fn zebrafish_twenty_somites_at_25_degrees() {
    // Published 23.6 h; exact arithmetic of the published formula 23.602 h.
    close(kimmel(19.0, 25.0), 23.6, 0.05);
    close(kimmel(19.0, 25.0), 23.602, 5e-4);
}

#[test]
fn zebrafish_twenty_somites_at_33_degrees() {
    // Published 15.0 h; exact arithmetic of the published formula 15.261 h.
    close(kimmel(19.0, 33.0), 15.261, 5e-4);
    close(kimmel(19.0, 33.0), 15.0, 0.3);
}

/// Kimmel et al. 1995 (read), stage table: hours at 28.5 °C, from two cells to the protruding mouth, which ends the
/// embryonic period.
const STAGES: [f64; 26] = [
    0.75, 1.0, 1.5, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 3.67, 4.0, 4.33, 4.67, 5.25, 5.67, 8.0, 9.0, 10.33,
    11.67, 19.0, 22.0, 24.0, 36.0, 42.0, 48.0, 72.0,
];

/// The published line is 1 at 28.5 °C but for its rounding (0.055 · 28.5 − 0.57 = 0.9975), and all stages keep their
/// shares at 25 and 33 °C.
#[test]
fn zebrafish_stages_at_three_temperatures() {
    for h in STAGES {
        close(kimmel(h, 28.5), h, 0.003 * h);
        close(kimmel(h, 25.0), h / 0.805, 1e-3);
        close(kimmel(h, 33.0), h / 1.245, 1e-3);
    }
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
        let celsius = (fahrenheit - 32.0) / 1.8;
        let sum = degree_days(&trace(&[(0.0, celsius), (24.0 * days, celsius)]), 0.0, None);
        close(sum * 1.8, listed, 1e-6 * listed);
    }
}

/// Kimmel et al. 1995 (read): hatching 48 to 72 h at 28.5 °C.
#[test]
fn zebrafish_hatch_within_their_published_hours() {
    let species = shipped("danio-rerio");
    let course = constant(&species, 28.5, 24.0);
    let projection = projected(&species, &course, &[]);
    let w = projection.stage(Stage::Hatch).unwrap();
    close(since(w.earliest), 48.0, 0.01);
    close(since(w.likeliest), 60.0, 0.01);
    close(since(w.latest), 72.0, 0.01);
    close(species.base.likely, 0.57 / 0.055, 1e-6);
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

/// Rana 1990, Aquaculture 87 (abstract): first feeding 8, 5 and 4 d after hatch at 24, 28 and 30 °C, whole days.
#[test]
fn nile_tilapia_feed_first_when_rana_says() {
    let species = shipped("oreochromis-niloticus");
    for (celsius, days) in [(24.0, 8.0), (28.0, 5.0), (30.0, 4.0)] {
        let course = constant(&species, celsius, 24.0);
        let due = projected(&species, &course, &[]).stage(Stage::Hatch).unwrap().likeliest;
        let seen = [Sighting::at(Stage::Hatch, due)];
        let projection = projected(&species, &course, &seen);
        let feeding = projection.stage(Stage::FirstFeeding).unwrap().likeliest;
        close((feeding - due).as_days(), days, 0.5);
    }
}

/// Subasinghe & Sommerville 1992 (abstract): 78 h, 72 to 84 h, at 28 °C. The window is wider by nothing there: all
/// base temperatures of an anchor cross in it.
#[test]
fn nile_tilapia_hatch_at_28_degrees() {
    let species = shipped("oreochromis-niloticus");
    let course = constant(&species, 28.0, 24.0);
    let projection = projected(&species, &course, &[]);
    let w = projection.stage(Stage::Hatch).unwrap();
    close(since(w.earliest), 72.0, 0.02);
    close(since(w.likeliest), 78.0, 0.02);
    close(since(w.latest), 84.0, 0.02);
}

/// Recirculating hatchery, Domasi (abstract): O. karongae 14.7 d at 25 °C, 7.3 d at 29 °C.
#[test]
fn karongae_hatch_at_their_two_temperatures() {
    let species = shipped("oreochromis-karongae");
    for (celsius, days) in [(25.0, 14.7), (29.0, 7.3)] {
        let course = constant(&species, celsius, 24.0);
        let projection = projected(&species, &course, &[]);
        close(since(projection.stage(Stage::Hatch).unwrap().likeliest) / 24.0, days, 0.05);
        assert!(projection.warnings.is_empty(), "{:?}", projection.warnings);
    }
}

/// Common practice, no source: at 26 °C hatch about day 7, yolk used up on day 14 to 16, let go on day 24 to 26.
#[test]
fn mouthbrooders_without_figures_of_their_own() {
    let species = shipped("generic-mouthbrooder");
    let course = constant(&species, 26.0, 24.0);
    let projection = projected(&species, &course, &[]);
    let day = |stage| since(projection.stage(stage).unwrap().likeliest) / 24.0;
    close(day(Stage::Hatch), 7.0, 0.5);
    assert!((14.0..=16.0).contains(&day(Stage::FreeSwimming)));
    assert!((24.0..=26.0).contains(&day(Stage::Release)));
    // The default window: 90 % to 112 % of the requirement.
    let hatch = projection.stage(Stage::Hatch).unwrap();
    close(since(hatch.earliest) / 24.0, 0.90 * 7.0, 0.01);
    close(since(hatch.latest) / 24.0, 1.12 * 7.0, 0.01);
}

/// An anchor at 27 °C projected to 25 °C: 1.13 times the days with T0 10, 1.29 times with T0 18 (computed), so the
/// window widens by about 4 % for each degree away from the anchor.
#[test]
fn away_from_its_one_temperature_an_anchor_widens() {
    let mut species = shipped("generic-mouthbrooder");
    species.calibrated = None;
    for r in &mut species.requirements {
        let development::Need::Anchor { days, .. } = r.need else { panic!("an anchor") };
        r.need = development::Need::Anchor { celsius: 27.0, days };
        r.spread = development::Spread { early: 0.0, late: 0.0 };
    }
    let course = constant(&species, 25.0, 24.0);
    let projection = projected(&species, &course, &[]);
    let w = projection.stage(Stage::Hatch).unwrap();
    let (low, high) = (since(w.earliest) / 168.0, since(w.latest) / 168.0);
    close(low, 1.13, 0.005);
    close(high, 1.29, 0.005);
    close(50.0 * (high - low) / low.midpoint(high) / 2.0, 4.0, 1.0); // half-range, percent for one degree
    let there = constant(&species, 27.0, 24.0);
    let w = *projected(&species, &there, &[]).stage(Stage::Hatch).unwrap();
    assert!((w.latest - w.earliest).abs() < Span::minutes(1));
}

/// The set-point takes the place of the last day.
#[test]
fn the_water_to_come_is_the_set_point_or_the_last_day() {
    let species = plain(18.0, 40.0);
    let mut course = Course::new(&species, start());
    fill(&mut course, 0.0, 48.0, |h| if h < 24.0 { 20.0 } else { 26.0 });
    // 24 h at 20 °C is 2 °C·d but for the step, 24 h at 26 °C is 8.
    let own = projected(&species, &course, &[]);
    close(own.water_to_come, 26.0, 1e-6);
    let set =
        project(&development::Ask { water_to_come: Some(28.0), ..ask(&species, &course, &[]) }).unwrap();
    let left = 40.0 - own.stage(Stage::Hatch).unwrap().so_far;
    close(since(own.stage(Stage::Hatch).unwrap().likeliest), 48.0 + left / 8.0 * 24.0, 1e-3);
    close(since(set.stage(Stage::Hatch).unwrap().likeliest), 48.0 + left / 10.0 * 24.0, 1e-3);
}
