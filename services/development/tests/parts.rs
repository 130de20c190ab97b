//! A shift and its parts.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{ask, close, constant, fill, hours, shipped, since, start};
use development::{Ask, Course, Doubts, Part, PartCause, Species, SpeciesTable, Split, project, split};
use proptest::prelude::*;
use units::{Day0, Grade, Sighting, Span, Stage, Time};

/// A question with the water to come held.
fn held<'a>(species: &'a Species, course: &'a Course, until: Option<Time>) -> Ask<'a> {
    Ask { water_to_come: Some(27.0), until, ..ask(species, course, &[]) }
}

fn of(splits: &[Split], stage: Stage) -> &Split {
    splits.iter().find(|s| s.stage == stage).unwrap()
}

fn sum(parts: &[Part]) -> Span {
    parts.iter().fold(Span::ZERO, |sum, p| sum + p.gained)
}

fn hatch(old: &Ask<'_>, new: &Ask<'_>) -> Split {
    let splits = split(old, new).unwrap();
    for s in &splits {
        assert_eq!(sum(&s.parts), s.gained(), "{s:?}");
    }
    of(&splits, Stage::Hatch).clone()
}

fn causes(split: &Split) -> Vec<&'static str> {
    split.parts.iter().map(|p| p.cause.word()).collect()
}

/// Held at 27 °C, 9 K above the base; from 02:00 to 06:00 of day 2 it was 25.4 °C: 4 h · 1.6 K of warmth are missing,
/// which take 0.71 h at 27 °C.
#[test]
fn a_cold_night_is_the_hours_it_lasted() {
    let species = shipped("oreochromis-niloticus");
    let mut course = constant(&species, 27.0, 20.0);
    let before = course.clone();
    let night = |h: f64| if (26.0..30.0).contains(&(h - 1e-6)) { 25.4 } else { 27.0 };
    fill(&mut course, 20.0, 34.0, night);
    let told = hatch(&held(&species, &before, None), &held(&species, &course, None));
    let [cold, last] = told.parts[..] else { panic!("{told:#?}") };
    assert_eq!((cold.from, cold.to), (hours(26.0), hours(30.0)));
    // Lines of ten minutes lead down and up again, the second in the hour after.
    close(cold.gained.as_hours(), -4.0 * 1.6 / 9.0, 0.02);
    let PartCause::Water { celsius: Some(celsius), instead_of } = cold.cause else { panic!("{cold:?}") };
    close(celsius, 25.4, 0.05);
    assert_eq!(instead_of, 27.0);
    assert_eq!(cold.cause.to_string(), "25.4 °C instead of 27.0");
    assert!(last.gained.abs() < Span::minutes(3), "{told:#?}");
    // The same of one course, asked as of then and as of now.
    let until = hatch(&held(&species, &course, Some(hours(20.0))), &held(&species, &course, None));
    assert_eq!(until, told);
}

#[test]
fn small_hours_are_told_together_and_opposite_ones_apart() {
    let species = shipped("oreochromis-niloticus");
    let mut course = constant(&species, 27.0, 20.0);
    let before = course.clone();
    // Half a degree over for six hours: 3.3 min an hour; then as much under.
    fill(&mut course, 20.0, 32.0, |h| if h <= 26.0 { 27.5 } else { 26.5 });
    let told = hatch(&held(&species, &before, None), &held(&species, &course, None));
    let [warm, cool] = told.parts[..] else { panic!("{told:#?}") };
    assert_eq!((warm.from, cool.to), (hours(20.0), hours(32.0)));
    close(warm.gained.as_minutes(), 6.0 * 60.0 * 0.5 / 9.0, 1.0);
    close(cool.gained.as_minutes(), -6.0 * 60.0 * 0.5 / 9.0, 1.0);
}

/// A heater that goes on and off around what it holds: every hour moves the date a little, to and fro.
#[test]
fn a_calm_night_is_one_part() {
    let species = shipped("oreochromis-niloticus");
    let mut course = constant(&species, 27.0, 20.0);
    let before = course.clone();
    fill(&mut course, 20.0, 32.0, |h| 27.0 + 0.12 * (h * 2.0).sin());
    let told = hatch(&held(&species, &before, None), &held(&species, &course, None));
    let [calm] = told.parts[..] else { panic!("{told:#?}") };
    assert_eq!((calm.from, calm.to), (hours(20.0), hours(32.0)));
    assert!(calm.gained != Span::ZERO && calm.gained.abs() < Span::minutes(2), "{calm:?}");
}

#[test]
fn a_gap_is_one_part_that_was_not_read() {
    let species = shipped("oreochromis-niloticus");
    let mut course = constant(&species, 25.0, 20.0);
    let before = course.clone();
    course.insert(hours(25.0), 27.0);
    let told = hatch(&held(&species, &before, None), &held(&species, &course, None));
    let [gap] = told.parts[..] else { panic!("{told:#?}") };
    assert_eq!((gap.from, gap.to), (hours(20.0), hours(25.0)));
    close(gap.gained.as_hours(), -5.0 * 2.0 / 9.0, 0.01);
    assert_eq!(gap.cause, PartCause::Water { celsius: None, instead_of: 27.0 });
}

#[test]
fn late_readings_and_corrected_ones_are_told_apart() {
    let species = shipped("oreochromis-niloticus");
    let mut holed = constant(&species, 27.0, 10.0);
    fill(&mut holed, 20.0, 30.0, |_| 27.0);
    let mut whole = holed.clone();
    fill(&mut whole, 10.0, 20.0, |_| 24.0);
    let told = hatch(&held(&species, &holed, None), &held(&species, &whole, None));
    assert_eq!(causes(&told), ["late-readings"]);
    close(told.gained().as_hours(), -10.0 * 3.0 / 9.0, 0.1);

    let mut off = Course::new(&species, start());
    off.extend(holed.points().iter().map(|(t, celsius)| (*t, celsius - 0.5)));
    let told = hatch(&held(&species, &holed, None), &held(&species, &off, None));
    assert_eq!(causes(&told), ["corrected-readings"]);
    close(told.gained().as_hours(), -30.0 * 0.5 / 9.0, 0.1);
    fill(&mut off, 10.0, 20.0, |_| 24.0);
    assert_eq!(
        causes(&hatch(&held(&species, &holed, None), &held(&species, &off, None))),
        ["late-readings", "corrected-readings"]
    );
}

#[test]
fn what_was_entered_comes_before_the_water() {
    let species = shipped("oreochromis-niloticus");
    let other = Species { key: "other".to_owned(), ..shipped("generic-mouthbrooder") };
    let (course, old) = (constant(&species, 26.0, 40.0), constant(&species, 26.0, 30.0));
    let plain = ask(&species, &old, &[]);
    let told = hatch(&plain, &Ask { day0: Day0::seen(hours(3.0)), course: &course, ..plain });
    assert_eq!(causes(&told), ["day0"]);
    assert_eq!(told.gained(), -Span::hours(3));

    let seen = [Sighting::at(Stage::Hatch, hours(38.0))];
    let now = Ask { seen: &seen, course: &course, ..plain };
    let splits = split(&plain, &now).unwrap();
    assert_eq!(causes(of(&splits, Stage::Hatch)), ["seen"]);
    assert_eq!(of(&splits, Stage::Hatch).after, hours(38.0));
    assert!(causes(of(&splits, Stage::FreeSwimming)).contains(&"seen"));
    // As of a time before, it was not seen yet.
    let then = split(&plain, &Ask { until: Some(hours(37.0)), ..now }).unwrap();
    assert!(!causes(of(&then, Stage::Hatch)).contains(&"seen"));

    let course = constant(&other, 26.0, 40.0);
    let told = hatch(&plain, &Ask { species: &other, course: &course, water_to_come: Some(29.0), ..plain });
    assert_eq!(causes(&told), ["species", "water-to-come"]);
    let to_come = told.parts[1];
    assert_eq!((to_come.from, to_come.to), (hours(40.0), told.after));
    assert_eq!(to_come.cause.to_string(), "water to come taken at 29.0 °C instead of 26.0");
    close(since(told.before), 32.5 / 8.0 * 24.0, 0.01);
}

#[test]
fn without_anything_new_there_are_no_parts() {
    let species = shipped("oreochromis-niloticus");
    let course = constant(&species, 26.0, 30.0);
    let plain = ask(&species, &course, &[]);
    assert!(split(&plain, &plain).unwrap().iter().all(|s| s.parts.is_empty()));
    let empty = Course::new(&species, start());
    let none = split(&ask(&species, &empty, &[]), &plain);
    assert_eq!(none, Err(development::ProjectionError::NoReading));
    // With a set-point it can begin without a reading.
    let held = Ask { water_to_come: Some(27.0), ..ask(&species, &empty, &[]) };
    let told = hatch(&held, &Ask { water_to_come: Some(27.0), ..plain });
    close(told.gained().as_hours(), -30.0 / 9.0, 0.01);
}

fn readings() -> impl Strategy<Value = Vec<(Time, f64)>> {
    let apart = prop_oneof![4 => 60_000i64..900_000, 1 => 60_000i64..9_000_000];
    prop::collection::vec((apart, 18.0f64..33.0), 1..250).prop_map(|steps| {
        let mut t = start();
        let place = |(ms, celsius): (i64, f64)| {
            t += Span::from_millis(ms);
            (t, celsius)
        };
        steps.into_iter().map(place).collect()
    })
}

/// What is known of a clutch: species, day 0, sighting, set-point, and which of the readings, shifted by an offset.
#[derive(Debug, Clone)]
struct Known {
    key: usize,
    day0: (i64, i64),
    hatched: Option<i64>,
    set_point: Option<f64>,
    count: usize,
    lost: Vec<bool>,
    offset: f64,
}

fn known() -> impl Strategy<Value = Known> {
    let day0 = (-20i64..10, prop_oneof![Just(0i64), 0i64..40]);
    let (hatched, set_point) = (prop::option::of(1i64..80), prop::option::of(22.0f64..30.0));
    let lost = prop::collection::vec(prop::bool::weighted(0.1), 250);
    let offset = prop_oneof![Just(0.0), -0.5f64..0.5];
    (0usize..4, day0, hatched, set_point, 1usize..250, lost, offset).prop_map(
        |(key, day0, hatched, set_point, count, lost, offset)| Known {
            key,
            day0,
            hatched,
            set_point,
            count,
            lost,
            offset,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// Water over what was expected gains in every hour, water under it loses.
    #[test]
    fn warm_hours_gain_and_cool_ones_lose(trace in readings(), warm in any::<bool>()) {
        let species = shipped("oreochromis-niloticus");
        let before = constant(&species, 27.0, 1.0);
        let mut after = before.clone();
        let apart = |celsius: f64| if warm { 27.0 + (celsius - 18.0) / 5.0 } else { 27.0 - (celsius - 18.0) / 5.0 };
        after.extend(trace.iter().map(|(t, celsius)| (*t + Span::hours(1), apart(*celsius))));
        let told = hatch(&held(&species, &before, None), &held(&species, &after, None));
        prop_assert!(told.parts.iter().all(|p| (p.gained > Span::ZERO) == warm), "{told:#?}");
    }

    /// Between any two questions about a clutch the parts add up to the shift, to the millisecond.
    #[test]
    fn the_parts_add_up_to_the_whole(trace in readings(), old in known(), new in known(), same in any::<bool>()) {
        let table = SpeciesTable::shipped();
        let keys = ["oreochromis-niloticus", "generic-mouthbrooder", "danio-rerio", "misgurnus-fossilis"];
        let new = if same { Known { count: new.count, ..old.clone() } } else { new };
        let made = [&old, &new].map(|k| {
            let species = table.get(keys[k.key]).unwrap();
            let mut course = Course::new(species, start());
            let kept = trace.iter().take(k.count).zip(&k.lost).filter(|(_, lost)| !**lost);
            kept.for_each(|((t, celsius), _)| { course.insert(*t, celsius + k.offset); });
            let at = start() + Span::hours(k.day0.0);
            let day0 = Day0::new(at, at + Span::hours(k.day0.1), Grade::Window).unwrap();
            let seen: Vec<Sighting> = k.hatched.into_iter().map(|h| Sighting::at(Stage::Hatch, start() + Span::hours(h))).collect();
            (species, course, day0, seen, k.set_point)
        });
        let asks = [0, 1].map(|i| {
            let (species, course, day0, seen, water_to_come) = &made[i];
            Ask { species, course, until: None, day0: *day0, seen, water_to_come: *water_to_come, doubts: Doubts::USUAL }
        });
        let (Ok(before), Ok(after)) = (project(&asks[0]), project(&asks[1])) else {
            prop_assert!(split(&asks[0], &asks[1]).is_err());
            return Ok(());
        };
        let splits = split(&asks[0], &asks[1]).unwrap();
        let both = before.stages.iter().filter(|w| after.stage(w.stage).is_some()).count();
        prop_assert_eq!(splits.len(), both);
        for s in splits {
            prop_assert_eq!(s.before, before.stage(s.stage).unwrap().likeliest);
            prop_assert_eq!(s.after, after.stage(s.stage).unwrap().likeliest);
            prop_assert_eq!(sum(&s.parts), s.gained());
            prop_assert!(s.parts.iter().all(|p| p.from <= p.to && p.gained != Span::ZERO));
            let hours: Vec<&Part> = s.parts.iter().filter(|p| matches!(p.cause, PartCause::Water { .. })).collect();
            prop_assert!(hours.windows(2).all(|w| w[0].to <= w[1].from));
        }
    }
}
