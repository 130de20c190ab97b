//! How far a figure has moved from its usual: for conductivity, which says that other water has come in.

use super::High;
use super::course::{Course, values};
use crate::Settings;
use crate::statistics::median;
use serde::Serialize;
use units::{Span, Time};

/// A reading of each five minutes is kept for a day. Planning values.
const SLOT: Span = Span::minutes(5);
const KEEPS: Span = Span::hours(24);
/// What counts as now, and the fewest readings of now and of the usual. Planning values.
const NOW: Span = Span::minutes(20);
const LEAST_NOW: usize = 3;
const LEAST_USUAL: usize = 24;

/// A figure against its usual.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Moved {
    /// Median of the last 20 min, in its unit.
    pub now: f64,
    /// Median of the day before.
    pub usual: f64,
    /// By how many percent of the usual it has moved, with its sign.
    pub percent: f64,
}

impl Moved {
    /// What is judged: percent without its sign.
    pub fn number(&self) -> f64 {
        self.percent.abs()
    }
}

/// Watches a positive figure against the median of its last day. 5 kB. What stays changed is usual after half a day.
///
/// ```
/// use alarms::monitors::Usual;
/// use units::{Span, Time};
/// let mut conductivity = Usual::new();
/// for n in 0..48 {
///     conductivity.note(Time::from_millis(0) + Span::minutes(5 * n), if n < 44 { 520.0 } else { 390.0 });
/// }
/// assert_eq!(conductivity.judge().unwrap().percent, -25.0);
/// ```
#[derive(Debug, Clone)]
pub struct Usual(Course);

impl Default for Usual {
    fn default() -> Self {
        Self::new()
    }
}

impl Usual {
    /// How far back it looks: what a restart must read again.
    pub const LOOKS_BACK: Span = KEEPS;
    /// By how much conductivity may change, percent. A planning value: a quarter of the water changed for rain water is
    /// more, what evaporates in a day is less.
    pub const CONDUCTIVITY: f64 = 15.0;

    /// Knows nothing yet.
    pub fn new() -> Self {
        Self(Course::new(SLOT, KEEPS))
    }

    /// Takes in a value; true if it is the newest and the first of its five minutes: the moment to judge.
    pub fn note(&mut self, t: Time, value: f64) -> bool {
        self.0.note(t, value)
    }

    /// Raised when [`Moved::number`] has been `percent` for 10 min; over when it has been a third less for as long.
    /// `None` for a limit that is not positive. Delays and deadband: planning values.
    pub fn settings(percent: f64) -> Option<Settings> {
        let delay = Span::minutes(10);
        let high = High { limit: percent, deadband: percent / 3.0, on: delay, off: delay };
        (percent.is_finite() && percent > 0.0).then(|| high.settings())
    }

    /// How far it has moved; `None` until two hours are known, or where the usual is not positive.
    pub fn judge(&self) -> Option<Moved> {
        let (now, past) = (values(&self.0.last(NOW)), values(&self.0.before(NOW)));
        if now.len() < LEAST_NOW || past.len() < LEAST_USUAL {
            return None;
        }
        let (now, usual) = (median(now)?, median(past)?);
        (usual > 0.0).then_some(Moved { now, usual, percent: 100.0 * (now / usual - 1.0) })
    }
}
