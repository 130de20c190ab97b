//! From a course to windows.

use crate::ahead::{Ahead, HORIZON};
use crate::course::Course;
use crate::law::{Edge, HIGH, LIKELY, LOW};
use crate::observed::{Observed, in_order};
use crate::projection::{Projection, StageWindow, rounded};
use crate::species::Species;
use crate::warn;
use units::{Day0, Span, Stage, Time};

/// How much of the past stands for the water to come where no set-point is given.
const RECENT: Span = Span::hours(24);

/// What a projection follows from.
#[derive(Debug, Clone, Copy)]
pub struct Ask<'a> {
    /// The species entry.
    pub species: &'a Species,
    /// The water the clutch had.
    pub course: &'a Course,
    /// What was known at that time: readings and sightings after it do not count. `None`: all of them.
    pub until: Option<Time>,
    /// When it was spawned.
    pub day0: Day0,
    /// What the keeper saw, in any order.
    pub seen: &'a [Observed],
    /// The temperature (°C) at which the water will be held; `None`: the mean of the last 24 h that were read.
    pub water_to_come: Option<f64>,
}

/// Why there is no projection.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ProjectionError {
    /// Neither a reading nor a set-point.
    #[error("no temperature reading yet: wait for the first one, or give the set-point of the water to come")]
    NoReading,
    /// The set-point is no temperature.
    #[error("water to come is {0}: give a temperature in °C from 0 to 45, such as 27.0")]
    WaterToCome(f64),
    /// The entry does not say what any stage needs.
    #[error("species entry {0:?} has no stage: add at least its requirement for hatch")]
    NoStage(String),
}

/// Windows for every stage of a clutch, from the data alone.
///
/// *Likeliest*: the requirement at the likely base temperature, counted from the middle of day 0, along the water as
/// read, then at the water to come. *Earliest* and *latest*: the requirement less and plus its spread, counted from
/// the two ends of day 0, at whichever base temperature of the entry gives the earlier or later time, gaps taken
/// [`GAP_DOUBT`](crate::GAP_DOUBT) warmer or cooler, water beyond the calibrated range trusted by half
/// ([`EXTRAPOLATION_DOUBT`](crate::EXTRAPOLATION_DOUBT)). How the water to come may stray is not in the window.
///
/// A stage that was seen conditions the later ones: they count what they need beyond it from the time seen, and their
/// spread is that of the remainder alone. The clutch's own pace up to there is not carried on.
///
/// # Errors
/// [`ProjectionError`] without any reading or set-point, with a set-point that is no temperature, or with an entry
/// that has no stage.
pub fn project(ask: &Ask<'_>) -> Result<Projection, ProjectionError> {
    if ask.species.requirements.is_empty() {
        return Err(ProjectionError::NoStage(ask.species.key.clone()));
    }
    let end = match ask.until {
        Some(until) => ask.course.index_at(until),
        None => ask.course.points().len().checked_sub(1),
    };
    let ahead = Ahead::new(ask.course, end, water_to_come(ask, end)?);
    let (seen, mut warnings) = in_order(ask.seen, &ask.day0, ask.until);
    let stages = stages(ask, &ahead, &seen, &mut warnings);
    let read_until = end.and_then(|i| ask.course.points().get(i)).map(|p| p.0);
    let unread = read_until.map_or(Span::ZERO, |last| unread(ask.course, ask.day0.earliest, last));
    warnings.extend(warn::about_water(ask, &ahead, unread));
    Ok(Projection {
        species: ask.species.key.clone(),
        day0: ask.day0,
        read_until,
        set_point: ask.water_to_come.map(rounded),
        water_to_come: rounded(ahead.water),
        unread,
        stages,
        warnings,
    })
}

fn water_to_come(ask: &Ask<'_>, end: Option<usize>) -> Result<f64, ProjectionError> {
    match (ask.water_to_come, end.and_then(|i| ask.course.points().get(i))) {
        (Some(w), _) if !(0.0..=45.0).contains(&w) => Err(ProjectionError::WaterToCome(w)),
        (Some(w), _) => Ok(w),
        (None, Some(&(last, newest))) => Ok(ask.course.mean(last - RECENT, last).unwrap_or(newest)),
        (None, None) => Err(ProjectionError::NoReading),
    }
}

/// How long there was no reading between two times, counting only gaps; the sum of [`Course::gaps`].
pub(crate) fn unread(course: &Course, from: Time, to: Time) -> Span {
    if from >= to { Span::ZERO } else { Span::from_days(course.sums(from, to).unread()) }
}

fn stages(
    ask: &Ask<'_>,
    ahead: &Ahead<'_>,
    seen: &[Observed],
    warnings: &mut Vec<String>,
) -> Vec<StageWindow> {
    let mut stages: Vec<StageWindow> = Vec::new();
    for stage in Stage::ALL {
        let sighting = seen.iter().find(|o| o.stage == stage);
        let window = match (sighting, ask.species.requirement(stage)) {
            (Some(o), _) => seen_window(ask, ahead, *o),
            (None, Some(_)) => {
                let (window, held) = due(ask, ahead, seen, stage);
                warnings.extend(held.then(|| warn::held(stage)));
                after_the_last(window, stages.last())
            }
            (None, None) => continue,
        };
        stages.push(before_the_next(window, seen));
    }
    stages
}

fn seen_window(ask: &Ask<'_>, ahead: &Ahead<'_>, o: Observed) -> StageWindow {
    let had = ahead.between(ask.day0.middle(), o.at, Edge::Likeliest, LIKELY);
    StageWindow {
        stage: o.stage,
        earliest: o.at,
        likeliest: o.at,
        latest: o.at,
        required: rounded(had),
        so_far: rounded(had),
        fraction: 1.0,
        seen: Some(o.at),
    }
}

/// Where counting begins and what is needed from there, for one base temperature: (earliest, likeliest, latest).
struct Way {
    starts: [Time; 3],
    needs: [f64; 3],
}

fn way(ask: &Ask<'_>, from: Option<&Observed>, stage: Stage, base: usize) -> Option<Way> {
    let t0 = ask.species.base.all()[base];
    let whole = ask.species.required(stage, t0)?;
    let (early, late) = ask.species.bounds(stage, t0)?;
    let Some(o) = from else {
        let starts = [ask.day0.earliest, ask.day0.middle(), ask.day0.latest];
        return Some(Way { starts, needs: [early, whole, late] });
    };
    let spread = ask.species.requirement(stage)?.spread;
    let rest = whole - ask.species.required(o.stage, t0)?;
    let needs = [rest * (1.0 - spread.early / 100.0), rest, rest * (1.0 + spread.late / 100.0)];
    Some(Way { starts: [o.at; 3], needs })
}

/// The window of a stage nobody has seen yet, and whether an end of it was held at the horizon.
fn due(ask: &Ask<'_>, ahead: &Ahead<'_>, seen: &[Observed], stage: Stage) -> (StageWindow, bool) {
    let from = seen.iter().rev().find(|o| o.stage < stage && ask.species.requirement(o.stage).is_some());
    let mut held = false;
    let mut reach = |edge: Edge, part: usize, base: usize| {
        let way = way(ask, from, stage, base)?;
        let at = ahead.reach(way.starts[part], way.needs[part], edge, base);
        held |= at.is_none();
        Some(at.unwrap_or(way.starts[part] + HORIZON))
    };
    let bases = [LOW, LIKELY, HIGH];
    let likeliest = reach(Edge::Likeliest, 1, LIKELY).unwrap_or(ask.day0.middle());
    let earliest = bases.iter().filter_map(|k| reach(Edge::Earliest, 0, *k)).fold(likeliest, Time::min);
    let latest = bases.iter().filter_map(|k| reach(Edge::Latest, 2, *k)).fold(likeliest, Time::max);
    let required = required(ask, ahead, from, stage);
    let so_far = ahead.so_far(ask.day0.middle()).degree_days(Edge::Likeliest, LIKELY);
    let window = StageWindow {
        stage,
        earliest,
        likeliest,
        latest,
        required: rounded(required),
        so_far: rounded(so_far.min(required)),
        fraction: rounded(if required > 0.0 { (so_far / required).clamp(0.0, 1.0) } else { 1.0 }),
        seen: None,
    };
    (window, held)
}

/// What was had up to the last sighting, and what is needed beyond it.
fn required(ask: &Ask<'_>, ahead: &Ahead<'_>, from: Option<&Observed>, stage: Stage) -> f64 {
    let had = from.map_or(0.0, |o| ahead.between(ask.day0.middle(), o.at, Edge::Likeliest, LIKELY));
    had + way(ask, from, stage, LIKELY).map_or(0.0, |w| w.needs[1])
}

/// No stage is due before the one it follows.
fn after_the_last(mut w: StageWindow, last: Option<&StageWindow>) -> StageWindow {
    if let Some(last) = last {
        w.earliest = w.earliest.max(last.earliest);
        w.likeliest = w.likeliest.max(last.likeliest);
        w.latest = w.latest.max(last.latest);
    }
    w
}

/// A stage nobody saw was over when a later one was seen.
fn before_the_next(mut w: StageWindow, seen: &[Observed]) -> StageWindow {
    if let Some(next) = seen.iter().find(|o| o.stage > w.stage && w.seen.is_none()) {
        w.earliest = w.earliest.min(next.at);
        w.likeliest = w.likeliest.min(next.at);
        w.latest = w.latest.min(next.at);
    }
    w
}
