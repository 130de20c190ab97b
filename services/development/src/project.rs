//! From a course to windows.

use crate::ahead::{Ahead, HORIZON};
use crate::course::Course;
use crate::doubt::Doubts;
use crate::law::LIKELY;
use crate::observed::in_order;
use crate::projection::{Projection, StageWindow, rounded};
use crate::rest::{YOLK_JUDGED, rest, yolk_leg};
use crate::species::Species;
use crate::warn;
use crate::weigh::{Rest, Weighed};
use units::{Day0, Seen, Sighting, Sign, Span, Stage, Time};

/// Chance that a window holds what will be.
pub const PROBABILITY: f64 = 0.8;

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
    pub seen: &'a [Sighting],
    /// The temperature (°C) at which the water will be held; `None`: the mean of the last 24 h that were read.
    pub water_to_come: Option<f64>,
    /// How far temperatures can be off.
    pub doubts: Doubts,
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
/// read, then at the water to come. *Earliest* and *latest* hold four clutches of five ([`PROBABILITY`]): the spread of
/// the species, day 0 anywhere in its interval, the base temperature between low and high (four of five), the error of
/// the law, gaps ([`GAP_DOUBT`](crate::GAP_DOUBT)), water beyond the calibrated range
/// ([`EXTRAPOLATION_DOUBT`](crate::EXTRAPOLATION_DOUBT)), the probe and the water to come ([`Doubts`]) are taken
/// together as what they are: independent of each other.
///
/// A stage that was seen conditions the later ones: they count what they need beyond it from the time seen, and half
/// of its lateness is taken for this clutch's own pace and carried on. A stage seen between two looks, one that was
/// already past and half of the yolk gone tell what they can.
///
/// More data never widens a window by more than what it was off: a reading at most half an hour after the last one (both
/// as expected, but for `d` °C of the new one) widens none by more than `d` times the time it covers, divided by the
/// degrees that the water expected lies above the likely base temperature. The reading takes the place of that much
/// water to come, which was in more doubt. Where day 0 is wide or a stage was seen, the grid on which these are laid
/// out can add a thousandth of the window. After a gap it is wider by what the gap can hide, and where the last day
/// stands for the water to come, its mean moves all windows.
///
/// # Errors
/// [`ProjectionError`] without any reading or set-point, with a set-point that is no temperature, or with an entry
/// that has no stage.
pub fn project(ask: &Ask<'_>) -> Result<Projection, ProjectionError> {
    if ask.species.requirements.is_empty() {
        return Err(ProjectionError::NoStage(ask.species.key.clone()));
    }
    let end = end_of(ask);
    let ahead = Ahead::new(ask.course, end, water_to_come(ask, end)?);
    let (seen, mut warnings) = in_order(ask.seen, &ask.day0, ask.until);
    let stages = stages(ask, &ahead, &seen, &mut warnings);
    let read_until = read_until(ask);
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

/// Index of the last reading that counts.
pub(crate) fn end_of(ask: &Ask<'_>) -> Option<usize> {
    match ask.until {
        Some(until) => ask.course.index_at(until),
        None => ask.course.points().len().checked_sub(1),
    }
}

/// Time of the last reading that counts.
pub(crate) fn read_until(ask: &Ask<'_>) -> Option<Time> {
    end_of(ask).and_then(|i| ask.course.points().get(i)).map(|p| p.0)
}

pub(crate) fn water_to_come(ask: &Ask<'_>, end: Option<usize>) -> Result<f64, ProjectionError> {
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

/// Chance below which a window begins, and up to which it reaches: it holds [`PROBABILITY`].
const ENDS: (f64, f64) = (0.5 - 0.5 * PROBABILITY, 0.5 + 0.5 * PROBABILITY);

/// What is known of a clutch while its sightings are gone through.
struct Known<'a> {
    ask: &'a Ask<'a>,
    ahead: &'a Ahead<'a>,
    weighed: Weighed<'a>,
    /// The sign from which counting goes on; `None`: fertilisation.
    from: Option<Sign>,
}

pub(crate) fn stages(
    ask: &Ask<'_>,
    ahead: &Ahead<'_>,
    seen: &[Sighting],
    warnings: &mut Vec<String>,
) -> Vec<StageWindow> {
    let mut weighed = Weighed::new(ahead, ask.doubts, &ask.day0, !seen.is_empty());
    // What is seen later tells of the pace, and of day 0, from the first.
    weighed.narrow(seen.iter().filter_map(|o| Some((rest(ask.species, None, o.sign)?, o.seen))));
    let mut known = Known { ask, ahead, weighed, from: None };
    let mut stages: Vec<StageWindow> = Vec::new();
    for stage in Stage::ALL {
        if stage == Stage::FreeSwimming
            && let Some(o) = seen.iter().find(|o| o.sign == Sign::YolkHalfGone)
        {
            known.saw_yolk(o);
        }
        let sighting = seen.iter().find(|o| o.sign == Sign::Stage(stage));
        let window = match (sighting, ask.species.requirement(stage)) {
            (Some(o), _) => after_the_last(known.saw(stage, o.seen), stages.last()),
            (None, Some(_)) => {
                let (window, held) = known.due(stage);
                warnings.extend(held.then(|| warn::held(stage)));
                after_the_last(window, stages.last())
            }
            (None, None) => continue,
        };
        stages.push(before_the_next(window, seen));
    }
    stages
}

impl Known<'_> {
    fn rest(&self, sign: Sign) -> Option<Rest> {
        rest(self.ask.species, self.from, sign)
    }

    /// A stage was seen: its window, and what it tells of the later ones.
    fn saw(&mut self, stage: Stage, seen: Seen) -> StageWindow {
        let Some(rest) = self.rest(stage.into()) else {
            let from = seen.not_before().unwrap_or(seen.by());
            return self.seen_window(stage, [from, seen.by(), seen.by()], seen);
        };
        match seen {
            Seen::At(t) => {
                self.weighed.begin_at(&[(t, 1.0)]);
                self.from = Some(stage.into());
                self.seen_window(stage, [t; 3], seen)
            }
            Seen::Between(a, b) => {
                let times = self.weighed.when(&rest, a, b);
                let middle = times.iter().map(|(t, w)| (*t - a).millis() as f64 * w).sum::<f64>();
                self.weighed.begin_at(&times);
                self.from = Some(stage.into());
                self.seen_window(stage, [a, a + Span::from_millis(middle.round() as i64), b], seen)
            }
            Seen::By(t) => {
                let all = self.weighed.reached(&rest, t);
                let at =
                    |share: f64| self.weighed.quantile(&rest, share * all, t).filter(|q| *q < t).unwrap_or(t);
                let window = [at(ENDS.0), at(0.5), at(ENDS.1)];
                self.seen_window(stage, window, seen)
            }
        }
    }

    /// Half of the yolk was gone, as far as that can be judged: counting goes on from about there.
    fn saw_yolk(&mut self, o: &Sighting) {
        let Some(leg) = yolk_leg(self.ask.species).filter(|_| self.rest(o.sign).is_some()) else { return };
        let t = match o.seen {
            Seen::At(t) => t,
            Seen::Between(a, b) => a + Span::from_millis((b - a).millis() / 2),
            Seen::By(_) => return,
        };
        let slow = self.ahead.day().degree_days(LIKELY).max(0.1);
        let off = |j: f64| Span::from_days(j * YOLK_JUDGED * leg / slow);
        let weights = [-2.0, -1.0, 0.0, 1.0, 2.0_f64].map(|j| (t + off(j), (-0.5 * j * j).exp()));
        let all: f64 = weights.iter().map(|w| w.1).sum();
        self.weighed.begin_at(&weights.map(|(at, w)| (at, w / all)));
        self.from = Some(o.sign);
    }

    fn had(&self, at: Time) -> f64 {
        self.ahead.between(self.ask.day0.middle(), at)
    }

    fn seen_window(&self, stage: Stage, [earliest, likeliest, latest]: [Time; 3], seen: Seen) -> StageWindow {
        let had = rounded(self.had(likeliest));
        StageWindow {
            stage,
            earliest,
            likeliest,
            latest,
            probability: if matches!(seen, Seen::By(_)) { PROBABILITY } else { 1.0 },
            required: had,
            so_far: had,
            fraction: 1.0,
            seen: Some(seen.by()),
            first: None,
            last: None,
        }
    }

    /// The window of a stage nobody has seen yet, and whether a time of it was held at the horizon.
    fn due(&self, stage: Stage) -> (StageWindow, bool) {
        let start = self.weighed.start();
        let Some(rest) = self.rest(stage.into()) else {
            return (self.seen_window(stage, [start; 3], Seen::By(start)), false);
        };
        let mut held = false;
        let mut or_horizon = |t: Option<Time>| {
            held |= t.is_none();
            t.unwrap_or(start + HORIZON)
        };
        let plain = self.ahead.reach(start, rest.needs[LIKELY]);
        let likeliest = or_horizon(match plain {
            Some(guess) if self.weighed.tells() => self.weighed.quantile(&rest, 0.5, guess),
            plain => plain,
        });
        let need =
            if self.weighed.tells() { self.ahead.between(start, likeliest) } else { rest.needs[LIKELY] };
        let end = |share: f64| self.weighed.quantile(&rest, share, likeliest);
        let (earliest, latest) = (or_horizon(end(ENDS.0)), or_horizon(end(ENDS.1)));
        let within = |percent: f64| {
            let whole = self.ask.species.required(stage, self.ask.species.base.likely)?;
            self.ahead.reach(start, need + whole * percent / 100.0).filter(|_| stage == Stage::Hatch)
        };
        let before = self.from.map_or(0.0, |_| self.had(start));
        let (required, so_far) =
            (before + need, self.ahead.so_far(self.ask.day0.middle()).degree_days(LIKELY));
        let window = StageWindow {
            stage,
            earliest: earliest.min(likeliest),
            likeliest,
            latest: latest.max(likeliest),
            probability: PROBABILITY,
            required: rounded(required),
            so_far: rounded(so_far.min(required)),
            fraction: rounded(if required > 0.0 { (so_far / required).clamp(0.0, 1.0) } else { 1.0 }),
            seen: None,
            first: within(-self.ask.species.within.early),
            last: within(self.ask.species.within.late),
        };
        (window, held)
    }
}

/// When a clutch was spawned, as far as what was seen of it tells: earliest, likeliest and latest time that hold
/// [`PROBABILITY`]. This is how a clutch of unknown age is dated: give a wide day 0 and the stage it was found in.
///
/// # Errors
/// As [`project`].
pub fn likely_day0(ask: &Ask<'_>) -> Result<(Time, Time, Time), ProjectionError> {
    let end = end_of(ask);
    let ahead = Ahead::new(ask.course, end, water_to_come(ask, end)?);
    let (seen, _) = in_order(ask.seen, &ask.day0, ask.until);
    let mut weighed = Weighed::new(&ahead, ask.doubts, &ask.day0, !seen.is_empty());
    weighed.narrow(seen.iter().filter_map(|o| Some((rest(ask.species, None, o.sign)?, o.seen))));
    let middle = weighed.start();
    let (first, last) = weighed.start_window().unwrap_or((middle, middle));
    Ok((first.min(middle), middle, last.max(middle)))
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
fn before_the_next(mut w: StageWindow, seen: &[Sighting]) -> StageWindow {
    if let Some(next) = seen.iter().find(|o| o.sign > w.stage.into() && w.seen.is_none()) {
        w.earliest = w.earliest.min(next.seen.by());
        w.likeliest = w.likeliest.min(next.seen.by());
        w.latest = w.latest.min(next.seen.by());
    }
    w
}
