//! Windows: what widens them, what conditions them, what is said with them.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{ask, close, constant, fill, hours, plain, projected, shipped, since, start};
use development::{Ask, Course, Gap, Inserted, ProjectionError, project};
use units::{Day0, Grade, Sighting, Span, Stage};

#[test]
fn day_0_as_an_interval_moves_the_ends_of_the_window() {
    let species = plain(18.0, 40.0);
    let course = constant(&species, 26.0, 48.0);
    let day0 = Day0::new(hours(0.0), hours(20.0), Grade::Window).unwrap();
    let w = *project(&Ask { day0, ..ask(&species, &course, &[]) }).unwrap().stage(Stage::Hatch).unwrap();
    // Four of five of an even interval lie from a tenth to nine tenths of it.
    close(since(w.earliest), 122.0, 0.1);
    close(since(w.likeliest), 130.0, 1e-3);
    close(since(w.latest), 138.0, 0.1);
}

#[test]
fn a_gap_is_filled_with_the_hour_before_and_widens_the_window() {
    let species = plain(18.0, 40.0);
    let mut course = Course::new(&species, start());
    fill(&mut course, 0.0, 10.0, |h| if h < 9.5 { 26.0 } else { 25.0 });
    fill(&mut course, 20.0, 48.0, |_| 26.0);
    // The hour before hour 10: 20 min at 26 °C, 10 min from 26 to 25 °C, 30 min at 25 °C.
    let filled = (20.0 * 26.0 + 10.0 * 25.5 + 30.0 * 25.0) / 60.0;
    let gaps = course.gaps(start(), hours(48.0));
    let [Gap { from, to, filled: Some(fill) }] = gaps[..] else { panic!("{gaps:?}") };
    assert_eq!((from, to), (hours(10.0), hours(20.0)));
    close(fill, filled, 1e-9);
    close(course.degree_days(hours(10.0), hours(20.0)).likely, (filled - 18.0) * 10.0 / 24.0, 1e-9);

    let projection = projected(&species, &course, &[]);
    let w = projection.stage(Stage::Hatch).unwrap();
    // ±1.5 °C over 10 h is 15 °C·h; the water to come gives 8 °C·h an hour.
    let rate = projection.water_to_come - 18.0;
    close((w.likeliest - w.earliest).as_hours(), 15.0 / rate, 0.01);
    close((w.latest - w.likeliest).as_hours(), 15.0 / rate, 0.01);
    assert_eq!(projection.unread, Span::hours(10));
    assert!(projection.warnings[0].contains("no reading for 10 h 00 min"), "{:?}", projection.warnings);
}

#[test]
fn half_an_hour_is_no_gap_and_a_millisecond_more_is_one() {
    let species = plain(18.0, 40.0);
    let mut course = Course::new(&species, start());
    course.insert(hours(0.0), 20.0);
    course.insert(hours(0.5), 24.0);
    assert!(course.gaps(start(), hours(0.5)).is_empty());
    close(course.degree_days(start(), hours(0.5)).likely, 4.0 * 0.5 / 24.0, 1e-12);
    course.insert(hours(1.0) + Span::from_millis(1), 24.0);
    assert_eq!(course.gaps(start(), hours(1.0)).len(), 1);
}

#[test]
fn before_the_first_reading_the_water_is_taken_at_it_and_the_window_widens() {
    let species = plain(18.0, 40.0);
    let mut course = Course::new(&species, start());
    fill(&mut course, 12.0, 48.0, |_| 26.0);
    let projection = projected(&species, &course, &[]);
    let w = projection.stage(Stage::Hatch).unwrap();
    close(since(w.likeliest), 120.0, 1e-3);
    // The half hour next to the reading is not in doubt: 11.5 h at 1.5 °C.
    close((w.likeliest - w.earliest).as_hours(), 11.5 * 1.5 / 8.0, 1e-2);
    assert_eq!(projection.unread, Span::hours(12));
    let gaps = course.gaps(start(), hours(48.0));
    assert_eq!(gaps, [Gap { from: start(), to: hours(12.0), filled: Some(26.0) }]);
}

#[test]
fn a_stage_seen_conditions_the_later_ones() {
    let species = shipped("oreochromis-niloticus");
    let course = constant(&species, 28.0, 90.0);
    let before = projected(&species, &course, &[]);
    let seen = [Sighting::at(Stage::Hatch, hours(84.0))];
    let after = projected(&species, &course, &seen);
    let (hatch, feeding) = (after.stage(Stage::Hatch).unwrap(), after.stage(Stage::FirstFeeding).unwrap());
    assert_eq!((hatch.earliest, hatch.likeliest, hatch.latest), (hours(84.0), hours(84.0), hours(84.0)));
    assert_eq!((hatch.seen, hatch.fraction), (Some(hours(84.0)), 1.0));
    // 48 °C·d at 10 °C above the base are 4.8 d. Hatch came 6 h late, by the whole of its spread of 7.7 %; half of that is
    // the clutch's own pace, so the way to feeding, spread 12 %, is put 6 % longer.
    close(since(feeding.likeliest), 84.0 + 1.06 * 4.8 * 24.0, 0.1);
    let later = (feeding.likeliest - before.stage(Stage::FirstFeeding).unwrap().likeliest).as_hours();
    close(later, 6.0 + 0.06 * 4.8 * 24.0, 0.1);
    // Its spread is of what is left.
    close((feeding.likeliest - feeding.earliest).as_hours(), 0.11 * 4.8 * 24.0, 3.0);
    let width = |p: &development::Projection| {
        let w = p.stage(Stage::FirstFeeding).unwrap();
        w.latest - w.earliest
    };
    assert!(width(&after) < width(&before));
    // The way is 35 °C·d to the late hatch and 1.06 × 48 beyond it; 37.5 of it are had after 90 h.
    close(feeding.required, 35.0 + 1.06 * 48.0, 0.05);
    close(feeding.so_far, 37.5, 1e-5);
    assert_eq!(after.stage_now_at(hours(83.9)), Stage::Egg);
    assert_eq!(after.stage_now_at(hours(84.0)), Stage::Hatch);
}

#[test]
fn a_stage_nobody_saw_was_over_when_a_later_one_was_seen() {
    let species = shipped("generic-mouthbrooder");
    let course = constant(&species, 26.0, 90.0);
    let seen = [Sighting::at(Stage::FreeSwimming, hours(80.0))];
    let projection = projected(&species, &course, &seen);
    let hatch = projection.stage(Stage::Hatch).unwrap();
    assert!(hatch.latest <= hours(80.0) && hatch.seen.is_none());
}

#[test]
fn a_stage_the_entry_does_not_know_is_shown_but_conditions_nothing() {
    let species = shipped("generic-mouthbrooder");
    let course = constant(&species, 26.0, 90.0);
    let seen = [Sighting::at(Stage::Eyed, hours(80.0))];
    let projection = projected(&species, &course, &seen);
    assert_eq!(projection.stage(Stage::Eyed).unwrap().seen, Some(hours(80.0)));
    close(since(projection.stage(Stage::Hatch).unwrap().likeliest), 168.0, 0.01);
}

#[test]
fn sightings_that_cannot_be_are_named_and_left_out() {
    let species = shipped("oreochromis-niloticus");
    let course = constant(&species, 28.0, 90.0);
    let seen = [
        Sighting::at(Stage::Hatch, hours(-5.0)),
        Sighting::at(Stage::FreeSwimming, hours(60.0)),
        Sighting::at(Stage::FirstFeeding, hours(50.0)),
    ];
    let projection = projected(&species, &course, &seen);
    assert!(projection.warnings[0].starts_with("hatch was entered for a time before day 0"));
    assert!(projection.warnings[1].starts_with("first-feeding was entered for a time before free-swimming"));
    assert_eq!(projection.stage(Stage::Hatch).unwrap().seen, None);
    // The same sightings in another order say the same.
    let turned: Vec<Sighting> = seen.iter().rev().copied().collect();
    assert_eq!(projected(&species, &course, &turned), projection);
}

#[test]
fn water_outside_the_calibrated_range_is_told_and_widens() {
    let species = shipped("oreochromis-karongae");
    let inside = constant(&species, 27.0, 48.0);
    let mut outside = Course::new(&species, start());
    fill(&mut outside, 0.0, 48.0, |h| if (10.0..16.0).contains(&h) { 24.0 } else { 27.0 });
    let (inside, outside) = (projected(&species, &inside, &[]), projected(&species, &outside, &[]));
    // 5 h 50 min at 24 °C and a third of each 10 min slope from or to 27 °C: 5.94 h.
    assert_eq!(
        outside.warnings,
        ["the water was below the calibrated range (25 to 29 °C) for 5.9 h since day 0"]
    );
    assert!(inside.warnings.is_empty());
    let early = |p: &development::Projection| {
        let w = p.stage(Stage::Hatch).unwrap();
        (w.likeliest - w.earliest).as_hours()
    };
    // Half of the degree that is missing to the range over 5.9 h is doubted, four times of five, beside the spread of 10 %.
    let (doubted, usual) = (0.5 * 5.94, early(&inside) * 6.0);
    close(early(&outside) * 6.0, usual.hypot(doubted), 3.0);
    assert!(early(&outside) > early(&inside), "{} {}", early(&outside), early(&inside));
}

#[test]
fn water_under_the_base_temperature_stands_still_and_is_told() {
    let species = shipped("oreochromis-niloticus");
    let course = constant(&species, 16.0, 24.0);
    let projection = projected(&species, &course, &[]);
    let said = projection.warnings.join("\n");
    for part in
        ["under the base temperature (18.0 °C", "at or under the base temperature", "400 days", "tolerated"]
    {
        assert!(said.contains(part), "{part}: {said}");
    }
    let hatch = projection.stage(Stage::Hatch).unwrap();
    assert_eq!(hatch.so_far, 0.0);
    assert_eq!(hatch.likeliest, start() + Span::days(400));
}

#[test]
fn without_reading_or_set_point_there_is_no_projection() {
    let species = shipped("danio-rerio");
    let empty = Course::new(&species, start());
    assert_eq!(project(&ask(&species, &empty, &[])), Err(ProjectionError::NoReading));
    let set = project(&Ask { water_to_come: Some(28.5), ..ask(&species, &empty, &[]) }).unwrap();
    close(since(set.stage(Stage::Hatch).unwrap().likeliest), 60.0, 0.01);
    let wrong = project(&Ask { water_to_come: Some(f64::NAN), ..ask(&species, &empty, &[]) });
    assert!(wrong.unwrap_err().to_string().contains("give a temperature"));
    // Readings exist, but none by then.
    let later = constant(&species, 28.0, 2.0);
    let none_yet = Ask { until: Some(hours(-1.0)), ..ask(&species, &later, &[]) };
    assert_eq!(project(&none_yet), Err(ProjectionError::NoReading));
}

#[test]
fn pieces_cover_the_past_and_leave_gaps_open() {
    let species = plain(18.0, 40.0);
    let mut course = Course::new(&species, start());
    fill(&mut course, 0.0, 6.0, |_| 26.0);
    fill(&mut course, 18.0, 27.0, |_| 25.0);
    let pieces = course.pieces(Span::hours(6), start(), hours(27.0));
    assert_eq!(pieces.len(), 5);
    let celsius: Vec<Option<f64>> =
        pieces.iter().map(|p| p.celsius.map(|c| (c * 1e6).round() / 1e6)).collect();
    assert_eq!(celsius, [Some(26.0), None, None, Some(25.0), Some(25.0)]);
    close(pieces[1].speed, 8.0, 1e-9);
    close(pieces[4].speed, 7.0, 1e-9);
    assert_eq!((pieces[4].from, pieces[4].to), (hours(24.0), hours(27.0)));
    assert!(course.pieces(Span::ZERO, start(), hours(27.0)).is_empty());
}

#[test]
fn a_repeat_and_a_value_that_is_no_number_change_nothing() {
    let species = plain(18.0, 40.0);
    let mut course = constant(&species, 26.0, 24.0);
    let before = course.clone();
    assert_eq!(course.insert(hours(12.0), 30.0), Inserted::Repeat);
    assert_eq!(course.insert(hours(25.0), f64::NAN), Inserted::Repeat);
    assert_eq!(course, before);
    assert_eq!(course.mean(hours(30.0), hours(31.0)), None);
}

/// Beyond the calibrated range the earliest time doubts half of the slowing, the latest half of the speeding.
#[test]
fn half_of_what_is_extrapolated_is_doubted() {
    let mut species = plain(18.0, 40.0);
    species.calibrated = units::Band::new(25.0, 29.0);
    let hatch = |celsius: f64| {
        let course = constant(&species, celsius, 24.0);
        *projected(&species, &course, &[]).stage(Stage::Hatch).unwrap()
    };
    // 23 °C: 5 °C·d a day by the line, 7 at the end of the range, 6 by half.
    let cool = hatch(23.0);
    close(since(cool.earliest), 40.0 / 6.0 * 24.0, 1e-3);
    close(since(cool.likeliest), 40.0 / 5.0 * 24.0, 1e-3);
    close(since(cool.latest), 40.0 / 5.0 * 24.0, 1e-3);
    // 31 °C: 13 by the line, 11 at the end of the range, 12 by half.
    let warm = hatch(31.0);
    close(since(warm.earliest), 40.0 / 13.0 * 24.0, 1e-3);
    close(since(warm.likeliest), 40.0 / 13.0 * 24.0, 1e-3);
    close(since(warm.latest), 40.0 / 12.0 * 24.0, 1e-3);
}

#[test]
fn the_hour_before_a_gap_begins_within_a_stretch() {
    let mut course = Course::new(&plain(18.0, 40.0), start());
    for (minute, celsius) in [(0, 20.0), (25, 25.0), (50, 25.0), (75, 25.0)] {
        course.insert(start() + Span::minutes(minute), celsius);
    }
    // From minute 15: there the line stands at 23 °C; 10 min averaging 24 °C, 50 min at 25 °C.
    let gaps = course.gaps(hours(1.25), hours(3.0));
    close(gaps[0].filled.unwrap(), (10.0 * 24.0 + 50.0 * 25.0) / 60.0, 1e-9);
}

#[test]
fn of_two_sightings_of_a_stage_the_first_counts() {
    let species = shipped("oreochromis-niloticus");
    let course = constant(&species, 28.0, 90.0);
    let seen = [80.0, 76.0].map(|h| Sighting::at(Stage::Hatch, hours(h)));
    let projection = projected(&species, &course, &seen);
    assert_eq!(projection.stage(Stage::Hatch).unwrap().seen, Some(hours(76.0)));
    // 2.56 % early, a third of its spread of 7.7 %; half of that third of the 10 % before feeding is carried on.
    close(since(projection.stage(Stage::FirstFeeding).unwrap().likeliest), 76.0 + 4.8 * 24.0 * 0.98335, 0.1);
    assert!(projection.warnings.is_empty());
}
