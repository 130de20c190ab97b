//! Water that changes faster than what lives in it stands.

use super::High;
use super::course::{Course, values};
use crate::Settings;
use crate::statistics::{median, theil_sen};
use serde::Serialize;
use units::{Span, Time};

/// Half an hour: longer than a heater warms in one go, so that its cycle of ±0.3 K is at most 1.5 K/h. A planning value.
const OVER: Span = Span::minutes(30);
/// How much of it must be known. A planning value.
const LEAST: Span = Span::minutes(27);
/// Readings at either end that are taken together, and the fewest in between. Planning values.
const END: usize = 5;
const FEWEST: usize = 12;

/// How water has changed in the last half hour.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Change {
    /// K an hour, with its sign: the larger of the robust slope and of what lies between the ends. A step has no slope,
    /// and a water change of a few minutes is one.
    pub per_hour: f64,
    /// What lies between the ends, K: the size of the change so far.
    pub size: f64,
    /// Median of the first minutes, °C.
    pub from: f64,
    /// Median of the last ones, °C.
    pub to: f64,
    /// From when to when.
    pub over: (Time, Time),
}

impl Change {
    /// What is judged: K an hour without its sign.
    pub fn number(&self) -> f64 {
        self.per_hour.abs()
    }
}

/// Watches how fast the water of one probe changes. 0.5 kB.
///
/// ```
/// use alarms::monitors::FastChange;
/// use units::{Span, Time};
/// let mut v1 = FastChange::new();
/// for minute in 0..30 {
///     let celsius = if minute < 20 { 26.0 } else { 24.0 }; // a quarter of the water, 8 K colder
///     v1.note(Time::from_millis(0) + Span::minutes(minute), celsius);
/// }
/// let change = v1.judge().unwrap();
/// assert_eq!((change.size, change.from, change.to), (-2.0, 26.0, 24.0));
/// assert!((change.per_hour + 4.8).abs() < 0.3);
/// ```
#[derive(Debug, Clone)]
pub struct FastChange(Course);

impl Default for FastChange {
    fn default() -> Self {
        Self::new()
    }
}

impl FastChange {
    /// How far back it looks: what a restart must read again.
    pub const LOOKS_BACK: Span = OVER;
    /// What young stand, K/h. A planning value: no figure for the young of mouthbrooders was found. A heater that
    /// sticks on warms a tank by about that much (100 W in 40 L: 2.16 K/h, computed).
    pub const YOUNG: f64 = 2.0;

    /// Knows nothing yet.
    pub fn new() -> Self {
        Self(Course::new(Span::minutes(1), OVER))
    }

    /// Takes in a temperature in °C; true if it is the newest and the first of its minute: the moment to [`Self::judge`].
    pub fn note(&mut self, t: Time, celsius: f64) -> bool {
        self.0.note(t, celsius)
    }

    /// Raised when [`Change::number`] has been `per_hour` for 3 min; over when it has been a quarter less for 10 min.
    /// `None` for a limit that is not positive. Delays and deadband: planning values.
    pub fn settings(per_hour: f64) -> Option<Settings> {
        let high =
            High { limit: per_hour, deadband: per_hour / 4.0, on: Span::minutes(3), off: Span::minutes(10) };
        (per_hour.is_finite() && per_hour > 0.0).then(|| high.settings())
    }

    /// How it has changed; `None` until 27 min of the last half hour are known by 12 minutes' values.
    pub fn judge(&self) -> Option<Change> {
        let points = self.0.points();
        let over = (points.first()?.0, points.last()?.0);
        if over.1 - over.0 < LEAST || points.len() < FEWEST {
            return None;
        }
        let (first, last) = (points.get(..END)?, points.get(points.len() - END..)?);
        let (from, to) = (median(values(first))?, median(values(last))?);
        let apart = (last.get(END / 2)?.0 - first.get(END / 2)?.0).as_hours();
        let (slope, ends) = (theil_sen(&points)?.per_hour, (to - from) / apart);
        let per_hour = if slope.abs() > ends.abs() { slope } else { ends };
        Some(Change { per_hour, size: to - from, from, to, over })
    }
}
