//! Points in time and spans between them, in whole milliseconds of UTC.

use chrono::{DateTime, SecondsFormat, Utc};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;
use std::ops::{Add, AddAssign, Neg, Sub};

/// A point in time: milliseconds since 1970-01-01T00:00:00Z, leap seconds not counted.
///
/// Serialised as RFC 3339 text in UTC.
///
/// ```
/// use units::{Span, Time};
/// let dusk = Time::from_millis(0) + Span::hours(20);
/// assert_eq!(dusk.to_string(), "1970-01-01T20:00:00Z");
/// assert_eq!(dusk - Time::from_millis(0), Span::hours(20));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Time(i64);

/// A length of time in milliseconds; may be negative.
///
/// Serialised as a whole number of milliseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Span(i64);

/// Text that is not an RFC 3339 time with a zone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TimeError(String);

impl fmt::Display for TimeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{:?} is not a time; write it as 2031-03-14T02:17:40Z or with an offset such as +01:00",
            self.0
        )
    }
}

impl std::error::Error for TimeError {}

/// The furthest moment we calculate with on either side of 1970, about ±8,000 years, so that sums of two
/// stay far inside `i64` and every value has a calendar date.
const FURTHEST_MS: i64 = 8_000 * 365 * 86_400_000;

impl Time {
    /// From milliseconds since 1970; values beyond about ±8,000 years are held at that end.
    pub const fn from_millis(ms: i64) -> Self {
        if ms > FURTHEST_MS {
            Self(FURTHEST_MS)
        } else if ms < -FURTHEST_MS {
            Self(-FURTHEST_MS)
        } else {
            Self(ms)
        }
    }

    /// From seconds since 1970, rounded to the nearest millisecond. `None` if not finite.
    ///
    /// ```
    /// # use units::Time;
    /// assert_eq!(Time::from_seconds(1.5).unwrap().millis(), 1500);
    /// assert!(Time::from_seconds(f64::NAN).is_none());
    /// ```
    pub fn from_seconds(seconds: f64) -> Option<Self> {
        // `as` saturates, and from_millis holds the ends.
        seconds.is_finite().then(|| Self::from_millis((seconds * 1000.0).round() as i64))
    }

    /// Milliseconds since 1970-01-01T00:00:00Z.
    pub const fn millis(self) -> i64 {
        self.0
    }

    /// Reads RFC 3339 text; a zone is required.
    ///
    /// # Errors
    /// [`TimeError`] when the text is not RFC 3339 or has no zone.
    ///
    /// ```
    /// # use units::Time;
    /// let a = Time::parse_rfc3339("2031-03-14T03:17:31+01:00").unwrap();
    /// assert_eq!(a.to_string(), "2031-03-14T02:17:31Z");
    /// assert!(Time::parse_rfc3339("2031-03-14T03:17:31").is_err());
    /// ```
    pub fn parse_rfc3339(text: &str) -> Result<Self, TimeError> {
        DateTime::parse_from_rfc3339(text.trim())
            .map(|t| Self::from_millis(t.timestamp_millis()))
            .map_err(|_| TimeError(text.to_owned()))
    }

    /// As a calendar value in UTC, for showing in a time zone.
    pub fn to_chrono(self) -> DateTime<Utc> {
        DateTime::from_timestamp_millis(self.0).unwrap_or(DateTime::UNIX_EPOCH)
    }

    /// From a calendar value.
    pub fn from_chrono(t: DateTime<Utc>) -> Self {
        Self::from_millis(t.timestamp_millis())
    }
}

impl fmt::Display for Time {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.to_chrono().to_rfc3339_opts(SecondsFormat::AutoSi, true))
    }
}

impl Serialize for Time {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Time {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        Self::parse_rfc3339(&text).map_err(serde::de::Error::custom)
    }
}

impl Span {
    /// No time at all.
    pub const ZERO: Self = Self(0);

    /// Whole milliseconds.
    pub const fn from_millis(ms: i64) -> Self {
        Self(ms)
    }
    /// Whole seconds.
    pub const fn seconds(n: i64) -> Self {
        Self(n * 1_000)
    }
    /// Whole minutes.
    pub const fn minutes(n: i64) -> Self {
        Self(n * 60_000)
    }
    /// Whole hours.
    pub const fn hours(n: i64) -> Self {
        Self(n * 3_600_000)
    }
    /// Whole days of 24 hours.
    pub const fn days(n: i64) -> Self {
        Self(n * 86_400_000)
    }
    /// A number of days, rounded to the millisecond; a number that is not finite gives zero.
    pub fn from_days(days: f64) -> Self {
        Self((days * 86_400_000.0).round() as i64)
    }
    /// Length in milliseconds.
    pub const fn millis(self) -> i64 {
        self.0
    }
    /// Length in seconds.
    pub fn as_seconds(self) -> f64 {
        self.0 as f64 / 1_000.0
    }
    /// Length in minutes.
    pub fn as_minutes(self) -> f64 {
        self.0 as f64 / 60_000.0
    }
    /// Length in hours.
    pub fn as_hours(self) -> f64 {
        self.0 as f64 / 3_600_000.0
    }
    /// Length in days of 24 hours.
    pub fn as_days(self) -> f64 {
        self.0 as f64 / 86_400_000.0
    }
    /// The length without its sign.
    pub const fn abs(self) -> Self {
        Self(self.0.saturating_abs())
    }
}

impl fmt::Display for Span {
    /// The way a person says it: `45 s`, `22 min`, `3 h 05 min`, `2 d 4 h`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let s = self.0.unsigned_abs() / 1_000;
        let (m, h, d) = (s / 60, s / 3_600, s / 86_400);
        match () {
            () if s < 60 => write!(f, "{sign}{s} s"),
            () if h < 1 => write!(f, "{sign}{m} min"),
            () if d < 2 => write!(f, "{sign}{h} h {:02} min", m % 60),
            () => write!(f, "{sign}{d} d {} h", h % 24),
        }
    }
}

impl Add<Span> for Time {
    type Output = Self;
    fn add(self, s: Span) -> Self {
        Self::from_millis(self.0.saturating_add(s.0))
    }
}
impl AddAssign<Span> for Time {
    fn add_assign(&mut self, s: Span) {
        *self = *self + s;
    }
}
impl Sub<Span> for Time {
    type Output = Self;
    fn sub(self, s: Span) -> Self {
        Self::from_millis(self.0.saturating_sub(s.0))
    }
}
impl Sub for Time {
    type Output = Span;
    fn sub(self, other: Self) -> Span {
        Span(self.0 - other.0)
    }
}
impl Add for Span {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self(self.0.saturating_add(o.0))
    }
}
impl Sub for Span {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self(self.0.saturating_sub(o.0))
    }
}
impl Neg for Span {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_round_trips_through_serde() {
        let t = Time::from_millis(1_931_221_060_250);
        let json = serde_json::to_string(&t).unwrap();
        assert_eq!(json, "\"2031-03-14T02:17:40.250Z\"");
        assert_eq!(serde_json::from_str::<Time>(&json).unwrap(), t);
    }

    #[test]
    fn spans_read_as_people_say_them() {
        let said: Vec<String> = [45, 22 * 60, 3 * 3600 + 300, 49 * 3600, -90]
            .iter()
            .map(|s| Span::seconds(*s).to_string())
            .collect();
        assert_eq!(said, ["45 s", "22 min", "3 h 05 min", "2 d 1 h", "-1 min"]);
    }

    #[test]
    fn far_ends_hold_instead_of_wrapping() {
        let end = Time::from_millis(i64::MAX);
        assert_eq!(end + Span::from_millis(i64::MAX), end);
        assert!(end - Time::from_millis(i64::MIN) > Span::ZERO);
    }
}
