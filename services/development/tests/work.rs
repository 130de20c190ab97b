//! What there is to do follows from the windows.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use development::{LeadTimes, Projection, StageWindow, Task, TaskKind, done, tasks};
use units::{Day0, Span, Stage, Time};

fn day(d: f64) -> Time {
    Time::from_millis(0) + Span::from_days(d)
}

/// A window of a day on each side; seen at its middle where `seen`.
fn window(stage: Stage, d: f64, seen: bool) -> StageWindow {
    let wide = if seen { 0.0 } else { 1.0 };
    let (earliest, likeliest, latest) = (day(d - wide), day(d), day(d + wide));
    let seen = seen.then_some(likeliest);
    StageWindow {
        stage,
        earliest,
        likeliest,
        latest,
        probability: 0.8,
        required: 0.0,
        so_far: 0.0,
        fraction: 0.0,
        seen,
        first: None,
        last: None,
    }
}

fn projection(stages: &[(Stage, f64, bool)]) -> Projection {
    Projection {
        species: "x".to_owned(),
        day0: Day0::seen(day(0.0)),
        read_until: None,
        set_point: None,
        water_to_come: 26.0,
        unread: Span::ZERO,
        stages: stages.iter().map(|(s, d, seen)| window(*s, *d, *seen)).collect(),
        warnings: Vec::new(),
    }
}

fn plain(stages: &[(Stage, f64, bool)], taken: Option<f64>) -> Vec<(TaskKind, f64, f64, f64)> {
    let days = |t: Time| (t - day(0.0)).as_days();
    let row = |t: Task| (t.kind, days(t.earliest), days(t.likeliest), days(t.latest));
    tasks(&projection(stages), taken.map(day), &LeadTimes::default()).into_iter().map(row).collect()
}

const ALL: [(Stage, f64, bool); 2] = [(Stage::Hatch, 6.0, false), (Stage::FreeSwimming, 16.0, false)];

#[test]
fn in_the_mouth_taking_and_release_stand_side_by_side() {
    use TaskKind::*;
    assert_eq!(
        plain(&ALL, None),
        [
            (Strip, 3.0, 3.0, 15.0),
            (Hatch, 5.0, 6.0, 7.0),
            (ReadyNursery, 12.0, 12.0, 12.0),
            (SetBrineShrimp, 13.75, 14.75, 15.75),
            (MoveOut, 15.0, 16.0, 17.0),
            (FirstFeeding, 15.0, 16.0, 17.0),
            (Release, 15.0, 16.0, 17.0),
        ]
    );
}

#[test]
fn a_figure_of_the_entry_goes_before_a_planning_value() {
    let more = [
        (Stage::Eyed, 4.0, false),
        ALL[0],
        ALL[1],
        (Stage::FirstFeeding, 18.0, false),
        (Stage::Release, 20.0, false),
    ];
    let all = plain(&more, None);
    assert!(all.contains(&(TaskKind::Strip, 4.0, 4.0, 19.0)), "{all:?}");
    assert!(all.contains(&(TaskKind::SetBrineShrimp, 15.75, 16.75, 17.75)), "{all:?}");
    assert!(all.contains(&(TaskKind::Release, 19.0, 20.0, 21.0)), "{all:?}");
}

#[test]
fn what_was_taken_needs_air_and_its_mother_rest() {
    use TaskKind::*;
    let kinds: Vec<TaskKind> = plain(&ALL, Some(4.0)).iter().map(|t| t.0).collect();
    assert_eq!(kinds, [ThinAir, Hatch, ReadyNursery, SetBrineShrimp, MoveOut, FirstFeeding, MotherRest]);
    let all = plain(&ALL, Some(4.0));
    assert_eq!(all[0], (ThinAir, 5.0, 5.0, 5.0), "from the earliest hatch on");
    assert_eq!(all[6], (MotherRest, 18.0, 21.5, 25.0));
}

#[test]
fn what_was_seen_falls_away_and_what_came_before_it_too() {
    let hatched = [(Stage::Hatch, 6.0, true), ALL[1]];
    let kinds = |stages: &[_], taken| plain(stages, taken).iter().map(|t| t.0).collect::<Vec<_>>();
    assert!(!kinds(&hatched, Some(4.0)).iter().any(|k| matches!(k, TaskKind::Hatch | TaskKind::ThinAir)));
    let swum = [ALL[0], (Stage::FreeSwimming, 16.0, true)];
    assert_eq!(kinds(&swum, Some(4.0)), [TaskKind::MotherRest]);
    let released = [ALL[0], ALL[1], (Stage::Release, 20.0, true)];
    assert_eq!(plain(&released, None), [(TaskKind::MotherRest, 34.0, 37.5, 41.0)]);
}

#[test]
fn a_task_without_a_point_is_not_a_task_done() {
    use TaskKind::*;
    let begun = projection(&ALL);
    let hatched = projection(&[(Stage::Hatch, 6.0, true), ALL[1]]);
    let swum = projection(&[ALL[0], (Stage::FreeSwimming, 16.0, true)]);
    assert!(done(Strip, &begun, Some(day(4.0))) && !done(Strip, &swum, None));
    assert!(!done(Release, &swum, Some(day(4.0))), "they were taken, so she let nobody out");
    assert!(done(Release, &swum, None) && !done(Release, &begun, None));
    for kind in [Hatch, ThinAir] {
        assert!(done(kind, &hatched, None) && !done(kind, &begun, None), "{kind}");
    }
    for kind in [ReadyNursery, SetBrineShrimp, MoveOut, FirstFeeding] {
        assert!(done(kind, &swum, None) && !done(kind, &hatched, None), "{kind}");
    }
}

#[test]
fn no_word_urges_to_take_them() {
    assert!(TaskKind::Strip.title().contains("or left with mother"));
    assert!(TaskKind::Strip.reason().contains("equal"));
}
