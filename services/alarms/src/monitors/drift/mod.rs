//! Water that creeps away from where it was at this hour, long before it leaves its band.

mod limit;
mod residual;

pub use limit::DriftLimit;

use super::course::{Course, values};
use super::{High, grid};
use crate::Settings;
use crate::statistics::{Ewma, EwmaSettings, Limits, median};
use limit::{A_DAY, BUCKET, LAMBDA};
use serde::Serialize;
use std::collections::BTreeMap;
use units::{Span, Time};

/// A reading of each five minutes is kept: six make a median. A planning value.
const SLOT: Span = Span::minutes(5);
/// Fewest of them. A planning value.
const LEAST: usize = 3;
/// A week for the daily shape, and a day for the level of its first.
const KEEPS: Span = Span::days(8);
/// What may drift already does not count for the spread: half a day. A planning value.
const NOT_YET: usize = 24;
/// A single half hour counts at most so many limits: however wild, it takes five of them, two and a half hours, to be a
/// drift. So a water change or an open door is none. A planning value.
const WILDEST: f64 = 1.5;

/// How water stands to where it was at this hour.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drifted {
    /// Smoothed departure, K, with its sign.
    pub by: f64,
    /// Where that is a drift, K.
    pub limit: f64,
    /// The last whole half hour's median, °C.
    pub has: f64,
    /// What was expected of it, °C.
    pub expected: f64,
    /// From when on the smoothed departure has had this sign without a break.
    pub since: Time,
    /// The end of that half hour.
    pub until: Time,
    /// Earlier days were known at this hour; else it is held against the last 24 h alone.
    pub daily: bool,
}

impl Drifted {
    /// What is judged: 1 at the limit.
    pub fn number(&self) -> f64 {
        self.by.abs() / self.limit
    }
}

/// Watches the water of one probe for drift.
///
/// An EWMA (weight 0.2) of half-hour medians, less the median level of the 24 h before and less how that half hour
/// stood to it on up to seven earlier days (from two on). Its limit follows from the wanted nights between false pages,
/// and its spread from the course itself, widened for how much each half hour resembles the last: water is never
/// independent of itself.
///
/// It is worked out afresh from the kept readings at every half hour, so a late reading changes what it would have
/// said. The keeper who sets another temperature gets one alarm, which is over within a day and a half, when the
/// level has followed.
///
/// Found in simulation for 60 wanted nights: 16 false pages in 1,200 nights of water that follows its room through day and
/// weather, none in 1,200 of a heater of ±0.3 K, none in 120 with a quarter changed every third evening. 1 K in 12 h is
/// found after 6 to 8 h, 0.7 to 2.6 h before a band of ±1 K is left (`tests/monitors/drift.rs`, seeded).
///
/// 37 kB a probe (2,304 readings), and less than a millisecond each half hour.
///
/// ```
/// use alarms::monitors::{Drift, DriftLimit};
/// use units::{Span, Time};
/// let mut v1 = Drift::new(DriftLimit::nights(60.0).unwrap());
/// for minute in (0..3 * 1440).step_by(5) {
///     let failing = 0.0015 * (minute - 2 * 1440).max(0) as f64; // 0.09 K an hour
///     let cycle = 0.1 * (minute as f64 / 7.0).sin();
///     v1.note(Time::from_millis(0) + Span::minutes(minute), 26.0 + cycle - failing);
///     if minute == 2 * 1440 {
///         assert!(v1.judge().unwrap().number() < 1.0);
///     }
///     if minute == 2 * 1440 + 420 {
///         let drifted = v1.judge().unwrap();
///         assert!(drifted.number() > 1.0 && drifted.by < 0.0 && drifted.expected > 25.9);
///     }
/// }
/// ```
#[derive(Debug, Clone)]
pub struct Drift {
    limit: DriftLimit,
    course: Course,
}

impl Drift {
    /// How far back it looks: what a restart must read again.
    pub const LOOKS_BACK: Span = KEEPS;

    /// Knows nothing yet.
    pub fn new(limit: DriftLimit) -> Self {
        Self { limit, course: Course::new(SLOT, KEEPS) }
    }

    /// Takes in a temperature in °C; true if it is the newest and begins a half hour: the moment to [`Self::judge`].
    pub fn note(&mut self, t: Time, celsius: f64) -> bool {
        let before = self.course.newest().map(bucket);
        self.course.note(t, celsius) && before.is_none_or(|before| before < bucket(t))
    }

    /// Raised at once when [`Drifted::number`] is 1, for it is slow enough already; over when it has been under 0.7 for
    /// an hour. Planning values.
    pub fn settings() -> Settings {
        High { limit: 1.0, deadband: 0.3, on: Span::ZERO, off: Span::hours(1) }.settings()
    }

    /// How the water stands at the end of the last whole half hour; `None` until about a day is known, or without that
    /// half hour.
    pub fn judge(&self) -> Option<Drifted> {
        let end = bucket(self.course.newest()?);
        let left = residual::left(&self.medians(end));
        let residuals: Vec<Option<f64>> = left.iter().map(|l| l.map(|l| l.by)).collect();
        let step = grid::step_of(values(&self.course.last(Span::hours(24)))).unwrap_or(0.0);
        let old = residuals.get(..residuals.len().saturating_sub(NOT_YET))?;
        let spread = residual::smoothed_spread(old, step).filter(|spread| *spread > 0.0)?;
        let (by, half_hours) = smoothed(&residuals, self.limit.0 * spread)?;
        let newest = (*left.last()?)?;
        let until = Time::from_millis(end * BUCKET.millis());
        Some(Drifted {
            by,
            limit: self.limit.0 * spread,
            has: newest.expected + newest.by,
            expected: newest.expected,
            since: until - Span::from_millis(half_hours * BUCKET.millis()),
            until,
            daily: newest.daily,
        })
    }

    /// The medians of the half hours before `end`, oldest first.
    fn medians(&self, end: i64) -> Vec<Option<f64>> {
        let mut parts: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
        for (t, value) in self.course.points() {
            parts.entry(bucket(t)).or_default().push(value);
        }
        let first = end - 8 * A_DAY as i64;
        (first..end).map(|i| parts.remove(&i).filter(|part| part.len() >= LEAST).and_then(median)).collect()
    }
}

fn bucket(t: Time) -> i64 {
    t.millis().div_euclid(BUCKET.millis())
}

/// The smoothed departure and for how many half hours it has had its sign. A half hour without a value changes nothing.
fn smoothed(residuals: &[Option<f64>], limit: f64) -> Option<(f64, i64)> {
    let settings =
        EwmaSettings { target: 0.0, sigma: limit, lambda: LAMBDA, limit: 1.0, limits: Limits::Asymptotic };
    let mut chart = Ewma::new(settings)?;
    let (mut z, mut began) = (0.0_f64, 0);
    for (i, residual) in residuals.iter().enumerate() {
        let held = residual.map(|r| r.clamp(-WILDEST * limit, WILDEST * limit));
        if let Some(point) = held.and_then(|r| chart.push(r)) {
            began = if point.z * z > 0.0 { began } else { i };
            z = point.z;
        }
    }
    Some((z, (residuals.len() - began) as i64))
}
