//! The points of a probe's last hours, never more than a line can be laid through.

use super::slope::{Line, MOST_POINTS, siegel, theil_sen};
use std::collections::VecDeque;
use units::{Span, Time};

/// The points of the last while, for [`theil_sen`] and [`siegel`].
///
/// ```
/// use alarms::statistics::RecentPoints;
/// use units::{Span, Time};
/// let mut recent = RecentPoints::new(Span::hours(2)).unwrap();
/// for minute in 0..180 {
///     recent.push(Time::from_millis(0) + Span::minutes(minute), 26.0 - 0.01 * minute as f64);
/// }
/// assert_eq!(recent.len(), 121); // the last two hours, both ends included
/// assert!((recent.theil_sen().unwrap().per_hour + 0.6).abs() < 1e-9);
/// ```
#[derive(Debug, Clone)]
pub struct RecentPoints {
    span: Span,
    points: VecDeque<(Time, f64)>,
}

impl RecentPoints {
    /// Of the newest `span`; `None` if that is not positive.
    pub fn new(span: Span) -> Option<Self> {
        (span > Span::ZERO).then(|| Self { span, points: VecDeque::new() })
    }

    /// Takes a point in and drops those older than the span. `false` if it is left out: its value is not finite, it is no
    /// newer than the newest, or it follows that so closely (a 499th of the span) that there could be more than
    /// [`MOST_POINTS`].
    pub fn push(&mut self, at: Time, value: f64) -> bool {
        let due = self.points.back().is_none_or(|(newest, _)| at > *newest && at - *newest >= self.spacing());
        if !due || !value.is_finite() {
            return false;
        }
        self.points.push_back((at, value));
        let oldest = at - self.span;
        while self.points.front().is_some_and(|(t, _)| *t < oldest) {
            self.points.pop_front();
        }
        true
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.points.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.points.is_empty()
    }

    /// [`theil_sen`] of them.
    pub fn theil_sen(&self) -> Option<Line> {
        theil_sen(&self.all())
    }

    /// [`siegel`] of them.
    pub fn siegel(&self) -> Option<Line> {
        siegel(&self.all())
    }

    fn all(&self) -> Vec<(Time, f64)> {
        self.points.iter().copied().collect()
    }

    /// Rounded up, so that the bound holds.
    fn spacing(&self) -> Span {
        let steps = MOST_POINTS as i64 - 1;
        Span::from_millis(self.span.millis() / steps + i64::from(self.span.millis() % steps > 0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn never_more_than_a_line_can_take_and_never_out_of_order() {
        let mut recent = RecentPoints::new(Span::hours(2)).unwrap();
        let at = |n| Time::from_millis(0) + Span::seconds(n);
        for second in 0..3 * 3600 {
            recent.push(at(second), 26.0);
        }
        assert!((400..=MOST_POINTS).contains(&recent.len()), "{}", recent.len());
        assert_eq!(recent.theil_sen().unwrap().per_hour, 0.0);
        let before = recent.len();
        assert!(!recent.push(at(5), 26.0) && !recent.push(at(4 * 3600), f64::NAN));
        assert_eq!(recent.len(), before);
    }

    /// A span that is no multiple of the spacing.
    #[test]
    fn short_spans_keep_the_bound_too() {
        let mut recent = RecentPoints::new(Span::from_millis(1_496)).unwrap();
        (0..5_000).for_each(|ms| _ = recent.push(Time::from_millis(ms), 26.0));
        assert_eq!(recent.len(), 499);
    }

    #[test]
    fn no_span_is_no_window() {
        assert!(RecentPoints::new(Span::ZERO).is_none());
        let empty = RecentPoints::new(Span::hours(1)).unwrap();
        assert!(empty.is_empty() && empty.siegel().is_none());
    }
}
