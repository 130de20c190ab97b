//! Hours of a day on the room's clock.

use chrono::Timelike;
use chrono_tz::Tz;
use units::{Span, Time};

/// From a minute of the day up to another, past midnight where the second is the earlier one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hours {
    /// First minute of the day.
    pub from: u32,
    /// The minute at which they are over.
    pub to: u32,
}

impl Hours {
    /// Whether they hold at that time.
    pub fn hold(self, at: Time, zone: Tz) -> bool {
        let clock = at.to_chrono().with_timezone(&zone);
        let minute = 60 * clock.hour() + clock.minute();
        if self.from < self.to {
            (self.from..self.to).contains(&minute)
        } else {
            minute >= self.from || minute < self.to
        }
    }

    /// That time, or the moment at which they begin next. Found minute by minute on the room's clock, so that nights on which the
    /// clocks change need no rule of their own.
    pub fn next(self, at: Time, zone: Tz) -> Time {
        if self.hold(at, zone) {
            return at;
        }
        let whole = Time::from_millis(at.millis().div_euclid(60_000) * 60_000);
        let minutes = (1..=2 * 24 * 60).map(|m| whole + Span::minutes(m));
        minutes.into_iter().find(|t| self.hold(*t, zone)).unwrap_or(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NIGHT: Hours = Hours { from: 22 * 60, to: 7 * 60 };

    fn at(text: &str) -> Time {
        Time::parse_rfc3339(text).unwrap()
    }

    #[test]
    fn hours_past_midnight() {
        let zone = Tz::Europe__Berlin;
        assert!(NIGHT.hold(at("2031-01-10T21:00:00Z"), zone), "22:00 there");
        assert!(!NIGHT.hold(at("2031-01-10T20:59:59Z"), zone));
        assert!(
            NIGHT.hold(at("2031-01-11T05:59:59Z"), zone) && !NIGHT.hold(at("2031-01-11T06:00:00Z"), zone)
        );
        assert_eq!(NIGHT.next(at("2031-01-11T06:00:30Z"), zone), at("2031-01-11T21:00:00Z"));
        assert_eq!(NIGHT.next(at("2031-01-11T22:10:30Z"), zone), at("2031-01-11T22:10:30Z"));
    }

    /// The clocks go forward on 30 March 2031 at 01:00Z, and back on 26 October 2031 at 01:00Z.
    #[test]
    fn nights_on_which_the_clocks_change() {
        let zone = Tz::Europe__Berlin;
        let skipped = Hours { from: 2 * 60 + 30, to: 4 * 60 };
        assert_eq!(skipped.next(at("2031-03-30T00:00:00Z"), zone), at("2031-03-30T01:00:00Z"), "03:00 there");
        let twice = Hours { from: 2 * 60 + 30, to: 2 * 60 + 45 };
        assert_eq!(
            twice.next(at("2031-10-26T00:50:00Z"), zone),
            at("2031-10-26T01:30:00Z"),
            "the second time"
        );
    }
}
