//! The last two hours of one tank's thermometer, for the tilt of its waterline.

use std::collections::VecDeque;
use units::{Span, Time};

/// How far back the slope looks: longer than a heater's cycle, so that its rise and fall are not taken for a drift.
const LOOK: Span = Span::hours(2);
/// The slope of less than this says nothing yet.
const LEAST: Span = Span::minutes(30);

/// Recent temperatures in order of their time.
#[derive(Debug, Default)]
pub(crate) struct RecentWater {
    points: VecDeque<(Time, f64)>,
}

impl RecentWater {
    /// Adds a reading; one that is older than the newest is left out.
    pub(crate) fn note(&mut self, t: Time, celsius: f64) {
        if self.points.back().is_some_and(|(last, _)| *last >= t) {
            return;
        }
        self.points.push_back((t, celsius));
        while self.points.front().is_some_and(|(first, _)| *first < t - LOOK) {
            self.points.pop_front();
        }
    }

    /// °C per hour by least squares; `None` while there is less than half an hour to go by.
    pub(crate) fn per_hour(&self) -> Option<f64> {
        let (first, last) = (self.points.front()?.0, self.points.back()?.0);
        if last - first < LEAST {
            return None;
        }
        let n = self.points.len() as f64;
        let x = |t: Time| (t - first).as_hours();
        let mean_x = self.points.iter().map(|p| x(p.0)).sum::<f64>() / n;
        let mean_y = self.points.iter().map(|p| p.1).sum::<f64>() / n;
        let (mut sxy, mut sxx) = (0.0, 0.0);
        for (t, y) in &self.points {
            sxy += (x(*t) - mean_x) * (y - mean_y);
            sxx += (x(*t) - mean_x).powi(2);
        }
        (sxx > 0.0).then(|| sxy / sxx)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slope_of_a_straight_fall_is_that_fall() {
        let mut w = RecentWater::default();
        for m in 0..200 {
            w.note(Time::from_millis(m * 60_000), 27.0 - 0.01 * m as f64);
        }
        assert!((w.per_hour().unwrap() + 0.6).abs() < 1e-9);
        assert!(w.points.len() <= 121);
    }

    /// A thermostat of half a degree around 27 °C, 40 minutes a cycle, is no drift.
    #[test]
    fn a_heaters_cycle_is_no_drift() {
        let mut w = RecentWater::default();
        for m in 0..200 {
            let phase = (m % 40) as f64 / 40.0;
            w.note(Time::from_millis(m * 60_000), 27.0 + if phase < 0.5 { phase } else { 1.0 - phase } * 0.5);
            assert!(w.per_hour().is_none_or(|slope| m < 60 || slope.abs() < 0.1), "{m}: {:?}", w.per_hour());
        }
    }

    #[test]
    fn twenty_minutes_say_nothing() {
        let mut w = RecentWater::default();
        for m in 0..20 {
            w.note(Time::from_millis(m * 60_000), 27.0 - m as f64);
        }
        assert_eq!(w.per_hour(), None);
    }
}
