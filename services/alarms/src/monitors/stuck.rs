//! A probe that repeats one value for longer than it ever does.

use super::course::{Course, values};
use super::{High, grid};
use crate::Settings;
use crate::statistics::median;
use serde::Serialize;
use units::{Span, Time};

/// Three days are kept: two nights, in which water is at its steadiest; of that a reading of each five minutes, of air, which is
/// never steady, one of each minute. Planning values.
const KEEPS: Span = Span::days(3);
const OF_WATER: Span = Span::minutes(5);
const OF_AIR: Span = Span::minutes(1);
/// From so many readings it is told how far they lie apart.
const SPACED: usize = 48;
/// So many must be known before the longest run says anything: of water half a day, with a night or most of one. A
/// planning value.
const LEAST: usize = 144;
/// How many times its longest run a probe must repeat, and the shortest run that counts as longest. Planning values.
const FACTOR: f64 = 3.0;
const SHORTEST: usize = 6;
/// How far under its limit a run must be to count no more, of 1. A planning value.
const DEADBAND: f64 = 0.2;
/// How seldom readings that do not depend on each other may repeat themselves for so long by chance. A planning value:
/// less than once in a year of minutes.
const BY_CHANCE: f64 = 1e-6;
/// How long it must stand still beside a sister that moves, in readings: an hour. A planning value.
const BESIDE: usize = 12;
/// How far the sister must move meanwhile: four steps of this probe, and at least this many K. Planning values; where
/// its step is not known, 0.5 K, the coarsest that a one-wire probe has (9 bits; its maker's data sheet).
const STEPS: f64 = 4.0;
const LEAST_MOVE: f64 = 0.3;
const COARSEST: f64 = 0.5;

/// How long a probe has repeated its value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Repeats {
    /// The value, in its unit.
    pub value: f64,
    /// Since when.
    pub since: Time,
    /// For so long, as far as it was heard: silence does not count.
    pub lasting: Span,
    /// The longest that it has repeated any value before.
    pub longest: Span,
    /// From here on it is stuck.
    pub limit: Span,
}

impl Repeats {
    /// What is judged: 1 at the limit.
    pub fn number(&self) -> f64 {
        self.lasting.as_seconds() / self.limit.as_seconds()
    }
}

/// A probe that stands still while its sister in the same water moves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Beside {
    /// Its value.
    pub value: f64,
    /// Since when it stands.
    pub since: Time,
    /// How far the sister has moved since, in the unit of both.
    pub moved: f64,
    /// How far it may.
    pub limit: f64,
}

impl Beside {
    /// What is judged: 1 at the limit.
    pub fn number(&self) -> f64 {
        self.moved / self.limit
    }
}

/// Watches whether a probe repeats itself. 14 kB of water, 69 kB of air.
///
/// The limit is three times the longest run that the probe has had before, at least 18 readings. Of water that is an hour
/// and a half; a steady tank on a probe of 1/16 K may rightly say 26.0625 for half a night. Of air it is a few tens of
/// minutes, and more than chance brings about: a flow meter whose step hides how air pulsates rightly says the same for
/// hours, and nobody can tell whether it is stuck.
///
/// A value of nought is no fault of the probe: air that is off flows at 0.00 for as long as it is off, and has its own
/// alarm. Once a probe has been stuck, that run is the longest one for three days.
///
/// ```
/// use alarms::monitors::Stuck;
/// use units::{Span, Time};
/// let mut flow = Stuck::of_air();
/// for n in 0..200 {
///     let said = if n < 170 { 0.80 + 0.01 * f64::from(n * n % 7) } else { 0.83 };
///     flow.note(Time::from_millis(0) + Span::minutes(i64::from(n)), said);
/// }
/// let repeats = flow.judge().unwrap();
/// assert_eq!(repeats.lasting, Span::minutes(30));
/// assert!(repeats.number() >= 1.0);
/// ```
#[derive(Debug, Clone)]
pub struct Stuck {
    course: Course,
    /// Whether its readings do not depend on each other, so that chance can be reckoned with.
    apart: bool,
}

/// Equal values in a row.
struct Run {
    first: usize,
    len: usize,
}

impl Stuck {
    /// How far back it looks: what a restart must read again.
    pub const LOOKS_BACK: Span = KEEPS;

    /// Of water: knows nothing yet, and judges once in five minutes.
    pub fn of_water() -> Self {
        Self { course: Course::new(OF_WATER, KEEPS), apart: false }
    }

    /// Of a flow: knows nothing yet, and judges once a minute.
    pub fn of_air() -> Self {
        Self { course: Course::new(OF_AIR, KEEPS), apart: true }
    }

    /// Takes in a value; true if it is the newest and the first of its time: the moment to judge.
    pub fn note(&mut self, t: Time, value: f64) -> bool {
        self.course.note(t, value)
    }

    /// For [`Repeats::number`] and [`Beside::number`]: raised at once at 1, for it is slow enough already; over as soon
    /// as another value comes or the sister is near again.
    pub fn settings() -> Settings {
        High { limit: 1.0, deadband: DEADBAND, on: Span::ZERO, off: Span::ZERO }.settings()
    }

    /// How long the newest value has been repeated; `None` until 144 readings are known, and for a value of nought.
    pub fn judge(&self) -> Option<Repeats> {
        let points = self.course.points();
        let runs = runs(&points);
        let (now, before) = runs.split_last()?;
        let (since, value) = *points.get(now.first)?;
        if points.len() - now.len < LEAST || value == 0.0 {
            return None;
        }
        let longest = before.iter().map(|run| run.len).max()?;
        let chance = if self.apart { by_chance(before) } else { 0.0 };
        let spacing = spacing(&points)?;
        let span = |readings: f64| Span::from_millis((readings * spacing) as i64);
        Some(Repeats {
            value,
            since,
            lasting: span(now.len as f64),
            longest: span(longest as f64),
            limit: span((FACTOR * longest.max(SHORTEST) as f64).max(chance)),
        })
    }

    /// Whether it has repeated its value so seldom that no limit is near: [`Repeats::number`] is then under what raises an
    /// alarm and what keeps one. Mostly so, and told at once.
    pub fn is_brief(&self) -> bool {
        (self.tail() as f64) < (1.0 - DEADBAND) * FACTOR * SHORTEST as f64
    }

    /// Whether it has repeated a value for so long that nothing else is known any more: what was found before holds.
    pub fn has_forgotten(&self) -> bool {
        let now = self.tail();
        now >= LEAST
            && self.course.len() - now < LEAST
            && self.course.newest_first().next().is_some_and(|(_, value)| value != 0.0)
    }

    /// How many of the newest readings are equal.
    fn tail(&self) -> usize {
        let mut values = self.course.newest_first().map(|(_, value)| value);
        values.next().map_or(0, |newest| 1 + values.take_while(|value| *value == newest).count())
    }

    /// Whether this probe stands still while `sister`, in the same water, moves; `None` unless it has stood for an hour.
    pub fn beside(&self, sister: &Self) -> Option<Beside> {
        let points = self.course.points();
        let run = runs(&points).pop().filter(|run| run.len >= BESIDE)?;
        let (since, value) = *points.get(run.first)?;
        let until = points.last()?.0;
        let mut meanwhile = sister.course.points();
        meanwhile.retain(|(t, _)| *t >= since && *t <= until);
        let step = grid::step_of(values(&points)).unwrap_or(COARSEST);
        let limit = (STEPS * step).max(LEAST_MOVE);
        Some(Beside { value, since, moved: range(values(&meanwhile))?, limit })
    }
}

/// The usual time from one reading to the next, ms: silence does not count.
fn spacing(points: &[(Time, f64)]) -> Option<f64> {
    let newest = points.get(points.len().saturating_sub(SPACED)..)?;
    median(newest.windows(2).filter_map(|w| Some((w.last()?.0 - w.first()?.0).millis() as f64)))
}

/// The run, in readings, that chance brings about once in [`BY_CHANCE`]: each repeats the one before as often as has been
/// seen.
fn by_chance(runs: &[Run]) -> f64 {
    let readings: usize = runs.iter().map(|run| run.len).sum();
    let repeated = readings - runs.len();
    // Laplace's rule of succession: never quite nought and never quite certain.
    let share = (repeated as f64 + 1.0) / (readings as f64 + 2.0);
    BY_CHANCE.ln() / share.ln()
}

fn runs(points: &[(Time, f64)]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (i, (_, value)) in points.iter().enumerate() {
        match runs.last_mut().filter(|run| points.get(run.first).is_some_and(|first| first.1 == *value)) {
            Some(run) => run.len += 1,
            None => runs.push(Run { first: i, len: 1 }),
        }
    }
    runs
}

/// From the second least to the second greatest: one wild value is no movement.
fn range(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let least = values.get(1)?;
    let most = values.get(values.len().checked_sub(2)?)?;
    (values.len() >= BESIDE / 2).then_some(most - least)
}
