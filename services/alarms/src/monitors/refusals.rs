//! How much of what a device says is refused.

use super::High;
use crate::Settings;
use serde::Serialize;
use std::collections::VecDeque;
use units::{Span, Time};

/// Minutes that count. A planning value.
const MINUTES: i64 = 15;
/// Messages that are counted as accepted beside those that came, so that few say little: three refusals in a row are
/// the least that reach one half. A board that starts again sends two (job of the keeper, 85.0 twice). A planning
/// value.
const BESIDE: f64 = 3.0;

/// What came in fifteen minutes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Refused {
    /// Messages that were refused.
    pub refused: u32,
    /// Messages that were accepted.
    pub accepted: u32,
}

impl Refused {
    /// What is judged: the refused share, 0 to 1, with three messages more that count as accepted.
    pub fn number(&self) -> f64 {
        f64::from(self.refused) / (f64::from(self.refused) + f64::from(self.accepted) + BESIDE)
    }
}

/// Counts refused and accepted messages of a probe, a device or a room by minutes. 0.4 kB.
///
/// ```
/// use alarms::monitors::Refusals;
/// use units::{Span, Time};
/// let mut board = Refusals::new();
/// let at = |minute| Time::from_millis(0) + Span::minutes(minute);
/// (0..12).for_each(|minute| board.note(at(minute), minute < 6));
/// assert!((board.share(at(11)).number() - 0.4).abs() < 1e-9);
/// assert_eq!(board.share(at(60)).number(), 0.0); // nothing for a long time is silence, which is another alarm
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Refusals(VecDeque<(i64, Refused)>);

impl Refusals {
    /// How far back it looks: what a restart must read again.
    pub const LOOKS_BACK: Span = Span::minutes(MINUTES);

    /// Has counted nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Counts a message that arrived at `t`.
    pub fn note(&mut self, t: Time, refused: bool) {
        let at = minute(t);
        if self.0.back().is_some_and(|(newest, _)| at <= newest - MINUTES) {
            return;
        }
        let place = self.0.partition_point(|(minute, _)| *minute < at);
        if self.0.get(place).is_none_or(|(minute, _)| *minute != at) {
            self.0.insert(place, (at, Refused { refused: 0, accepted: 0 }));
        }
        if let Some((_, counted)) = self.0.get_mut(place) {
            let one = if refused { &mut counted.refused } else { &mut counted.accepted };
            *one = one.saturating_add(1);
        }
        let newest = self.0.back().map_or(at, |(newest, _)| *newest);
        self.0.retain(|(minute, _)| *minute > newest - MINUTES);
    }

    /// Raised when [`Refused::number`] has been a half for 3 min; over when it has been under 0.3 for 5 min. Planning
    /// values.
    pub fn settings() -> Settings {
        High { limit: 0.5, deadband: 0.2, on: Span::minutes(3), off: Span::minutes(5) }.settings()
    }

    /// What came in the fifteen minutes up to `now`.
    pub fn share(&self, now: Time) -> Refused {
        let counts = || self.0.iter().filter(|(at, _)| *at > minute(now) - MINUTES && *at <= minute(now));
        let sum = |of: fn(&Refused) -> u32| counts().fold(0, |sum: u32, (_, c)| sum.saturating_add(of(c)));
        Refused { refused: sum(|c| c.refused), accepted: sum(|c| c.accepted) }
    }
}

fn minute(t: Time) -> i64 {
    t.millis().div_euclid(60_000)
}
