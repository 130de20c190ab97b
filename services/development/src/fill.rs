//! What the water is taken to be between readings.

use crate::course::Course;
use crate::law::Sums;
use units::{Span, Time};

/// Readings further apart than this leave a gap between them; up to this a straight line joins them.
pub const GAP_AFTER: Span = Span::minutes(30);

/// What a gap could hide, °C either way: a planning value. A gap without a reading is taken this much warmer for the
/// earliest and this much cooler for the latest time, over its whole length. It is about what a heater stuck on or off
/// does to a tank in the first hours; no source.
pub const GAP_DOUBT: f64 = 1.5;

/// How much of the water before a gap fills it.
pub(crate) const LOOK_BACK: Span = Span::hours(1);

impl Course {
    /// Sums from point `i` to `to`, which lies before the next point or at it.
    pub(crate) fn stretch(&self, i: usize, to: Time) -> Sums {
        let points = self.points();
        let Some(&(from, a)) = points.get(i) else { return Sums::default() };
        let days = (to - from).as_days();
        match points.get(i + 1) {
            _ if to <= from => Sums::default(),
            Some(&(next, b)) if next - from <= GAP_AFTER => {
                self.pace.read(a, along((from, a), (next, b), to), days)
            }
            _ => self.pace.unread(self.fill_after(i), GAP_DOUBT, days),
        }
    }

    /// Sums from `t` to the first point: taken at the first reading, the nearest half hour without doubt.
    pub(crate) fn before_first(&self, t: Time, first: Time) -> Sums {
        let Some(&(_, celsius)) = self.points().first() else { return Sums::default() };
        let near = first - GAP_AFTER;
        let sure = self.pace.unread(celsius, 0.0, (first - t.max(near)).as_days());
        if t >= near {
            return sure.counted_as_read();
        }
        sure.plus(&self.pace.unread(celsius, GAP_DOUBT, (near - t).as_days()))
    }

    /// What fills a gap after point `i`: the mean of the hour before it as far as it was read, °C.
    pub(crate) fn fill_after(&self, i: usize) -> f64 {
        let points = self.points();
        let Some(&(end, newest)) = points.get(i) else { return f64::NAN };
        let start = end - LOOK_BACK;
        let (mut warmth, mut days) = (0.0, 0.0);
        for j in (1..=i).rev().take_while(|j| points[*j].0 > start) {
            let ((t0, a), (t1, b)) = (points[j - 1], points[j]);
            if t1 - t0 > GAP_AFTER {
                continue;
            }
            let cut = t0.max(start);
            let length = (t1 - cut).as_days();
            warmth += 0.5 * (along((t0, a), (t1, b), cut) + b) * length;
            days += length;
        }
        if days > 0.0 { warmth / days } else { newest }
    }
}

/// Height at `t` of the straight line between two points.
fn along((t0, a): (Time, f64), (t1, b): (Time, f64), t: Time) -> f64 {
    if t >= t1 {
        return b;
    }
    a + (b - a) * ((t - t0).millis() as f64 / (t1 - t0).millis().max(1) as f64)
}
