//! What holds for every trace.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{projected, shipped, start};
use development::{Ask, Course, Doubts, Inserted, Projection, Species, degree_days, project};
use proptest::prelude::*;
use units::{Day0, Grade, Sighting, Span, Stage, Time};

/// Readings seconds to minutes apart, and now and then up to 80 minutes: some of the stretches are gaps.
fn points() -> impl Strategy<Value = Vec<(Time, f64)>> {
    let apart = prop_oneof![4 => 1_000i64..180_000, 1 => 1_000i64..4_800_000];
    let step = (apart, 8.0f64..38.0);
    prop::collection::vec(step, 1..300).prop_map(|steps| {
        let mut t = start();
        let place = |(ms, celsius): (i64, f64)| {
            t += Span::from_millis(ms);
            (t, celsius)
        };
        steps.into_iter().map(place).collect()
    })
}

fn course(species: &Species, points: &[(Time, f64)]) -> Course {
    let mut course = Course::new(species, start());
    points.iter().for_each(|(t, c)| assert_eq!(course.insert(*t, *c), Inserted::Appended));
    course
}

fn windows(projection: &Projection) -> Vec<Time> {
    projection.stages.iter().flat_map(|w| [w.earliest, w.likeliest, w.latest]).collect()
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-8 * (1.0 + a.abs())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn splitting_a_trace_changes_nothing(trace in points(), t0 in 8.0f64..30.0, above in 0.5f64..20.0, share in 0.0f64..1.0) {
        let mut split = trace[..1].to_vec();
        for w in trace.windows(2) {
            let ms = ((w[1].0 - w[0].0).millis() as f64 * share) as i64;
            let exact = ms as f64 / (w[1].0 - w[0].0).millis() as f64;
            split.push((w[0].0 + Span::from_millis(ms), w[0].1 + (w[1].1 - w[0].1) * exact));
            split.push(w[1]);
        }
        for cap in [None, Some(t0 + above)] {
            let (whole, parts) = (degree_days(&trace, t0, cap), degree_days(&split, t0, cap));
            prop_assert!(near(whole, parts), "{whole} {parts}");
        }
    }

    #[test]
    fn any_order_gives_the_same_to_the_bit(
        (sorted, mixed) in points().prop_flat_map(|p| (Just(p.clone()), Just(p).prop_shuffle())),
        cut in 0usize..300,
    ) {
        let species = shipped("generic-mouthbrooder");
        let wanted = course(&species, &sorted);
        let mut one_by_one = Course::new(&species, start());
        for (t, c) in &mixed {
            prop_assert_ne!(one_by_one.insert(*t, *c), Inserted::Repeat);
            prop_assert_eq!(one_by_one.insert(*t, *c + 1.0), Inserted::Repeat);
        }
        let mut in_two = Course::new(&species, start());
        let (first, rest) = mixed.split_at(cut.min(mixed.len()));
        in_two.extend(first.iter().copied());
        in_two.extend(rest.iter().copied());
        prop_assert_eq!(&one_by_one, &wanted);
        prop_assert_eq!(&in_two, &wanted);
        prop_assert_eq!(projected(&species, &one_by_one, &[]), projected(&species, &wanted, &[]));
    }

    #[test]
    fn sums_are_those_of_the_filled_trace(trace in points(), from in 0usize..300, to in 0usize..300) {
        let species = shipped("oreochromis-niloticus");
        let course = course(&species, &trace);
        let (a, b) = (from % trace.len(), to % trace.len());
        let (from, to) = (trace[a.min(b)].0, trace[a.max(b)].0);
        let filled = course.filled(start());
        let cut: Vec<_> = filled.iter().filter(|p| from <= p.0 && p.0 <= to).copied().collect();
        let sums = course.degree_days(from, to);
        prop_assert!(near(sums.low, degree_days(&cut, species.base.low, species.cap)));
        prop_assert!(near(sums.likely, degree_days(&cut, species.base.likely, species.cap)));
        prop_assert!(near(sums.high, degree_days(&cut, species.base.high, species.cap)));
        let whole = course.degree_days(start(), trace[trace.len() - 1].0);
        prop_assert!(near(whole.likely, degree_days(&filled, species.base.likely, species.cap)));
        let back = course.degree_days(to, from);
        prop_assert!(near(back.likely, -sums.likely));
    }

    #[test]
    fn warmer_water_never_delays(trace in points(), more in 0.01f64..6.0, key in 0usize..100) {
        // Over an upper threshold development stands still: these fish are left out.
        let table = development::SpeciesTable::shipped();
        let entries: Vec<&Species> = table.iter().filter(|s| s.upper.is_none()).collect();
        let species = entries[key % entries.len()].clone();
        let warm: Vec<_> = trace.iter().map(|(t, c)| (*t, c + more)).collect();
        let (cool, warm) = (course(&species, &trace), course(&species, &warm));
        let (cool, warm) = (projected(&species, &cool, &[]), projected(&species, &warm, &[]));
        for (late, soon) in windows(&cool).into_iter().zip(windows(&warm)) {
            // A millisecond of rounding.
            prop_assert!(soon - late <= Span::from_millis(1), "{late} became {soon}");
        }
    }

    #[test]
    fn constant_water_gives_the_closed_form(celsius in 24.5f64..29.5, days in 0.1f64..40.0, late in 0i64..2_000) {
        let species = shipped("oreochromis-niloticus");
        let mut course = Course::new(&species, start());
        let quarters = (days * 96.0) as i64;
        (0..=quarters).for_each(|q| { course.insert(start() + Span::minutes(15 * q), celsius); });
        let spawned = start() + Span::minutes(late);
        let ask = Ask { species: &species, course: &course, until: None, day0: Day0::seen(spawned), seen: &[], water_to_come: None, doubts: Doubts::NONE };
        let projection = project(&ask).unwrap();
        let hatch = projection.stage(Stage::Hatch).unwrap();
        let wanted = 3.25 * (28.0 - 18.0) / (celsius - 18.0);
        prop_assert!(((hatch.likeliest - spawned).as_days() - wanted).abs() < 1e-6);
        let feeding = projection.stage(Stage::FirstFeeding).unwrap();
        let wanted = (32.5 + 48.0) / (celsius - 18.0);
        prop_assert!(((feeding.likeliest - spawned).as_days() - wanted).abs() < 1e-6);
    }

    /// At the likeliest time exactly the requirement has been had, whether it lies between readings, in a gap, before
    /// the first or after the last.
    #[test]
    fn the_likeliest_time_is_when_the_requirement_was_had(trace in points(), early in 0i64..600) {
        let species = common::plain(14.0, 5.0);
        let course = course(&species, &trace);
        let spawned = start() - Span::minutes(early);
        let ask = Ask { species: &species, course: &course, until: None, day0: Day0::seen(spawned), seen: &[], water_to_come: None, doubts: Doubts::NONE };
        let hatch = *project(&ask).unwrap().stage(Stage::Hatch).unwrap();
        if hatch.likeliest <= course.last().unwrap().0 {
            let had = course.degree_days(spawned, hatch.likeliest).likely;
            prop_assert!((had - 5.0).abs() < 1e-6, "{had}");
        }
    }

    #[test]
    fn windows_are_in_order_and_hold_their_likeliest(trace in points(), seen in prop::option::of(0i64..400), wide in 0i64..72) {
        let species = shipped("oreochromis-niloticus");
        let course = course(&species, &trace);
        let day0 = Day0::new(start(), start() + Span::hours(wide), Grade::Window).unwrap();
        let seen: Vec<Sighting> = seen.into_iter().map(|h| Sighting::at(Stage::Hatch, start() + Span::hours(h))).collect();
        let ask = Ask { species: &species, course: &course, until: None, day0, seen: &seen, water_to_come: None, doubts: Doubts::NONE };
        let projection = project(&ask).unwrap();
        for w in &projection.stages {
            prop_assert!(w.earliest <= w.likeliest && w.likeliest <= w.latest);
            prop_assert!((0.0..=1.0).contains(&w.fraction));
        }
        for w in projection.stages.windows(2) {
            prop_assert!(w[0].earliest <= w[1].earliest && w[0].likeliest <= w[1].likeliest && w[0].latest <= w[1].latest);
        }
        let json = serde_json::to_string(&projection).unwrap();
        prop_assert_eq!(serde_json::from_str::<Projection>(&json).unwrap(), projection);
    }

    /// Midnight, in UTC or anywhere, is a time like any other.
    #[test]
    fn days_of_the_calendar_do_not_matter(trace in points(), by in -40_000_000i64..40_000_000) {
        let species = shipped("generic-mouthbrooder");
        let by = Span::from_millis(by);
        let moved: Vec<_> = trace.iter().map(|(t, c)| (*t + by, *c)).collect();
        let here = projected(&species, &course(&species, &trace), &[]);
        let mut there = Course::new(&species, start() + by);
        there.extend(moved);
        let ask = Ask { species: &species, course: &there, until: None, day0: Day0::seen(start() + by), seen: &[], water_to_come: None, doubts: Doubts::NONE };
        let there = project(&ask).unwrap();
        for (a, b) in windows(&here).into_iter().zip(windows(&there)) {
            // Sums are kept in blocks of the clock, so their last bits may differ: a time then rounds to the next millisecond.
            prop_assert!((a + by - b).abs() <= Span::from_millis(1), "{a} {b}");
        }
    }

    /// What was known at a time does not depend on what came after it.
    #[test]
    fn until_hides_what_came_later(trace in points(), at in 0usize..300) {
        let species = shipped("generic-mouthbrooder");
        let n = at % trace.len();
        let (all, part) = (course(&species, &trace), course(&species, &trace[..=n]));
        let until = Some(trace[n].0);
        let then = |course: &Course| project(&Ask { until, ..common::ask(&species, course, &[]) }).unwrap();
        prop_assert_eq!(then(&all), then(&part));
    }

    /// More data never widens a window by more than [`project`]'s stated rule: what the new reading was off the water
    /// expected, over the time it covers.
    #[test]
    fn a_reading_as_expected_widens_no_window(
        trace in points(), water in 25.0f64..29.0, off in -0.5f64..0.5, minutes in 1i64..=30,
        wide in prop_oneof![Just(0i64), 1i64..72],
        hatched in prop::option::of(0.0f64..1.0), key in 0usize..100,
    ) {
        let table = development::SpeciesTable::shipped();
        let fits = |s: &&Species| s.upper.is_none() && s.cap.is_none() && s.calibrated.is_some_and(|b| b.contains(water));
        let entries: Vec<&Species> = table.iter().filter(fits).collect();
        prop_assume!(!entries.is_empty());
        let species = entries[key % entries.len()];
        let mut course = course(species, &trace);
        let last = trace[trace.len() - 1].0 + Span::minutes(1);
        course.insert(last, water);
        let day0 = Day0::new(start(), start() + Span::hours(wide), Grade::Window).unwrap();
        let seen: Vec<Sighting> = hatched.into_iter().map(|h| Sighting::at(Stage::Hatch, start() + Span::from_days((last - start()).as_days() * h))).collect();
        let ask = |course: &Course| project(&Ask { species, course, until: None, day0, seen: &seen, water_to_come: Some(water), doubts: Doubts::USUAL }).unwrap();
        let before = ask(&course);
        course.insert(last + Span::minutes(minutes), water + off);
        let after = ask(&course);
        let speed = water - species.base.likely;
        let rule = Span::from_days(minutes as f64 / 1440.0 * off.abs() / speed);
        for (b, a) in before.stages.iter().zip(&after.stages) {
            let grown = (a.latest - a.earliest) - (b.latest - b.earliest);
            // Laid out on a grid, a wide day 0 or a pace learned leaves a little more.
            let grid = if wide > 0 || hatched.is_some() { 1e-3 * (b.latest - b.earliest).as_days() } else { 0.0 };
            let rule = rule + Span::from_days(grid) + Span::from_millis(2);
            prop_assert!(grown <= rule, "{} {}: {} ms, rule {} ms", species.key, a.stage, grown.millis(), rule.millis());
        }
    }
}
