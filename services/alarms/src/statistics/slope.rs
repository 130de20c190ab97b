//! Rates of change that outliers cannot bend: Theil-Sen and Siegel's repeated medians.

use super::robust::median;
use units::Time;

/// The most points that a line is laid through: work and memory grow with the square, here 124,750 slopes (1 MB).
/// [`super::RecentPoints`] never holds more.
pub const MOST_POINTS: usize = 500;

/// A straight line over time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Change in an hour, in the unit of the values.
    pub per_hour: f64,
    /// The earliest of the points.
    pub from: Time,
    /// Value of the line there: its intercept.
    pub value: f64,
}

impl Line {
    /// Value of the line at a time.
    pub fn at(&self, t: Time) -> f64 {
        self.value + self.per_hour * (t - self.from).as_hours()
    }
}

/// The line by the median of the slopes of all pairs; nearly three in ten points may be wild. Its intercept is the median
/// value less the slope times the median time, as scipy has it. Source: Theil 1950; Sen 1968, JASA 63:1379-1389.
///
/// In any order. Values that are not finite are left out; `None` if fewer than two different times or more than
/// [`MOST_POINTS`] are left.
///
/// ```
/// use alarms::statistics::theil_sen;
/// use units::{Span, Time};
/// let at = |minutes| Time::from_millis(0) + Span::minutes(minutes);
/// let line = theil_sen(&[(at(0), 26.0), (at(10), 25.9), (at(20), 85.0), (at(30), 25.7), (at(40), 25.6)]).unwrap();
/// assert!((line.per_hour + 0.6).abs() < 1e-9);
/// assert!(theil_sen(&[(at(0), 26.0)]).is_none());
/// ```
pub fn theil_sen(points: &[(Time, f64)]) -> Option<Line> {
    let (from, points) = in_hours(points)?;
    let mut slopes = Vec::with_capacity(points.len() * points.len() / 2);
    for (i, a) in points.iter().enumerate() {
        slopes.extend(points.iter().skip(i + 1).filter_map(|b| slope(*a, *b)));
    }
    let per_hour = median(slopes)?;
    let value = median(points.iter().map(|p| p.1))? - per_hour * median(points.iter().map(|p| p.0))?;
    Some(Line { per_hour, from, value })
}

/// The line by repeated medians: each point's median slope to the others, and the median of those; nearly half of the
/// points may be wild. Its intercept is the median of the values less the slope times their times, as scipy has it
/// ("hierarchical"). Source: Siegel 1982, Biometrika 69:242-244.
///
/// In any order, with the same bounds as [`theil_sen`]. Points of the same time are not compared with each other.
///
/// ```
/// use alarms::statistics::siegel;
/// use units::{Span, Time};
/// let at = |minutes| Time::from_millis(0) + Span::minutes(minutes);
/// let line = siegel(&[(at(0), 26.0), (at(10), 85.0), (at(20), -127.0), (at(30), 25.7), (at(40), 25.6)]).unwrap();
/// assert!((line.per_hour + 0.6).abs() < 1e-9);
/// assert!((line.at(at(40)) - 25.6).abs() < 1e-9);
/// ```
pub fn siegel(points: &[(Time, f64)]) -> Option<Line> {
    let (from, points) = in_hours(points)?;
    // A point is no slope to itself: its own time is not different.
    let own = points.iter().filter_map(|a| median(points.iter().filter_map(|b| slope(*a, *b))));
    let per_hour = median(own)?;
    let value = median(points.iter().map(|(t, y)| y - per_hour * t))?;
    Some(Line { per_hour, from, value })
}

/// Hours since the earliest, and values.
fn in_hours(points: &[(Time, f64)]) -> Option<(Time, Vec<(f64, f64)>)> {
    let sound = || points.iter().filter(|(_, y)| y.is_finite());
    let from = sound().map(|(t, _)| *t).min()?;
    let hours: Vec<(f64, f64)> = sound().map(|(t, y)| ((*t - from).as_hours(), *y)).collect();
    (hours.len() <= MOST_POINTS).then_some((from, hours))
}

fn slope(a: (f64, f64), b: (f64, f64)) -> Option<f64> {
    (a.0 != b.0).then(|| (b.1 - a.1) / (b.0 - a.0))
}
