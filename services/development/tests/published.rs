//! Dates from outside, each with its source.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{ask, close, constant, fill, plain, projected, shipped, since, start};
use development::{Course, project};
use units::{Sighting, Span, Stage};

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
