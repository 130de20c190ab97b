//! The one calendar under all ribbons: now stands at one place, five days ahead are wide, later days folded.

use super::Drawing;
use crate::local::Local;
use crate::view::ClutchView;
use maud::Markup;
use units::{Span, Time};

/// Width of the drawing.
pub(crate) const WIDTH: f64 = 358.0;
const LEFT: f64 = 4.0;
/// Shares of the width: the past, and the end of the unfolded part.
const PAST: f64 = 0.36;
const OPEN: f64 = 0.80;
/// Days ahead that are drawn wide.
const WIDE_DAYS: f64 = 5.0;

/// Maps times to places.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Calendar {
    now: Time,
    /// Days shown before now.
    back: f64,
    /// Days shown after now, more than [`WIDE_DAYS`].
    ahead: f64,
}

impl Calendar {
    /// A calendar that holds the spawning and the windows of all these clutches, within bounds.
    pub(crate) fn over(clutches: &[ClutchView], now: Time) -> Self {
        let days = |t: Time| (t - now).as_days();
        let back = clutches.iter().map(|c| -days(c.day0.earliest)).fold(3.0, f64::max).min(40.0);
        let ends = clutches.iter().flat_map(|c| [c.hatch, c.free_swimming]).flatten().map(|w| days(w.latest));
        Self { now, back: back + 0.4, ahead: ends.fold(9.0, f64::max).min(90.0) + 1.0 }
    }

    /// The place of a time, held at both ends.
    pub(crate) fn x(&self, t: Time) -> f64 {
        let d = (t - self.now).as_days().clamp(-self.back, self.ahead);
        let share = if d < 0.0 {
            PAST * (1.0 + d / self.back)
        } else if d < WIDE_DAYS {
            PAST + (OPEN - PAST) * d / WIDE_DAYS
        } else {
            OPEN + (1.0 - OPEN) * (d - WIDE_DAYS) / (self.ahead - WIDE_DAYS)
        };
        LEFT + (WIDTH - 2.0 * LEFT) * share
    }

    /// First and last time shown.
    pub(crate) fn ends(&self) -> (Time, Time) {
        (self.now - Span::from_days(self.back), self.now + Span::from_days(self.ahead))
    }

    /// The time that stands still.
    pub(crate) fn now(&self) -> Time {
        self.now
    }

    /// The axis with days of the month behind now, weekdays ahead, and days of the month where folded.
    pub(crate) fn axis(&self, local: &Local) -> Markup {
        let mut d = Drawing::default();
        let (from, to) = self.ends();
        let mut written = -20.0;
        for (midnight, date) in local.midnights(from, to) {
            let x = self.x(midnight);
            let days = (midnight - self.now).as_days();
            let folded = days > WIDE_DAYS;
            d.line("hair", (x, if folded { 20.0 } else { 14.0 }), (x, 24.0));
            let mid = (x + self.x(midnight + Span::hours(24))) / 2.0;
            let weekday = (-1.0..WIDE_DAYS - 0.5).contains(&days);
            let room = if weekday { 24.0 } else { 20.0 };
            if mid - written >= room && mid < WIDTH - 8.0 {
                let number = Local::day_number(date).to_string();
                let word = if weekday { date.format("%a").to_string() } else { number };
                d.text("t", "middle", mid, 11.0, &word);
                written = mid;
            }
        }
        d.finish("wide", WIDTH, 24.0, None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_grow_with_time_and_now_never_moves() {
        let now = Time::parse_rfc3339("2026-11-25T01:14:00Z").unwrap();
        let c = Calendar::over(&[], now);
        let xs: Vec<f64> = (-300..900).map(|h| c.x(now + Span::hours(h))).collect();
        assert!(xs.windows(2).all(|w| w[0] <= w[1]));
        assert!(xs.iter().all(|x| (LEFT..=WIDTH - LEFT).contains(x)));
        assert!((c.x(now) - (LEFT + PAST * (WIDTH - 2.0 * LEFT))).abs() < 1e-9);
    }
}
