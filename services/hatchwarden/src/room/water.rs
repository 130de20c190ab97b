//! The last two hours of one tank's thermometer, for the tilt of its waterline.

use std::collections::VecDeque;
use units::{Span, Time};

/// How far back the slope looks: longer than a heater's cycle, so that its rise and fall are not taken for a drift.
const LOOK: Span = Span::hours(2);
/// The slope of less than this says nothing yet.
const LEAST: Span = Span::minutes(30);
/// Readings closer than this are kept as their sums, so that a probe that talks five times a second takes no more
/// memory than one that talks twice a minute; the slope is the same to the last digits.
const PIECE: Span = Span::seconds(30);

/// Sums over the readings of one piece of time; hours count from its first reading.
#[derive(Debug, Clone, Copy)]
struct Piece {
    first: Time,
    last: Time,
    n: f64,
    x: f64,
    y: f64,
    xy: f64,
    xx: f64,
}

impl Piece {
    fn new(t: Time, celsius: f64) -> Self {
        Self { first: t, last: t, n: 1.0, x: 0.0, y: celsius, xy: 0.0, xx: 0.0 }
    }

    fn add(&mut self, t: Time, celsius: f64) {
        let x = (t - self.first).as_hours();
        self.last = t;
        self.n += 1.0;
        self.x += x;
        self.y += celsius;
        self.xy += x * celsius;
        self.xx += x * x;
    }

    /// The sums of (x, x·y, x²) with hours that count from `origin` and temperatures from `level`.
    fn moved(&self, origin: Time, level: f64) -> (f64, f64, f64) {
        let by = (self.first - origin).as_hours();
        let y = self.y - self.n * level;
        let xy = self.xy - level * self.x;
        (self.x + self.n * by, xy + by * y, self.xx + 2.0 * by * self.x + self.n * by * by)
    }
}

/// Recent temperatures in order of their time.
#[derive(Debug, Default)]
pub(crate) struct RecentWater {
    pieces: VecDeque<Piece>,
}

impl RecentWater {
    /// Adds a reading; one that is older than the newest is left out.
    pub(crate) fn note(&mut self, t: Time, celsius: f64) {
        match self.pieces.back_mut() {
            Some(p) if p.last >= t => return,
            Some(p) if t - p.first < PIECE => p.add(t, celsius),
            _ => self.pieces.push_back(Piece::new(t, celsius)),
        }
        while self.pieces.front().is_some_and(|p| p.last < t - LOOK) {
            self.pieces.pop_front();
        }
    }

    /// The clock by which times are told has jumped.
    pub(crate) fn shift(&mut self, by: Span) {
        for piece in &mut self.pieces {
            piece.first += by;
            piece.last += by;
        }
    }

    /// °C per hour by least squares; `None` while there is less than half an hour to go by.
    pub(crate) fn per_hour(&self) -> Option<f64> {
        let (first, last) = (self.pieces.front()?.first, self.pieces.back()?.last);
        if last - first < LEAST {
            return None;
        }
        let n: f64 = self.pieces.iter().map(|p| p.n).sum();
        // Counted from the mean, so that no digits are lost.
        let level = self.pieces.iter().map(|p| p.y).sum::<f64>() / n;
        let (mut x, mut xy, mut xx) = (0.0, 0.0, 0.0);
        for piece in &self.pieces {
            let (px, pxy, pxx) = piece.moved(first, level);
            (x, xy, xx) = (x + px, xy + pxy, xx + pxx);
        }
        let sxx = xx - x * x / n;
        (sxx > 0.0).then(|| xy / sxx)
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
        assert!(w.pieces.len() <= 121);
    }

    #[test]
    fn a_talkative_probe_takes_no_more_memory_and_has_the_same_slope() {
        let mut w = RecentWater::default();
        for n in 0..20_000 {
            let t = Time::from_millis(n * 500);
            w.note(t, 27.0 - 0.6 * (t - Time::from_millis(0)).as_hours());
        }
        assert!((w.per_hour().unwrap() + 0.6).abs() < 1e-9, "{:?}", w.per_hour());
        assert!(w.pieces.len() <= 242, "{}", w.pieces.len());
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
