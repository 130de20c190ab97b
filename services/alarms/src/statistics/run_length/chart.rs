//! Average run lengths of the charts.

use super::chain::{Chain, Moves};
use crate::statistics::half_width;
use serde::{Deserialize, Serialize};

/// The longest run length that is worked out: beyond it what is left of a chance of one is lost in rounding.
const LONGEST: f64 = 1e10;
/// Bounds of a CUSUM's figures and of an EWMA's limit, in standard deviations: what the places of a chain are dense enough
/// for. Charts beyond are quiet for longer than [`LONGEST`], but for those of very small slack.
const FURTHEST: f64 = 200.0;
const WIDEST: f64 = 8.0;

/// Whether a CUSUM looks to one side or to both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sides {
    /// Only up.
    One,
    /// Up and down.
    Two,
}

/// A chart by its figures in standard deviations of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Chart {
    /// A tabular CUSUM; see [`crate::statistics::CusumSettings`].
    Cusum {
        /// Slack.
        k: f64,
        /// Decision interval, up to 200.
        h: f64,
        /// Where the sums start, not above `h`, or half of it for two sides.
        head_start: f64,
        /// One or both.
        sides: Sides,
    },
    /// A two-sided EWMA chart with asymptotic limits; see [`crate::statistics::EwmaSettings`].
    Ewma {
        /// Weight of the newest reading, 0.001 to 1.
        lambda: f64,
        /// Half width of the limits in standard deviations of the smoothed value, up to 8.
        limit: f64,
    },
}

impl Chart {
    /// Average readings to a signal if the mean is off its target by `shift` from the first reading on, the one with the
    /// signal included. With shift 0 it is how many readings lie between two false signals.
    ///
    /// `None` for figures that are negative, not finite or beyond the bounds of the chart, and for run lengths over 10¹⁰.
    pub fn average(&self, shift: f64) -> Option<f64> {
        let (chain, start) = self.chain().filter(|_| shift.is_finite())?;
        if !matches!(self, Self::Cusum { sides: Sides::Two, .. }) {
            return chain.steady([start, 0.0], shift).and_then(|[length, _]| sensible(length));
        }
        let towards = chain.steady([start, 0.0], shift.abs())?;
        let (up, plain_up) = (sensible(towards[0])?, sensible(towards[1])?);
        let away = if shift == 0.0 { Some(towards) } else { chain.steady([start, 0.0], -shift.abs()) };
        let Some([down, plain_down]) = away.filter(|away| away.iter().all(|n| sensible(*n).is_some())) else {
            return Some(up); // the sum that the shift holds down all but never signals
        };
        // The two sums do not touch each other (Lucas & Crosier 1982, Technometrics 24:199-205).
        sensible((up * plain_down + plain_up * down - plain_up * plain_down) / (plain_up + plain_down))
    }

    /// Average readings to a signal if the mean goes away from its target by `per_reading` with every reading; the first
    /// reading is off by that already, or with `first_on_target` the second one. Source: Gan 1992, The Statistician
    /// 41:71-84; Knoth's R package spc, `xDcusum.arl`, for the equations.
    ///
    /// `None` as [`Chart::average`], for a CUSUM of two sides, and for a drift that is not positive or so slow that it takes
    /// over 100,000 readings.
    ///
    /// ```
    /// use alarms::statistics::run_length::{Chart, Sides};
    /// let chart = Chart::Cusum { k: 0.5, h: 5.62, head_start: 0.0, sides: Sides::One };
    /// assert!((chart.average_under_drift(0.01, false).unwrap() - 61.86).abs() < 0.01);
    /// ```
    pub fn average_under_drift(&self, per_reading: f64, first_on_target: bool) -> Option<f64> {
        if !per_reading.is_finite()
            || per_reading <= 0.0
            || matches!(self, Self::Cusum { sides: Sides::Two, .. })
        {
            return None;
        }
        let (chain, start) = self.chain()?;
        let first = if first_on_target { 0 } else { 1 };
        chain.moving(start, |n| per_reading * f64::from(n + first)).and_then(sensible)
    }

    fn chain(&self) -> Option<(Chain, f64)> {
        match *self {
            Self::Cusum { k, h, head_start, sides } => {
                let sound = (0.0..=FURTHEST).contains(&k) && h > 0.0 && h <= FURTHEST;
                // Above half, one sum can signal before the other has fallen to 0.
                let most = if sides == Sides::One { h } else { h / 2.0 };
                (sound && (0.0..=most).contains(&head_start))
                    .then(|| (Chain::new(Moves::Cusum { k }, h), head_start))
            }
            Self::Ewma { lambda, limit } => {
                let width = half_width(lambda, limit, 1.0, None)?;
                let sound = lambda >= 0.001 && width > 0.0 && limit <= WIDEST;
                sound.then(|| (Chain::new(Moves::Ewma { lambda }, width), 0.0))
            }
        }
    }
}

/// A length that rounding has left alone.
fn sensible(length: f64) -> Option<f64> {
    (1.0..=LONGEST).contains(&length).then_some(length)
}
