//! The same clutch in other water, and the water for a date.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{ask, close, constant, hours, shipped, since};
use development::{Ask, CAUTION, Change, Doubts, NoSteady, ProjectionError, Range, Species, SpeciesTable};
use development::{project, steady_for, what_if};
use proptest::prelude::*;
use units::{Sighting, Span, Stage};

fn tilapia() -> Species {
    shipped("oreochromis-niloticus")
}

fn hatch(projection: &development::Projection) -> f64 {
    since(projection.stage(Stage::Hatch).unwrap().likeliest)
}

/// 32.5 °C·d above 18 °C: 39 h at 28 °C are half of it.
#[test]
fn from_now_the_rest_is_had_at_the_other_temperature() {
    let species = tilapia();
    let course = constant(&species, 28.0, 39.0);
    let other = what_if(&ask(&species, &course, &[]), Change::FromNow(23.0)).unwrap();
    close(hatch(other.as_is.as_ref().unwrap()), 78.0, 0.01);
    close(hatch(&other.changed), 39.0 + 2.0 * 39.0, 0.01);
    close(other.later(Stage::Hatch).unwrap().as_hours(), 39.0, 0.02);
}

#[test]
fn a_whole_life_elsewhere_forgets_what_was_read_and_seen_of_this_one() {
    let species = tilapia();
    let course = constant(&species, 28.0, 80.0);
    let seen = [Sighting::at(Stage::Hatch, hours(70.0))];
    let other = what_if(&ask(&species, &course, &seen), Change::Always(24.0)).unwrap();
    close(hatch(&other.changed), 32.5 / 6.0 * 24.0, 0.01);
    assert!(other.changed.read_until.is_none() && other.changed.stage(Stage::Hatch).unwrap().seen.is_none());
    let outside = what_if(&ask(&species, &course, &[]), Change::Always(34.0)).unwrap();
    assert!(outside.changed.warnings.iter().any(|w| w.contains("outside what is tolerated")), "{outside:?}");
}

#[test]
fn without_a_reading_other_water_is_answered_alone() {
    let species = tilapia();
    let course = development::Course::new(&species, hours(0.0));
    let other = what_if(&ask(&species, &course, &[]), Change::FromNow(28.0)).unwrap();
    assert_eq!((other.as_is.as_ref(), other.later(Stage::Hatch)), (None, None));
    close(hatch(&other.changed), 78.0, 0.01);
    let hot = what_if(&ask(&species, &course, &[]), Change::FromNow(60.0));
    assert_eq!(hot, Err(ProjectionError::WaterToCome(60.0)));
}

/// Half is had; the other 16.25 °C·d in 48 h need 8.125 K above 18 °C.
#[test]
fn the_water_for_a_date_is_the_closed_form() {
    let species = tilapia();
    let course = constant(&species, 28.0, 39.0);
    let steady = steady_for(&ask(&species, &course, &[]), Stage::Hatch, hours(87.0)).unwrap();
    close(steady.celsius, 26.125, 1e-3);
    close(hatch(&steady.projection), 87.0, 1e-3);
    // d(hours)/dT = 48 h / 8.125 K.
    close(steady.per_tenth.as_hours(), 0.1 * 48.0 / 8.125, 0.01);
    assert!(matches!(steady.range, Range::Tolerated(band) if band.low == 21.8 && band.high == 32.1));
    assert!(steady.projection.warnings.is_empty());
    let cold = steady_for(&ask(&species, &course, &[]), Stage::Hatch, hours(39.0 + 390.0 / 5.0)).unwrap();
    close(cold.celsius, 23.0, 1e-3);
    assert!(cold.projection.warnings[0].contains("outside the calibrated range"), "{cold:?}");
}

#[test]
fn a_date_out_of_reach_is_refused_with_the_dates_that_can_be_had() {
    let species = tilapia();
    let course = constant(&species, 28.0, 39.0);
    let Err(e) = steady_for(&ask(&species, &course, &[]), Stage::Hatch, hours(60.0)) else { panic!("put") };
    let NoSteady::OutOfReach { earliest, latest, .. } = e else { panic!("{e}") };
    close(since(earliest.0), 39.0 + 390.0 / 14.1, 0.01);
    close(since(latest.0), 39.0 + 390.0 / 3.8, 0.01);
    assert_eq!((earliest.1, latest.1), (32.1, 21.8));
    let words = e.to_string();
    let wanted = "within the tolerated range (21.8 to 32.1 °C) hatch can be put from 2031-03-12T";
    assert!(words.starts_with("2031-03-12T12:00:00Z cannot be had: ") && words.contains(wanted), "{words}");
    assert!(words.ends_with("give a time between them"), "{words}");
    for at in [earliest.0, latest.0] {
        assert!(steady_for(&ask(&species, &course, &[]), Stage::Hatch, at).is_ok());
    }
    let late = steady_for(&ask(&species, &course, &[]), Stage::Hatch, latest.0 + Span::seconds(1));
    assert!(matches!(late, Err(NoSteady::OutOfReach { .. })));
}

#[test]
fn the_past_and_what_was_seen_are_refused() {
    let species = tilapia();
    let course = constant(&species, 28.0, 39.0);
    let plain = ask(&species, &course, &[]);
    assert_eq!(
        steady_for(&plain, Stage::Hatch, hours(39.0)),
        Err(NoSteady::Past { wanted: hours(39.0), last: hours(39.0) })
    );
    assert_eq!(steady_for(&plain, Stage::Egg, hours(60.0)), Err(NoSteady::Unknown(Stage::Egg)));
    let seen = [Sighting::at(Stage::Hatch, hours(38.0))];
    let with = ask(&species, &course, &seen);
    let known = NoSteady::Seen { stage: Stage::Hatch, at: hours(38.0) };
    assert_eq!(steady_for(&with, Stage::Hatch, hours(60.0)), Err(known));
    assert!(steady_for(&with, Stage::FreeSwimming, hours(38.0 + 110.0)).is_ok());
    let old = constant(&species, 28.0, 90.0);
    let Err(NoSteady::Over { at, .. }) = steady_for(&ask(&species, &old, &[]), Stage::Hatch, hours(100.0))
    else {
        panic!("not over")
    };
    close(since(at), 78.0, 0.01);
}

#[test]
fn an_entry_without_what_is_tolerated_is_searched_within_its_calibrated_range() {
    let species = shipped("generic-mouthbrooder");
    assert!(species.tolerated.is_none());
    let course = constant(&species, 26.0, 24.0);
    let is = project(&ask(&species, &course, &[])).unwrap().stage(Stage::Hatch).unwrap().likeliest;
    let steady = steady_for(&ask(&species, &course, &[]), Stage::Hatch, is).unwrap();
    close(steady.celsius, 26.0, 1e-4);
    assert!(steady.range.to_string().contains("does not say what is tolerated"));
    let bare = Species { calibrated: None, ..species };
    let e = steady_for(&ask(&bare, &course, &[]), Stage::Hatch, is).unwrap_err();
    assert_eq!(e, NoSteady::NoRange("generic-mouthbrooder".to_owned()));
}

/// Above its upper threshold development stands still: nothing is looked for there.
#[test]
fn water_over_the_upper_threshold_is_not_looked_at() {
    let species = Species { upper: Some(30.0), ..tilapia() };
    let course = constant(&species, 28.0, 39.0);
    let e = steady_for(&ask(&species, &course, &[]), Stage::Hatch, hours(60.0)).unwrap_err();
    let NoSteady::OutOfReach { earliest, .. } = e else { panic!("{e}") };
    close(earliest.1, 30.0, 1e-3);
    close(since(earliest.0), 39.0 + 390.0 / 12.0, 0.01);
}

#[test]
fn the_caution_says_what_is_at_stake() {
    for word in ["deformities", "losses", "slowly", "law", "vet", "welfare"] {
        assert!(CAUTION.contains(word), "{word}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    /// Whatever the entry, its range and what was seen: the water found puts the stage where it was wanted.
    #[test]
    fn the_water_found_does_what_was_asked(key in 0usize..100, had in 1.0f64..60.0, share in 0.0f64..1.0) {
        let table = SpeciesTable::shipped();
        let all: Vec<&Species> = table.iter().filter(|s| Range::of(s).is_some()).collect();
        let species = all[key % all.len()];
        let band = Range::of(species).unwrap().band();
        let course = constant(species, 0.5 * (band.low + band.high), had);
        let ask = Ask { doubts: Doubts::USUAL, ..ask(species, &course, &[]) };
        let held = |celsius| project(&Ask { water_to_come: Some(celsius), ..ask }).unwrap();
        let stage = held(band.high).stages.last().unwrap().stage;
        let target = band.low + share * (band.high - band.low);
        let wanted = held(target).stage(stage).unwrap().likeliest;
        prop_assume!(wanted > course.last().unwrap().0 && species.upper.is_none_or(|u| u > band.high));
        let steady = steady_for(&ask, stage, wanted).unwrap();
        let off = steady.projection.stage(stage).unwrap().likeliest - wanted;
        prop_assert!(off.abs() <= Span::minutes(1), "{off} at {} for {target}", steady.celsius);
        prop_assert!(steady.celsius <= target + 1e-5);
        prop_assert!(band.contains(steady.celsius));
    }
}
