//! What sightings tell: exact ones, between two looks, already past, half of the yolk gone; and clutches of unknown age.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{ask, close, constant, hours, projected, shipped, since, start};
use development::{Ask, Doubts, Projection, StageWindow, likely_day0, project};
use units::{Day0, Grade, Seen, Sighting, Sign, Span, Stage};

fn seen(sign: Sign, seen: Seen) -> [Sighting; 1] {
    [Sighting { sign, seen }]
}

fn width(w: &StageWindow) -> Span {
    w.latest - w.earliest
}

fn window(p: &Projection, stage: Stage) -> StageWindow {
    *p.stage(stage).unwrap()
}

#[test]
fn between_two_looks_tells_nearly_as_much_as_watching() {
    let species = shipped("generic-mouthbrooder");
    let course = constant(&species, 26.0, 200.0);
    let nothing = projected(&species, &course, &[]);
    let hatch = Sign::Stage(Stage::Hatch);
    let looks = projected(&species, &course, &seen(hatch, Seen::Between(hours(164.0), hours(172.0))));
    let exact = projected(&species, &course, &seen(hatch, Seen::At(hours(168.0))));
    let w = window(&looks, Stage::Hatch);
    assert_eq!((w.earliest, w.latest, w.seen), (hours(164.0), hours(172.0), Some(hours(172.0))));
    close(since(w.likeliest), 168.0, 0.5);
    let swim = |p: &Projection| window(p, Stage::FreeSwimming);
    close(since(swim(&looks).likeliest), since(swim(&exact).likeliest), 1.0);
    let (of_nothing, of_looks, of_exact) =
        (width(&swim(&nothing)), width(&swim(&looks)), width(&swim(&exact)));
    assert!(
        of_exact <= of_looks + Span::minutes(30) && of_looks < of_nothing,
        "{of_exact} {of_looks} {of_nothing}"
    );
}

#[test]
fn already_past_cuts_what_can_no_longer_be() {
    let species = shipped("generic-mouthbrooder");
    let course = constant(&species, 26.0, 170.0);
    let nothing = projected(&species, &course, &[]);
    let past = projected(&species, &course, &seen(Stage::Hatch.into(), Seen::By(hours(160.0))));
    let w = window(&past, Stage::Hatch);
    assert!(w.latest <= hours(160.0) && w.earliest < w.likeliest && w.likeliest < w.latest, "{w:?}");
    let (before, after) = (window(&nothing, Stage::FreeSwimming), window(&past, Stage::FreeSwimming));
    assert!(after.likeliest < before.likeliest && after.latest < before.latest, "{before:?} {after:?}");
}

#[test]
fn half_of_the_yolk_gone_is_half_of_the_way() {
    let species = shipped("generic-mouthbrooder");
    let course = constant(&species, 26.0, 280.0);
    // Hatch after 168 h, free swimming after 360 h: half of the yolk should be gone after 264 h.
    let swim = |h: f64| {
        let p = projected(&species, &course, &seen(Sign::YolkHalfGone, Seen::At(hours(h))));
        window(&p, Stage::FreeSwimming)
    };
    close(since(swim(264.0).likeliest), 360.0, 1.5);
    assert!(swim(276.0).likeliest > hours(372.0), "late then, late now");
    assert!(width(&swim(264.0)) < width(&window(&projected(&species, &course, &[]), Stage::FreeSwimming)));
}

/// A sighting that cannot be is not taken for a pace that cannot be.
#[test]
fn an_impossible_time_says_nothing_of_the_pace() {
    let species = shipped("generic-mouthbrooder");
    let course = constant(&species, 26.0, 100.0);
    let p = projected(&species, &course, &seen(Stage::Hatch.into(), Seen::At(hours(20.0))));
    // 192 h from hatch to free swimming, whatever the hatch was.
    close(since(window(&p, Stage::FreeSwimming).likeliest), 20.0 + 192.0, 2.0);
}

/// Found as wrigglers with half of their yolk: 264 h at 26 °C, so day 0 was eleven days before.
#[test]
fn a_clutch_of_unknown_age_is_dated_by_its_stage() {
    let species = shipped("generic-mouthbrooder");
    let course = constant(&species, 26.0, 480.0);
    let day0 = Day0::new(start(), hours(470.0), Grade::Guess).unwrap();
    let found = seen(Sign::YolkHalfGone, Seen::At(hours(480.0)));
    let ask = Ask { day0, doubts: Doubts::USUAL, ..ask(&species, &course, &found) };
    let (first, likeliest, last) = likely_day0(&ask).unwrap();
    close(since(likeliest), 480.0 - 264.0, 6.0);
    assert!(last - first > Span::hours(24) && last - first < Span::hours(120), "{first} {last}");
    let swim = window(&project(&ask).unwrap(), Stage::FreeSwimming);
    close(since(swim.likeliest), 480.0 + 96.0, 6.0);
}

/// The first and the last of a clutch lie before and after its half.
#[test]
fn the_first_and_the_last_to_hatch_are_told() {
    let species = shipped("danio-rerio");
    let hatch = window(&projected(&species, &constant(&species, 28.5, 10.0), &[]), Stage::Hatch);
    let (first, last) = (hatch.first.unwrap(), hatch.last.unwrap());
    close(since(first), 60.0 * (1.0 - species.within.early / 100.0), 0.01);
    close(since(last), 60.0 * (1.0 + species.within.late / 100.0), 0.01);
}

/// What temperatures can be off by widens a window and moves nothing.
#[test]
fn probe_and_water_to_come_widen() {
    let species = shipped("generic-mouthbrooder");
    let course = constant(&species, 26.0, 48.0);
    let with =
        |doubts| window(&project(&Ask { doubts, ..ask(&species, &course, &[]) }).unwrap(), Stage::Hatch);
    let (none, usual) = (with(Doubts::NONE), with(Doubts::USUAL));
    assert_eq!(none.likeliest, usual.likeliest);
    assert!(usual.earliest < none.earliest && usual.latest > none.latest);
    // ±0.25 °C of 12 over seven days and ±0.4 over the five to come, beside 10 % four times of five.
    let sd = [0.1 / 1.2816, 0.25 / 12.0, 0.4 / 12.0 * 5.0 / 7.0];
    let all = 1.2816 * sd.iter().map(|s| s * s).sum::<f64>().sqrt();
    close(168.0 * (1.0 - all), since(usual.earliest), 1.0);
}
