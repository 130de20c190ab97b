//! Times of the room's own clock: how they are said, and how a keeper's entry is read back.

use chrono::{DateTime, Datelike, Days, LocalResult, NaiveDate, NaiveDateTime, NaiveTime, TimeZone};
use chrono_tz::Tz;
use units::{Span, Time};

/// The room's time zone.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Local {
    zone: Tz,
}

impl Local {
    /// The zone of that IANA name; UTC when the name is not known (the page says which zone it shows).
    pub(crate) fn of(name: &str) -> Self {
        Self { zone: name.parse().unwrap_or(Tz::UTC) }
    }

    /// Name of the zone that is really used.
    pub(crate) fn name(&self) -> &'static str {
        self.zone.name()
    }

    fn at(&self, t: Time) -> DateTime<Tz> {
        t.to_chrono().with_timezone(&self.zone)
    }

    /// The local calendar day.
    pub(crate) fn date(&self, t: Time) -> NaiveDate {
        self.at(t).date_naive()
    }

    /// `02:14`
    pub(crate) fn hm(&self, t: Time) -> String {
        self.at(t).format("%H:%M").to_string()
    }

    /// `02:14`; in an hour that the clock shows twice also which of the two: `02:14 CEST`.
    pub(crate) fn exact(&self, t: Time) -> String {
        let at = self.at(t);
        match self.zone.from_local_datetime(&at.naive_local()) {
            LocalResult::Ambiguous(..) => at.format("%H:%M %Z").to_string(),
            _ => at.format("%H:%M").to_string(),
        }
    }

    /// `Wed 25 Nov, 02:14`
    pub(crate) fn full(&self, t: Time) -> String {
        self.at(t).format("%a %-d %b, %H:%M").to_string()
    }

    /// `today`, `tomorrow`, `yesterday`, `Fri 27` within six days, else `Fri 4 Dec`.
    pub(crate) fn day(&self, t: Time, now: Time) -> String {
        let date = self.date(t);
        match date.signed_duration_since(self.date(now)).num_days() {
            0 => "today".into(),
            1 => "tomorrow".into(),
            -1 => "yesterday".into(),
            -6..=6 => date.format("%a %-d").to_string(),
            _ => date.format("%a %-d %b").to_string(),
        }
    }

    /// The hour alone on the same day, else with its day: `01:52`, `yesterday 23:10`, `Fri 27 19:00`.
    pub(crate) fn since(&self, t: Time, now: Time) -> String {
        let near = (now - t).abs() < Span::hours(12);
        if near || self.date(t) == self.date(now) {
            self.hm(t)
        } else {
            format!("{} {}", self.day(t, now), self.hm(t))
        }
    }

    /// The value of a `datetime-local` field: `2026-11-25T02:14`.
    pub(crate) fn input(&self, t: Time) -> String {
        self.at(t).format("%Y-%m-%dT%H:%M").to_string()
    }

    /// Reads a `datetime-local` field. An hour that comes twice is taken as the first; one that the clocks
    /// skip is refused in words.
    pub(crate) fn read(&self, text: &str) -> Result<Time, String> {
        let text = text.trim();
        let parsed = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]
            .iter()
            .find_map(|form| NaiveDateTime::parse_from_str(text, form).ok());
        let Some(naive) = parsed else {
            return Err(format!("{text:?} is not a date and time; write it as 2026-11-25T18:30"));
        };
        match self.zone.from_local_datetime(&naive) {
            LocalResult::Single(t) | LocalResult::Ambiguous(t, _) => Ok(Time::from_chrono(t.to_utc())),
            LocalResult::None => Err(format!(
                "{} does not exist in {}: the clocks go forward over it; write an hour before or after",
                naive.format("%-d %b %Y %H:%M"),
                self.name()
            )),
        }
    }

    /// The beginnings of the local days between two times, at most 120.
    pub(crate) fn midnights(&self, from: Time, to: Time) -> Vec<(Time, NaiveDate)> {
        let mut found = Vec::new();
        let mut day = self.date(from);
        while found.len() < 120 {
            let Some(next) = day.checked_add_days(Days::new(1)) else { break };
            day = next;
            let Some(t) = self.midnight(day) else { continue };
            if t > to {
                break;
            }
            found.push((t, day));
        }
        found
    }

    /// The first moment of a day: a few zones skip midnight itself when the clocks change.
    fn midnight(&self, day: NaiveDate) -> Option<Time> {
        (0..4).find_map(|quarter| {
            let naive = day.and_time(NaiveTime::from_num_seconds_from_midnight_opt(quarter * 1800, 0)?);
            self.zone.from_local_datetime(&naive).earliest().map(|t| Time::from_chrono(t.to_utc()))
        })
    }

    /// Day of the month.
    pub(crate) fn day_number(date: NaiveDate) -> u32 {
        date.day()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn utc(s: &str) -> Time {
        Time::parse_rfc3339(s).unwrap()
    }

    /// Europe/Berlin 2026-10-25: 03:00 CEST becomes 02:00 CET at 01:00 UTC.
    #[test]
    fn the_hour_that_comes_twice_is_the_first() {
        let berlin = Local::of("Europe/Berlin");
        assert_eq!(berlin.read("2026-10-25T02:30").unwrap(), utc("2026-10-25T00:30:00Z"));
        assert_eq!(berlin.read("2026-10-25T03:00").unwrap(), utc("2026-10-25T02:00:00Z"));
        assert_eq!(berlin.read("2026-10-25T01:59").unwrap(), utc("2026-10-24T23:59:00Z"));
        assert_eq!(berlin.hm(utc("2026-10-25T00:30:00Z")), "02:30");
        assert_eq!(berlin.hm(utc("2026-10-25T01:30:00Z")), "02:30");
    }

    #[test]
    fn the_hour_that_is_skipped_is_refused_in_words() {
        let said = Local::of("Europe/Berlin").read("2026-03-29T02:30").unwrap_err();
        assert!(said.contains("29 Mar 2026 02:30 does not exist in Europe/Berlin"), "{said}");
        assert!(Local::of("Europe/Berlin").read("last week").unwrap_err().contains("\"last week\""));
    }

    #[test]
    fn days_have_25_hours_when_the_clocks_go_back() {
        let berlin = Local::of("Europe/Berlin");
        let m = berlin.midnights(utc("2026-10-24T12:00:00Z"), utc("2026-10-27T00:00:00Z"));
        let hours: Vec<f64> = m.windows(2).map(|w| (w[1].0 - w[0].0).as_hours()).collect();
        assert_eq!(hours, [25.0, 24.0]);
    }

    #[test]
    fn days_are_said_as_people_say_them() {
        let b = Local::of("Europe/Berlin");
        let now = utc("2026-11-25T01:14:00Z");
        assert_eq!(b.day(utc("2026-11-24T23:30:00Z"), now), "today");
        assert_eq!(b.day(utc("2026-11-24T22:30:00Z"), now), "yesterday");
        assert_eq!(b.day(utc("2026-11-28T22:30:00Z"), now), "Sat 28");
        assert_eq!(b.day(utc("2026-12-08T22:30:00Z"), now), "Tue 8 Dec");
        assert_eq!(b.since(utc("2026-11-24T22:30:00Z"), now), "23:30");
        assert_eq!(b.input(now), "2026-11-25T02:14");
        assert_eq!(Local::of("Moon/Base").name(), "UTC");
    }
}
