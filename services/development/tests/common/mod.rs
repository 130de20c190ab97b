//! Small helpers for tests.
#![allow(clippy::unwrap_used, missing_docs, dead_code, unreachable_pub, reason = "test code")]

use development::{Ask, Course, Doubts, Projection, Species, SpeciesTable, project};
use units::{Day0, Sighting, Span, Time};

/// An arbitrary moment that is no midnight anywhere.
pub fn start() -> Time {
    Time::parse_rfc3339("2031-03-10T00:00:00Z").unwrap()
}

pub fn hours(h: f64) -> Time {
    start() + Span::from_days(h / 24.0)
}

pub fn at(text: &str) -> Time {
    Time::parse_rfc3339(text).unwrap()
}

pub fn shipped(key: &str) -> Species {
    SpeciesTable::shipped().get(key).unwrap().clone()
}

/// An entry with one base temperature and one stage, hatch, that needs `k` °C·d with no spread.
pub fn plain(t0: f64, k: f64) -> Species {
    let text = format!(
        "[species.plain]\nname = 'Plain'\n\
         base = {{ low = {t0:?}, likely = {t0:?}, high = {t0:?}, source = 'test', how = 'planning value' }}\n\
         [species.plain.stage.hatch]\ndegree_days = {k:?}\nspread_percent = 0\nsource = 'test'\nhow = 'planning value'"
    );
    SpeciesTable::from_toml(&text).unwrap().get("plain").unwrap().clone()
}

/// A course with a reading every ten minutes from hour `from` to hour `to`, both included.
pub fn fill(course: &mut Course, from: f64, to: f64, celsius: impl Fn(f64) -> f64) {
    let steps = ((to - from) * 6.0).round() as i64;
    for i in 0..=steps {
        let h = from + i as f64 / 6.0;
        course.insert(hours(from) + Span::minutes(10 * i), celsius(h));
    }
}

/// A constant course over that many hours.
pub fn constant(species: &Species, celsius: f64, to: f64) -> Course {
    let mut course = Course::new(species, start());
    fill(&mut course, 0.0, to, |_| celsius);
    course
}

pub fn ask<'a>(species: &'a Species, course: &'a Course, seen: &'a [Sighting]) -> Ask<'a> {
    Ask {
        species,
        course,
        until: None,
        day0: Day0::seen(start()),
        seen,
        water_to_come: None,
        doubts: Doubts::NONE,
    }
}

pub fn projected(species: &Species, course: &Course, seen: &[Sighting]) -> Projection {
    project(&ask(species, course, seen)).unwrap()
}

/// Hours since the start.
pub fn since(t: Time) -> f64 {
    (t - start()).as_hours()
}

pub fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "found {found}, wanted {wanted} ± {within}");
}
