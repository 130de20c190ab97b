//! What a reading costs while many clutches are in hand: one that is new, by how long the course is; one that is late, by
//! its age; and the questions of the page. Compare lines of one run only; nothing here is a limit.
//!
//! `cargo bench -p hatchwarden-development --bench many -- [CLUTCHES]`; 10,000 take about 5 GB.
#![allow(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    missing_docs,
    reason = "a bench: it measures time, and a broken expectation is the failure to report"
)]

use development::{Ask, Change, Course, Doubts, Species, SpeciesTable, project, split, steady_for, what_if};
use std::hint::black_box;
use std::time::{Duration, Instant};
use units::{Day0, Grade, Sighting, Span, Stage, Time};

const CLUTCHES: usize = 10_000;
const EVERY: Span = Span::minutes(10);
const ROUNDS: i64 = 5;
const CELSIUS: f64 = 26.0;
/// An invented fish, so slow that all its windows lie ahead after a day and after ten: both ask the same of the engine.
const SLOW: &str = "[species.slow]
name = 'Slow'
base = { low = 10.0, likely = 10.0, high = 10.0, source = 'bench', how = 'planning value' }
[species.slow.stage.hatch]
degree_days = 1000.0
source = 'bench'
how = 'planning value'
[species.slow.stage.free-swimming]
degree_days = 1400.0
source = 'bench'
how = 'planning value'";

fn start() -> Time {
    Time::parse_rfc3339("2031-03-10T00:00:00Z").unwrap()
}

/// Water that swings by a degree over the day.
fn course(species: &Species, days: i64) -> Course {
    let mut course = Course::new(species, start());
    let points = days * 24 * 60 / 10;
    course.extend((0..=points).map(|i| (start() + Span::minutes(10 * i), CELSIUS + (i as f64 / 23.0).sin())));
    course
}

fn ask<'a>(species: &'a Species, course: &'a Course) -> Ask<'a> {
    let (day0, doubts) = (Day0::seen(start()), Doubts::USUAL);
    Ask { species, course, until: None, day0, seen: &[], water_to_come: None, doubts }
}

/// A reading for each clutch at the time that `when` tells of its last one and the round, and then its projection: the
/// quickest round, which other work on the machine disturbs least, for one clutch. Without and with the projection.
fn reading(
    species: &Species,
    courses: &mut [Course],
    when: impl Fn(Time, i64) -> Time,
) -> (Duration, Duration) {
    let count = u32::try_from(courses.len()).unwrap();
    let mut best = (Duration::MAX, Duration::MAX);
    for round in 1..=ROUNDS {
        let begun = Instant::now();
        for course in courses.iter_mut() {
            let (last, _) = course.last().unwrap();
            course.insert(when(last, round), CELSIUS);
        }
        let inserted = begun.elapsed() / count;
        courses.iter().for_each(|course| drop(black_box(project(&ask(species, course)).unwrap())));
        best = (best.0.min(inserted), best.1.min(begun.elapsed() / count));
    }
    best
}

fn tell(what: &str, (inserted, projected): (Duration, Duration)) {
    line(what, inserted);
    line("    and its projection", projected);
}

fn micros(d: Duration) -> f64 {
    d.as_secs_f64() * 1e6
}

fn line(what: &str, d: Duration) {
    println!("{what:<62} | {:>10.2} µs", micros(d));
}

/// One question of the page, the mean of some.
fn question<A>(what: &str, times: u32, asked: impl Fn() -> A) {
    let begun = Instant::now();
    (0..times).for_each(|_| drop(black_box(asked())));
    line(what, begun.elapsed() / times);
}

fn readings(slow: &Species, fish: &Species, clutches: usize) {
    let of = |species, days| -> Vec<Course> { (0..clutches).map(|_| course(species, days)).collect() };
    let new = |last: Time, _| last + EVERY;
    let day = reading(slow, &mut of(slow, 1), new);
    tell("new reading, course of 1 d", day);
    let mut courses = of(slow, 10);
    let ten = reading(slow, &mut courses, new);
    tell("new reading, course of 10 d", ten);
    println!("{:<62} | {:>10.2}", "10 d as a multiple of 1 d", micros(ten.1) / micros(day.1));
    for (said, age) in
        [("10 min", EVERY), ("1 h", Span::hours(1)), ("1 d", Span::days(1)), ("9 d", Span::days(9))]
    {
        let late = |last: Time, round| last - age + Span::minutes(round);
        tell(&format!("late reading, {said} old, course of 10 d"), reading(slow, &mut courses, late));
    }
    drop(courses);
    tell(
        &format!("new reading, 10 d of {}, hatch in the past", fish.key),
        reading(fish, &mut of(fish, 10), new),
    );
}

fn questions(species: &Species) {
    let course = course(species, 10);
    let day0 = Day0::new(start() - Span::hours(48), start(), Grade::Window).unwrap();
    let seen = [Sighting::at(Stage::Hatch, start() + Span::days(7))];
    let plain = ask(species, &course);
    let known = Ask { day0, seen: &seen, ..plain };
    let (end, _) = course.last().unwrap();
    for (said, ask) in [("day 0 seen", plain), ("day 0 wide, hatch seen", known)] {
        let other = what_if(&ask, Change::FromNow(25.0)).unwrap().changed;
        let wanted = other.stage(Stage::FreeSwimming).unwrap().likeliest;
        let since = |span: Span| Ask { until: Some(end - span), ..ask };
        question(&format!("projection, {said}"), 100, || project(&ask));
        question(&format!("other water, {said}"), 100, || what_if(&ask, Change::FromNow(25.0)));
        question(&format!("water for a date, {said}"), 10, || {
            steady_for(&ask, Stage::FreeSwimming, wanted).unwrap()
        });
        question(&format!("parts of 12 h, {said}"), 10, || split(&since(Span::hours(12)), &ask));
        question(&format!("parts of 10 d, {said}"), 3, || split(&since(Span::days(10)), &ask));
    }
}

fn main() {
    let clutches = std::env::args().find_map(|a| a.parse().ok()).unwrap_or(CLUTCHES).max(1);
    let (shipped, own) = (SpeciesTable::shipped(), SpeciesTable::from_toml(SLOW).unwrap());
    let (fish, slow) = (shipped.get("generic-mouthbrooder").unwrap(), own.get("slow").unwrap());
    println!("{clutches} clutches, a reading every ten minutes");
    readings(slow, fish, clutches);
    println!("one clutch of {}, course of 10 d", fish.key);
    questions(fish);
}
