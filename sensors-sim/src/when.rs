//! How a scenario writes lengths of time and moments.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;
use std::str::FromStr;
use units::{Span, Time};

/// A length of time as people write it: `"10 s"`, `"2 h 30 min"`, `"0.5 s"`, `"14 d"`.
///
/// ```
/// use sensors_sim::Lapse;
/// use units::Span;
/// assert_eq!("2 h 30 min".parse::<Lapse>().unwrap().span(), Span::minutes(150));
/// assert_eq!("90s".parse::<Lapse>().unwrap().to_string(), "1 min 30 s");
/// assert!("10".parse::<Lapse>().unwrap_err().to_string().contains("\"10 s\""));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Lapse(Span);

/// A moment of a scenario: `"day 9 02:17"`, or a lapse after the start, `"5 min"`.
///
/// Day 1 begins when the scenario begins; day 0 is the one before, and so on down.
///
/// ```
/// use sensors_sim::Moment;
/// use units::{Span, Time};
/// let start = Time::parse_rfc3339("2031-03-01T00:00:00Z").unwrap();
/// let at = |text: &str| text.parse::<Moment>().unwrap().after(start).to_string();
/// assert_eq!(at("day 9 02:17"), "2031-03-09T02:17:00Z");
/// assert_eq!(at("day -2 16:00"), "2031-02-26T16:00:00Z");
/// assert_eq!(at("5 min"), "2031-03-01T00:05:00Z");
/// assert!("day 9".parse::<Moment>().is_err());
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment(Span);

/// An hour of the day: `"07:30"` or `"07:30:15"`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct HourOfDay(Span);

/// Text that is no time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WhenError {
    text: String,
    cure: &'static str,
}

impl fmt::Display for WhenError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?} cannot be read; {}", self.text, self.cure)
    }
}

impl std::error::Error for WhenError {}

const LAPSE_CURE: &str =
    "write a number and a unit, \"10 s\", \"2 h 30 min\", \"14 d\" (units: s, min, h, d)";
const MOMENT_CURE: &str = "write \"day 9 02:17\", or how long after the start, \"5 min\"";
const HOUR_CURE: &str = "write an hour of the day, \"07:30\"";

/// Units with their length in milliseconds, the longest first.
const UNITS: [(&str, i64); 4] = [("d", 86_400_000), ("h", 3_600_000), ("min", 60_000), ("s", 1_000)];
/// No scenario is longer than this.
const LONGEST_DAYS: f64 = 40_000.0;

impl Lapse {
    /// A lapse of that length.
    pub const fn of(span: Span) -> Self {
        Self(span)
    }

    /// Its length.
    pub const fn span(self) -> Span {
        self.0
    }

    /// Its length, s.
    pub fn seconds(self) -> f64 {
        self.0.as_seconds()
    }
}

impl Moment {
    /// The moment in a scenario that begins at `start`.
    pub fn after(self, start: Time) -> Time {
        start + self.0
    }

    /// What `at` is in a scenario that began at `start`.
    pub fn of(at: Time, start: Time) -> Self {
        Self(at - start)
    }
}

impl HourOfDay {
    /// A full hour; past 23 the last of the day.
    pub const fn at(hour: i64) -> Self {
        Self(Span::hours(if hour > 23 { 23 } else { hour }))
    }

    /// How long after midnight.
    pub const fn after_midnight(self) -> Span {
        self.0
    }

    /// As a fraction of the day.
    pub fn turns(self) -> f64 {
        self.0.as_days()
    }
}

fn part(word: &str) -> Option<i64> {
    let end = word.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(word.len());
    let (number, unit) = word.split_at(end);
    let (_, ms) = UNITS.iter().find(|(name, _)| *name == unit)?;
    let number: f64 = number.parse().ok()?;
    (number * *ms as f64 <= LONGEST_DAYS * 86_400_000.0).then(|| (number * *ms as f64).round() as i64)
}

/// Number and unit may stand together or apart.
fn joined(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match words.last_mut() {
            Some(last) if last.ends_with(|c: char| c.is_ascii_digit()) => last.push_str(word),
            _ => words.push(word.to_owned()),
        }
    }
    words
}

impl FromStr for Lapse {
    type Err = WhenError;
    fn from_str(text: &str) -> Result<Self, WhenError> {
        let words = joined(text);
        let parts: Option<Vec<i64>> = words.iter().map(|w| part(w)).collect();
        match parts {
            Some(parts) if !parts.is_empty() => Ok(Self(Span::from_millis(parts.iter().sum()))),
            _ => Err(WhenError { text: text.to_owned(), cure: LAPSE_CURE }),
        }
    }
}

impl FromStr for HourOfDay {
    type Err = WhenError;
    fn from_str(text: &str) -> Result<Self, WhenError> {
        let bad = || WhenError { text: text.to_owned(), cure: HOUR_CURE };
        let parts: Vec<i64> =
            text.trim().split(':').map(str::parse).collect::<Result<_, _>>().map_err(|_| bad())?;
        match parts[..] {
            [h @ 0..=23, m @ 0..=59] => Ok(Self(Span::minutes(h * 60 + m))),
            [h @ 0..=23, m @ 0..=59, s @ 0..=59] => Ok(Self(Span::seconds(h * 3600 + m * 60 + s))),
            _ => Err(bad()),
        }
    }
}

impl FromStr for Moment {
    type Err = WhenError;
    fn from_str(text: &str) -> Result<Self, WhenError> {
        let bad = || WhenError { text: text.to_owned(), cure: MOMENT_CURE };
        let Some(rest) = text.trim().strip_prefix("day ") else {
            return text.parse::<Lapse>().map(|l| Self(l.0)).map_err(|_| bad());
        };
        let (day, hour) = rest.trim().split_once(' ').ok_or_else(bad)?;
        let day: i64 = day.parse().ok().filter(|d| (-4_000..=40_000).contains(d)).ok_or_else(bad)?;
        let hour: HourOfDay = hour.parse().map_err(|_| bad())?;
        Ok(Self(Span::from_millis(Span::days(day - 1).millis() + hour.0.millis())))
    }
}

impl fmt::Display for Lapse {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (mut left, mut between) = (self.0.millis(), "");
        for (name, ms) in UNITS {
            let n = if name == "s" { left as f64 / 1000.0 } else { left.div_euclid(ms) as f64 };
            left -= (n * ms as f64) as i64;
            if n != 0.0 || (name == "s" && between.is_empty()) {
                write!(f, "{between}{n} {name}")?;
                between = " ";
            }
        }
        Ok(())
    }
}

impl fmt::Display for HourOfDay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let s = self.0.millis() / 1000;
        write!(f, "{:02}:{:02}", s / 3600, s / 60 % 60)?;
        if s % 60 == 0 { Ok(()) } else { write!(f, ":{:02}", s % 60) }
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let day = Span::days(1).millis();
        let (days, rest) = (self.0.millis().div_euclid(day), self.0.millis().rem_euclid(day));
        write!(f, "day {} {}", days + 1, HourOfDay(Span::seconds(rest / 1000)))
    }
}

macro_rules! as_text {
    ($($name:ident),*) => {$(
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.collect_str(self)
            }
        }
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                String::deserialize(d)?.parse().map_err(serde::de::Error::custom)
            }
        }
    )*};
}
as_text!(Lapse, Moment, HourOfDay);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_again() {
        for text in ["0 s", "0.25 s", "10 s", "1 min 30 s", "2 h 30 min", "14 d", "1 d 2 h 3 min 4 s"] {
            assert_eq!(text.parse::<Lapse>().unwrap().to_string(), text);
        }
        for text in ["day 1 00:00", "day 9 02:17", "day 42 23:59:30", "day -2 16:00"] {
            assert_eq!(text.parse::<Moment>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn what_is_no_time_is_refused_with_a_cure() {
        for bad in ["", "10", "ten s", "-5 s", "5 m", "5 min x", "1e9 d", "99999999 d"] {
            assert!(bad.parse::<Lapse>().is_err(), "{bad}");
        }
        for bad in ["day", "day x 02:00", "day 3 25:00", "day 3 02", "day 3", "02:00", "day 50000 00:00"] {
            assert!(bad.parse::<Moment>().unwrap_err().to_string().contains("day 9 02:17"), "{bad}");
        }
    }
}
