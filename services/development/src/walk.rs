//! From one question to another, piece by piece.

use crate::ahead::Ahead;
use crate::course::Course;
use crate::law::Pace;
use crate::observed::in_order;
use crate::parts::PartCause;
use crate::project::{Ask, ProjectionError, end_of, stages, water_to_come};
use crate::species::Species;
use units::{Sighting, Span, Stage, Time};

/// Likeliest times of the stages.
pub(crate) type Times = Vec<(Stage, Time)>;

/// A piece that was put in, and where it puts the stages.
#[derive(Debug)]
pub(crate) struct Step {
    pub(crate) cause: PartCause,
    /// Beginning of the stretch it is about.
    pub(crate) from: Time,
    /// Its end; `None`: the stage itself.
    pub(crate) to: Option<Time>,
    pub(crate) times: Times,
}

/// A question on the way.
#[derive(Debug, Clone, Copy)]
struct State<'a> {
    /// What `until` hides here are sightings alone.
    ask: Ask<'a>,
    /// The last point of the course that counts.
    end: Option<usize>,
    /// Water to come, °C.
    water: f64,
}

impl<'a> State<'a> {
    fn of(ask: &Ask<'a>) -> Result<Self, ProjectionError> {
        if ask.species.requirements.is_empty() {
            return Err(ProjectionError::NoStage(ask.species.key.clone()));
        }
        let end = end_of(ask);
        Ok(Self { ask: *ask, end, water: water_to_come(ask, end)? })
    }

    fn seen(&self) -> Vec<Sighting> {
        in_order(self.ask.seen, &self.ask.day0, self.ask.until).0
    }

    fn times(&self) -> Times {
        let ahead = Ahead::new(self.ask.course, self.end, self.water);
        let windows = stages(&self.ask, &ahead, &self.seen(), &mut Vec::new());
        windows.iter().map(|w| (w.stage, w.likeliest)).collect()
    }

    /// The points that count.
    fn points(&self) -> &'a [(Time, f64)] {
        let points = self.ask.course.points();
        points.get(..self.end.map_or(0, |i| i + 1)).unwrap_or(points)
    }

    fn last(&self) -> Option<Time> {
        self.points().last().map(|p| p.0)
    }

    fn step(&self, cause: PartCause, from: Time, to: Option<Time>) -> Step {
        Step { cause, from, to, times: self.times() }
    }
}

/// Where the stages were, and the steps in the order that [`split`](crate::split) tells.
pub(crate) fn walk(old: &Ask<'_>, new: &Ask<'_>) -> Result<(Times, Vec<Step>), ProjectionError> {
    let (mut state, goal) = (State::of(old)?, State::of(new)?);
    let begin = state.times();
    let mut steps = Vec::new();
    let first = old.day0.earliest.min(new.day0.earliest);
    if old.day0 != new.day0 {
        state.ask.day0 = new.day0;
        steps.push(state.step(PartCause::Day0, first, Some(old.day0.latest.max(new.day0.latest))));
    }
    let known = state.points();
    let again;
    if old.species != new.species || old.doubts != new.doubts {
        if old.course.pace != Pace::of(new.species) {
            again = course_of(new.species, first, known.iter().copied());
            (state.ask.course, state.end) = (&again, known.len().checked_sub(1));
        }
        (state.ask.species, state.ask.doubts) = (new.species, new.doubts);
        steps.push(state.step(PartCause::Species, first, None));
    }
    let was_seen = state.seen();
    (state.ask.seen, state.ask.until) = (new.seen, new.until);
    if let Some((from, to)) = ends(differing(&was_seen, &state.seen())) {
        steps.push(state.step(PartCause::Seen, from, Some(to)));
    }
    readings(&mut state, &goal, first, &mut steps);
    hours(&mut state, &goal, &mut steps);
    let to_come = PartCause::ToCome { before: state.water, after: goal.water };
    steps.push(goal.step(to_come, goal.last().unwrap_or(first), None));
    Ok((begin, steps))
}

/// What is known now of the time up to the last reading known then: first what had been missing, then what is another.
fn readings<'a>(state: &mut State<'a>, goal: &State<'a>, first: Time, steps: &mut Vec<Step>) {
    let cut = state.last().and_then(|t| goal.ask.course.index_at(t)).min(goal.end);
    let (known, read) = (state.points(), State { end: cut, ..*goal }.points());
    if known == read {
        (state.ask.course, state.end) = (goal.ask.course, cut);
        return;
    }
    let came = late(known, read);
    let together = course_of(goal.ask.species, first, known.iter().chain(&came).copied());
    let met = State {
        ask: Ask { course: &together, ..state.ask },
        end: together.points().len().checked_sub(1),
        ..*state
    };
    if let Some((from, to)) = ends(came.iter().map(|p| p.0)) {
        steps.push(met.step(PartCause::Late, from, Some(to)));
    }
    (state.ask.course, state.end) = (goal.ask.course, cut);
    if let Some((from, to)) = ends(changed(met.points(), read)) {
        steps.push(state.step(PartCause::Corrected, from, Some(to)));
    }
}

/// What was read since, one step for each hour of the clock in which there was a reading.
fn hours(state: &mut State<'_>, goal: &State<'_>, steps: &mut Vec<Step>) {
    const HOUR: i64 = Span::hours(1).millis();
    let points = goal.points();
    let mut from = state.last();
    while let Some(&(next, _)) = points.get(state.end.map_or(0, |i| i + 1)) {
        // A reading on the hour ends the hour before.
        let hour = (next.millis() - 1).div_euclid(HOUR);
        state.end = goal.ask.course.index_at(Time::from_millis((hour + 1) * HOUR)).min(goal.end);
        let to = state.last().unwrap_or(next);
        let begin = from.unwrap_or(next.min(state.ask.day0.earliest));
        let celsius = goal.ask.course.mean(begin, to);
        steps.push(state.step(PartCause::Water { celsius, instead_of: state.water }, begin, Some(to)));
        from = Some(to);
    }
}

fn course_of(species: &Species, from: Time, points: impl Iterator<Item = (Time, f64)>) -> Course {
    let mut course = Course::new(species, from);
    course.extend(points);
    course
}

/// What was read at times at which nothing was known.
fn late(known: &[(Time, f64)], read: &[(Time, f64)]) -> Vec<(Time, f64)> {
    read.iter().filter(|p| known.binary_search_by_key(&p.0, |k| k.0).is_err()).copied().collect()
}

/// Times that have another value, or a value only in one of both.
fn changed(known: &[(Time, f64)], read: &[(Time, f64)]) -> Vec<Time> {
    let only = |a: &[(Time, f64)], b: &[(Time, f64)]| -> Vec<Time> {
        let same = |p: &&(Time, f64)| b.binary_search_by_key(&p.0, |q| q.0).is_ok_and(|i| b[i].1 == p.1);
        a.iter().filter(|p| !same(p)).map(|p| p.0).collect()
    };
    [only(known, read), only(read, known)].concat()
}

/// When what only one of both knows of was seen.
fn differing(a: &[Sighting], b: &[Sighting]) -> Vec<Time> {
    let only = |a: &[Sighting], b: &[Sighting]| -> Vec<Time> {
        a.iter().filter(|o| !b.contains(o)).map(|o| o.seen.by()).collect()
    };
    [only(a, b), only(b, a)].concat()
}

/// Earliest and latest of some times.
fn ends(times: impl IntoIterator<Item = Time>) -> Option<(Time, Time)> {
    times.into_iter().fold(None, |ends, t| match ends {
        None => Some((t, t)),
        Some((a, b)) => Some((a.min(t), b.max(t))),
    })
}
