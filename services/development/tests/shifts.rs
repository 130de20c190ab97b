//! What moved, and why.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{ask, at, close, fill, hours, projected, shipped, start};
use development::{Ask, Cause, Changed, Course, Projection, Shift, What, project, shifts};
use units::{Day0, Sighting, Span, Stage};

/// Three days at 26.5 °C, ending at midnight.
fn steady() -> (development::Species, Course) {
    let species = shipped("generic-mouthbrooder");
    let mut course = Course::new(&species, start());
    fill(&mut course, 0.0, 72.0, |h| 26.5 + 0.1 * (h * 2.0).sin());
    (species, course)
}

fn told(before: &Projection, after: &Projection, course: &Course) -> Vec<Shift> {
    shifts(Some(before), after, &What { late: false, changed: None, course })
}

/// The cause told for hatch.
fn hatch(moved: &[Shift]) -> &Shift {
    moved.iter().find(|s| s.stage == Stage::Hatch).unwrap()
}

/// From 02:10 to 06:40 the heater was off.
fn night(h: f64) -> f64 {
    let clock = h - 72.0;
    if (2.0 + 1.0 / 6.0..6.0 + 4.0 / 6.0).contains(&(clock + 1e-6)) { 24.2 } else { 26.5 }
}

fn assert_that_night(cause: &Cause) {
    let Cause::Water { from, to, by } = cause else { panic!("{cause:?}") };
    assert!((*from - at("2031-03-13T02:10:00Z")).abs() <= Span::minutes(10), "{from}");
    assert!((*to - at("2031-03-13T06:40:00Z")).abs() <= Span::minutes(10), "{to}");
    close(*by, -2.3, 0.2);
}

#[test]
fn the_first_projection_tells_every_stage() {
    let (species, course) = steady();
    let first = projected(&species, &course, &[]);
    let moved = shifts(None, &first, &What { late: false, changed: None, course: &course });
    assert_eq!(moved.len(), 3);
    assert!(moved.iter().all(|s| s.before.is_none() && s.cause == Cause::First));
    assert_eq!(moved[0].cause.to_string(), "first projection");
    assert!(told(&first, &first, &course).is_empty());
}

#[test]
fn a_cold_night_is_told_with_its_hours() {
    let (species, mut course) = steady();
    let before = projected(&species, &course, &[]);
    fill(&mut course, 72.0, 80.0, night);
    let after = projected(&species, &course, &[]);
    let moved = told(&before, &after, &course);
    let shift = hatch(&moved);
    assert!(shift.before.unwrap() + Span::hours(1) < shift.after);
    assert_that_night(&shift.cause);
    let words = shift.cause.to_string();
    assert!(words.starts_with("the water was 2.") && words.contains("under its usual from 02:"), "{words}");
    assert!(words.ends_with("UTC"), "{words}");
}

/// A projection kept in the middle of that night: the next shift still tells the whole of it.
#[test]
fn a_cold_night_told_twice_begins_when_it_began() {
    let (species, mut course) = steady();
    fill(&mut course, 72.0, 76.0, night);
    let before = projected(&species, &course, &[]);
    fill(&mut course, 76.0, 80.0, night);
    let after = projected(&species, &course, &[]);
    assert_that_night(&hatch(&told(&before, &after, &course)).cause);
}

#[test]
fn warm_water_is_told_as_over() {
    let (species, mut course) = steady();
    let before = projected(&species, &course, &[]);
    fill(&mut course, 72.0, 80.0, |h| if h >= 74.0 { 28.0 } else { 26.5 });
    let after = projected(&species, &course, &[]);
    let moved = told(&before, &after, &course);
    let Cause::Water { from, by, .. } = hatch(&moved).cause else { panic!("{moved:?}") };
    assert!((from - hours(74.0)).abs() <= Span::minutes(10) && by > 1.0);
    assert!(hatch(&moved).cause.to_string().contains("over its usual"));
}

#[test]
fn when_a_cold_night_leaves_the_last_day_the_water_to_come_is_the_cause() {
    let (species, mut course) = steady();
    fill(&mut course, 72.0, 84.0, night);
    let before = projected(&species, &course, &[]);
    fill(&mut course, 84.0, 104.0, night);
    let after = projected(&species, &course, &[]);
    let moved = told(&before, &after, &course);
    let Cause::ToCome { before: b, after: a } = hatch(&moved).cause else { panic!("{moved:?}") };
    assert!(b < 26.2 && a > 26.4, "{b} {a}");
    assert!(
        hatch(&moved).cause.to_string().starts_with("the water to come is taken at 26.5 °C instead of 26.1")
    );
}

#[test]
fn beside_a_set_point_slow_departure_is_told_against_it() {
    let (species, mut course) = steady();
    let with =
        |course: &Course| project(&Ask { water_to_come: Some(26.7), ..ask(&species, course, &[]) }).unwrap();
    let before = with(&course);
    fill(&mut course, 72.0, 144.0, |_| 26.5);
    let after = with(&course);
    let moved = told(&before, &after, &course);
    let Cause::Expected { from, to, by } = hatch(&moved).cause else { panic!("{moved:?}") };
    assert_eq!((from, to), (hours(72.0), hours(144.0)));
    close(by, -0.2, 0.01);
    assert!(hatch(&moved).cause.to_string().contains("0.2 °C under what was expected"));
}

#[test]
fn half_an_hour_is_not_told() {
    let (species, mut course) = steady();
    let before = projected(&species, &course, &[]);
    fill(&mut course, 72.0, 74.0, |h| if h > 73.0 { 26.3 } else { 26.5 });
    assert!(told(&before, &projected(&species, &course, &[]), &course).is_empty());
}

#[test]
fn late_readings_are_told_with_what_they_filled() {
    let species = shipped("generic-mouthbrooder");
    let mut course = Course::new(&species, start());
    fill(&mut course, 0.0, 60.0, |_| 26.5);
    let end = 60.0 + 3.0 + 1.0 / 6.0;
    fill(&mut course, end, 66.0, |_| 26.5);
    let before = projected(&species, &course, &[]);
    assert_eq!(before.unread, Span::minutes(190));
    fill(&mut course, 60.0, end, |_| 23.0);
    let after = projected(&species, &course, &[]);
    let moved = shifts(Some(&before), &after, &What { late: true, changed: None, course: &course });
    assert_eq!(hatch(&moved).cause, Cause::LateReadings { filled: Span::minutes(190) });
    assert_eq!(hatch(&moved).cause.to_string(), "late readings filled 3 h 10 min");
    assert_eq!(
        Cause::LateReadings { filled: Span::ZERO }.to_string(),
        "late readings came between the others"
    );
}

#[test]
fn what_the_keeper_entered_is_the_cause() {
    let (species, course) = steady();
    let before = projected(&species, &course, &[]);
    let seen = [Sighting::at(Stage::Hatch, hours(70.0))];
    let after = projected(&species, &course, &seen);
    let moved = told(&before, &after, &course);
    assert_eq!(hatch(&moved).cause, Cause::Seen { stage: Stage::Hatch.into(), at: hours(70.0) });
    assert_eq!(hatch(&moved).cause.to_string(), "hatch was seen at 22:00 UTC");
    assert!(moved.iter().any(|s| s.stage == Stage::FreeSwimming));

    let back = told(&after, &before, &course);
    assert_eq!(hatch(&back).cause, Cause::Corrected);

    let day0 = Day0::seen(start() - Span::hours(20));
    let corrected = project(&Ask { day0, ..ask(&species, &course, &[]) }).unwrap();
    assert_eq!(hatch(&told(&before, &corrected, &course)).cause.to_string(), "day 0 corrected");

    let set = project(&Ask { water_to_come: Some(28.0), ..ask(&species, &course, &[]) }).unwrap();
    let words = hatch(&told(&before, &set, &course)).cause.to_string();
    assert_eq!(words, "the water to come was set from the mean of the last day to 28.0 °C");

    let what = What { late: true, changed: Some(Changed::Moved { to: "V1".to_owned() }), course: &course };
    assert_eq!(hatch(&shifts(Some(&before), &set, &what)).cause.to_string(), "moved to V1");
}

/// Nothing likeliest moved, but the window did.
#[test]
fn a_window_that_narrows_is_told() {
    let (species, course) = steady();
    let ask = |day0| project(&Ask { day0, ..ask(&species, &course, &[]) }).unwrap();
    let wide = Day0 { earliest: hours(0.0), latest: hours(20.0), grade: units::Grade::Window };
    let (before, after) = (ask(wide), ask(Day0::seen(hours(10.0))));
    let moved = told(&before, &after, &course);
    let shift = hatch(&moved);
    assert_eq!(shift.before, Some(shift.after));
    assert!(shift.window_before.unwrap().0 < shift.window_after.0);
    assert_eq!(shift.cause, Cause::Day0);
}

/// Two falls with a warm hour between them are two; the deeper one is told.
#[test]
fn of_two_falls_the_deeper_is_told_alone() {
    let (species, mut course) = steady();
    let before = projected(&species, &course, &[]);
    let two = |h: f64| match h - 72.0 {
        c if (1.0..2.0).contains(&c) => 25.0,
        c if (4.0..8.0).contains(&c) => 23.5,
        _ => 26.5,
    };
    fill(&mut course, 72.0, 82.0, two);
    let after = projected(&species, &course, &[]);
    let moved = told(&before, &after, &course);
    let Cause::Water { from, to, .. } = hatch(&moved).cause else { panic!("{moved:?}") };
    assert!((from - hours(76.0)).abs() <= Span::minutes(10), "{from}");
    assert!((to - hours(80.0)).abs() <= Span::minutes(10), "{to}");
}

/// The deep fall was over before the projection it is compared with; a shallower one came after.
#[test]
fn a_fall_already_told_is_not_told_again() {
    let (species, mut course) = steady();
    let two = |h: f64| match h - 72.0 {
        c if (1.0..5.0).contains(&c) => 22.0,
        c if (8.0..12.0).contains(&c) => 25.0,
        _ => 26.5,
    };
    fill(&mut course, 72.0, 79.0, two);
    let before = projected(&species, &course, &[]);
    fill(&mut course, 79.0, 85.0, two);
    let after = projected(&species, &course, &[]);
    let moved = told(&before, &after, &course);
    let Cause::Water { from, by, .. } = hatch(&moved).cause else { panic!("{moved:?}") };
    assert!((from - hours(80.0)).abs() <= Span::minutes(10), "{from}");
    close(by, -1.5, 0.2);
}

/// Nobody knows how cold it was while the probe was away: a fall is not told across a gap.
#[test]
fn a_fall_is_not_told_across_a_gap() {
    let (species, mut course) = steady();
    let before = projected(&species, &course, &[]);
    fill(&mut course, 72.0, 74.0, |_| 26.5);
    fill(&mut course, 74.0 + 1.0 / 6.0, 75.0, |_| 24.0);
    fill(&mut course, 77.0, 81.0, |_| 24.0);
    let after = projected(&species, &course, &[]);
    let moved = told(&before, &after, &course);
    let Cause::Water { from, .. } = hatch(&moved).cause else { panic!("{moved:?}") };
    assert_eq!(from, hours(77.0));
}
