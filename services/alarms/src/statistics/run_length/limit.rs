//! Limits from the false alarms that one is ready to bear.

use super::chart::{Chart, Sides};

/// A two-sided chart whose limit is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Design {
    /// A CUSUM without head start; the limit is its decision interval h in standard deviations of a reading.
    Cusum {
        /// Slack in standard deviations of a reading: half of the shift to find. 0.05 to 3.
        k: f64,
    },
    /// An EWMA chart; the limit is its half width L in standard deviations of the smoothed value.
    Ewma {
        /// Weight of the newest reading, 0.001 to 1.
        lambda: f64,
    },
}

impl Design {
    /// The chart with a limit.
    pub fn with(self, limit: f64) -> Chart {
        match self {
            Self::Cusum { k } => Chart::Cusum { k, h: limit, head_start: 0.0, sides: Sides::Two },
            Self::Ewma { lambda } => Chart::Ewma { lambda, limit },
        }
    }
}

/// The limit with which a chart gives one false signal in so many nights, if it is fed so many readings a night that are
/// independent of each other (see [`super`]).
///
/// A keeper is woken by any of a room's charts: with n charts alike, ask for n times the nights. Nights between false pages
/// are those on average; half of the waits are shorter than 0.7 of them.
///
/// `None` as [`limit_for_run_length`] of the product.
///
/// ```
/// use alarms::statistics::run_length::{Design, limit_for};
/// // Ten charts, each fed 48 times a night, one page in 90 nights from all of them together: 43,200 readings of each.
/// let h = limit_for(10.0 * 90.0, 48.0, Design::Cusum { k: 0.25 }).unwrap();
/// assert!((h - 17.413).abs() < 0.01); // R package spc 0.6.7: 17.413
/// assert_eq!(limit_for(0.0, 48.0, Design::Ewma { lambda: 0.1 }), None);
/// ```
pub fn limit_for(nights_between_false: f64, samples_per_night: f64, design: Design) -> Option<f64> {
    limit_for_run_length(nights_between_false * samples_per_night, design)
}

/// The limit with which so many readings lie between two false signals, to 1e-6. Takes milliseconds, but up to a second
/// near the least slacks and weights: to be worked out once, not at every reading.
///
/// `None` for a length that is not between what the least limit gives (some readings) and 10⁸, and for designs beyond
/// their bounds.
pub fn limit_for_run_length(readings: f64, design: Design) -> Option<f64> {
    // Steps so short that no length is skipped on the way to those that rounding spoils.
    let (step, most) = match design {
        Design::Cusum { k } if (0.05..=3.0).contains(&k) => (1.0, 200.0),
        Design::Ewma { lambda } if (0.001..=1.0).contains(&lambda) => (0.25, 8.0),
        _ => return None,
    };
    if !(1.0..=1e8).contains(&readings) {
        return None;
    }
    // A length that cannot be worked out is too long.
    let enough = |limit: f64| design.with(limit).average(0.0).is_none_or(|length| length >= readings);
    let (mut low, mut high) = (1e-3, step);
    if enough(low) {
        return None;
    }
    while !enough(high) {
        (low, high) = (high, high + step);
        if high > most {
            return None;
        }
    }
    while high - low > 1e-6 {
        let middle = f64::midpoint(low, high);
        (low, high) = if enough(middle) { (low, middle) } else { (middle, high) };
    }
    Some(high)
}
