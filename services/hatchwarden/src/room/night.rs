//! The night of the room's own clock: from 20:00 to 07:00, 10 to 12 hours long when the clocks change.

use chrono::{Days, NaiveDate, NaiveTime, TimeZone};
use chrono_tz::Tz;
use units::{Span, Time};

/// Evening hour at which a night begins.
const DUSK_HOUR: u32 = 20;
/// Morning hour at which it ends.
const DAWN_HOUR: u32 = 7;

/// The night that runs at `now`, or by day the last one, as (dusk, dawn).
pub(crate) fn night_of(now: Time, zone: Tz) -> (Time, Time) {
    let today = now.to_chrono().with_timezone(&zone).date_naive();
    let dusk_today = local(today, DUSK_HOUR, zone);
    let evening = if now >= dusk_today { today } else { today - Days::new(1) };
    (local(evening, DUSK_HOUR, zone), local(evening + Days::new(1), DAWN_HOUR, zone))
}

/// Dawns from `from` to `to`, oldest first.
pub(crate) fn dawns(from: Time, to: Time, zone: Tz) -> Vec<Time> {
    let first = from.to_chrono().with_timezone(&zone).date_naive();
    (0..)
        .map(|n| local(first + Days::new(n), DAWN_HOUR, zone))
        .skip_while(|t| *t < from)
        .take_while(|t| *t <= to)
        .collect()
}

/// One night, by the date of its evening.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Night {
    /// The evening.
    pub(crate) date: NaiveDate,
    /// When it begins.
    pub(crate) dusk: Time,
    /// When it ends.
    pub(crate) dawn: Time,
}

impl Night {
    /// The night that begins on an evening.
    pub(crate) fn on(date: NaiveDate, zone: Tz) -> Self {
        let dusk = local(date, DUSK_HOUR, zone);
        Self { date, dusk, dawn: local(date + Days::new(1), DAWN_HOUR, zone) }
    }

    /// The last night that has ended by a time.
    pub(crate) fn last_ended(now: Time, zone: Tz) -> Self {
        let (dusk, dawn) = night_of(now, zone);
        let evening = dusk.to_chrono().with_timezone(&zone).date_naive();
        Self::on(if dawn <= now { evening } else { evening - Days::new(1) }, zone)
    }

    /// The `n` nights before it, the latest first.
    pub(crate) fn before(&self, n: u64, zone: Tz) -> Vec<Self> {
        (1..=n).map(|back| Self::on(self.date - Days::new(back), zone)).collect()
    }

    /// A minute of the day of its morning as a moment.
    pub(crate) fn morning(&self, minute: u32, zone: Tz) -> Time {
        moment(self.date + Days::new(1), minute, zone)
    }

    /// How long it is.
    pub(crate) fn length(&self) -> Span {
        self.dawn - self.dusk
    }
}

/// The first minute of the day at which the night that ended that morning can be looked back on.
pub(crate) const MORNING: u32 = 60 * DAWN_HOUR;
/// The minute of the day at which the next night begins.
pub(crate) const EVENING: u32 = 60 * DUSK_HOUR;

fn local(day: NaiveDate, hour: u32, zone: Tz) -> Time {
    moment(day, 60 * hour, zone)
}

/// A local minute of a day as a moment: the first of two when the clocks go back, the one after the gap when they go forward.
fn moment(day: NaiveDate, minute: u32, zone: Tz) -> Time {
    let time = NaiveTime::from_num_seconds_from_midnight_opt(60 * minute, 0).unwrap_or(NaiveTime::MIN);
    let wanted = day.and_time(time);
    let found = zone.from_local_datetime(&wanted).earliest();
    let found =
        found.or_else(|| zone.from_local_datetime(&(wanted + chrono::TimeDelta::hours(1))).earliest());
    found.map_or_else(
        || Time::from_chrono(wanted.and_utc()),
        |t| Time::from_chrono(t.with_timezone(&chrono::Utc)),
    )
}

/// Length of one slot of the night strip.
pub(crate) const SLOT: Span = Span::minutes(6);

#[cfg(test)]
mod tests {
    use super::*;

    fn night(zone: Tz, now: &str) -> (String, String) {
        let (dusk, dawn) = night_of(Time::parse_rfc3339(now).unwrap(), zone);
        (dusk.to_string(), dawn.to_string())
    }

    /// Changes of Europe/Berlin in 2026: 29 March and 25 October at 01:00 UTC (IANA time zone database).
    #[test]
    fn nights_are_those_of_the_rooms_clock() {
        let z = Tz::Europe__Berlin;
        let s = |a: &str, b: &str| (a.to_owned(), b.to_owned());
        assert_eq!(night(z, "2026-11-26T01:14:00Z"), s("2026-11-25T19:00:00Z", "2026-11-26T06:00:00Z"));
        assert_eq!(night(z, "2026-11-26T12:00:00Z"), s("2026-11-25T19:00:00Z", "2026-11-26T06:00:00Z"));
        assert_eq!(night(z, "2026-03-29T00:00:00Z"), s("2026-03-28T19:00:00Z", "2026-03-29T05:00:00Z"));
        assert_eq!(night(z, "2026-10-25T00:00:00Z"), s("2026-10-24T18:00:00Z", "2026-10-25T06:00:00Z"));
    }

    #[test]
    fn dawns_lie_between_their_ends() {
        let t = |s: &str| Time::parse_rfc3339(s).unwrap();
        let found = dawns(t("2026-11-20T05:00:00Z"), t("2026-11-23T06:00:00Z"), Tz::UTC);
        assert_eq!(found, [t("2026-11-20T07:00:00Z"), t("2026-11-21T07:00:00Z"), t("2026-11-22T07:00:00Z")]);
    }
}
