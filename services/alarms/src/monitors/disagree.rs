//! Two probes of one water that cannot both be right.

use super::High;
use super::course::Course;
use crate::Settings;
use crate::statistics::median;
use serde::Serialize;
use std::collections::BTreeMap;
use units::{Span, Time};

/// Over how long. A planning value: a heater that has just been switched on warms one end first.
const OVER: Span = Span::minutes(30);
/// Fewest pairs of minutes, spread over how much. Planning values.
const LEAST: usize = 6;
const LEAST_SPAN: Span = Span::minutes(20);

/// How far two probes lie apart.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Apart {
    /// Median of first less second over half an hour, K.
    pub by: f64,
    /// What both may be off together, K.
    pub allowed: f64,
    /// Median of the first, °C.
    pub first: f64,
    /// Median of the second, °C.
    pub second: f64,
}

impl Apart {
    /// What is judged: K without its sign.
    pub fn number(&self) -> f64 {
        self.by.abs()
    }
}

/// Watches two probes of one water. 1 kB.
///
/// ```
/// use alarms::monitors::Disagree;
/// use units::{Span, Time};
/// let mut pair = Disagree::new(0.5, 0.5).unwrap();
/// for minute in 0..30 {
///     let t = Time::from_millis(0) + Span::minutes(minute);
///     pair.note_first(t, 26.0);
///     pair.note_second(t, 24.75);
/// }
/// let apart = pair.judge().unwrap();
/// assert_eq!((apart.by, apart.allowed), (1.25, 1.0));
/// ```
#[derive(Debug, Clone)]
pub struct Disagree {
    allowed: f64,
    first: Course,
    second: Course,
}

impl Disagree {
    /// How far back it looks: what a restart must read again.
    pub const LOOKS_BACK: Span = OVER;
    /// Rated accuracy of the usual one-wire probe, K (data sheet, -10 to +85 °C; seen in a garbled copy).
    pub const ONE_WIRE: f64 = 0.5;

    /// Two probes with their rated accuracies in K; what a comparison with a better thermometer has found belongs into the
    /// readings. `None` unless both are finite and not negative, and one is positive.
    pub fn new(first: f64, second: f64) -> Option<Self> {
        let allowed = first + second;
        let sound = first >= 0.0 && second >= 0.0 && allowed > 0.0 && allowed.is_finite();
        let course = || Course::new(Span::minutes(1), OVER);
        sound.then(|| Self { allowed, first: course(), second: course() })
    }

    /// Takes in what the first says, °C; true if it begins a minute: the moment to judge.
    pub fn note_first(&mut self, t: Time, celsius: f64) -> bool {
        self.first.note(t, celsius)
    }

    /// The same for the second.
    pub fn note_second(&mut self, t: Time, celsius: f64) -> bool {
        self.second.note(t, celsius)
    }

    /// Raised when they have been further apart than both may be off for 10 min, over when they have been nearer by 0.2
    /// K for 30 min. Planning values: the median is over half an hour already.
    pub fn settings(&self) -> Settings {
        let deadband = 0.2_f64.min(self.allowed / 2.0);
        High { limit: self.allowed, deadband, on: Span::minutes(10), off: Span::minutes(30) }.settings()
    }

    /// How far they lie apart, minute by minute; `None` until they have spoken together over 20 min, in six minutes at
    /// least.
    pub fn judge(&self) -> Option<Apart> {
        let minute = |t: Time| t.millis().div_euclid(60_000);
        let seconds: BTreeMap<i64, f64> =
            self.second.points().into_iter().map(|(t, value)| (minute(t), value)).collect();
        let newest = self.first.newest()?.max(self.second.newest()?);
        let mut pairs: Vec<(Time, f64, f64)> = Vec::new();
        for (t, first) in self.first.points().into_iter().filter(|(t, _)| *t > newest - OVER) {
            pairs.extend(seconds.get(&minute(t)).map(|second| (t, first, *second)));
        }
        let known = pairs.last()?.0 - pairs.first()?.0;
        let by = median(pairs.iter().map(|p| p.1 - p.2))?;
        let (first, second) = (median(pairs.iter().map(|p| p.1))?, median(pairs.iter().map(|p| p.2))?);
        (pairs.len() >= LEAST && known >= LEAST_SPAN).then_some(Apart {
            by,
            allowed: self.allowed,
            first,
            second,
        })
    }
}
