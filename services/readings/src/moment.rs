//! What a payload's time field says.

use crate::OwnTime;
use crate::json::text;
use chrono::{DateTime, NaiveDateTime};
use serde_json::value::RawValue;
use units::Time;

/// Reads a time field: an epoch as number or digits, or a calendar time as text. A null is no time field.
pub(crate) fn read(raw: &RawValue) -> Option<OwnTime> {
    match raw.get().as_bytes().first() {
        Some(b'n') => None,
        Some(b'"') => Some(text(raw).map_or(OwnTime::Unreadable, |t| calendar(t.trim()))),
        _ => Some(epoch(raw.get()).unwrap_or(OwnTime::Unreadable)),
    }
}

/// Seconds since 1970, or thousandths, millionths or thousand-millionths of them, told apart by their size: from
/// 2020 to the year 5138 seconds stay below 1e11, and each finer unit starts 1,000 times higher.
fn epoch(number: &str) -> Option<OwnTime> {
    let n: f64 = number.parse().ok()?;
    let seconds = match n.abs() {
        x if x < 1e11 => n,
        x if x < 1e14 => n / 1e3,
        x if x < 1e17 => n / 1e6,
        _ => n / 1e9,
    };
    Time::from_seconds(seconds).map(OwnTime::At)
}

fn calendar(text: &str) -> OwnTime {
    if let Ok(t) = Time::parse_rfc3339(text) {
        return OwnTime::At(t);
    }
    // C's strftime writes the offset without a colon.
    if let Some(t) = ["%Y-%m-%dT%H:%M:%S%.f%z", "%Y-%m-%d %H:%M:%S%.f %z"]
        .iter()
        .find_map(|form| DateTime::parse_from_str(text, form).ok())
    {
        return OwnTime::At(Time::from_millis(t.timestamp_millis()));
    }
    let bare = ["%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%d %H:%M:%S%.f", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"];
    if bare.iter().any(|form| NaiveDateTime::parse_from_str(text, form).is_ok()) {
        return OwnTime::NoZone;
    }
    epoch(text).unwrap_or(OwnTime::Unreadable)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(json: &str) -> Option<OwnTime> {
        read(serde_json::from_str(json).unwrap())
    }

    #[test]
    fn epochs_in_any_fineness_and_times_with_a_zone() {
        let at = |ms| Some(OwnTime::At(Time::from_millis(ms)));
        for json in
            ["1931221050", "1931221050000", "1931221050000000", "1931221050000000000", "\"1931221050\""]
        {
            assert_eq!(said(json), at(1_931_221_050_000), "{json}");
        }
        assert_eq!(said("1931221050.25"), at(1_931_221_050_250));
        assert_eq!(said("37"), at(37_000));
        for text in ["2031-03-14T03:17:30+01:00", "2031-03-14T02:17:30Z", "2031-03-14T03:17:30+0100"] {
            assert_eq!(said(&format!("\"{text}\"")), at(1_931_221_050_000), "{text}");
        }
    }

    #[test]
    fn no_zone_and_nonsense_are_not_guessed() {
        assert_eq!(said("\"2031-03-14T03:17:31\""), Some(OwnTime::NoZone));
        assert_eq!(said("\"2031-03-14 03:17:31.5\""), Some(OwnTime::NoZone));
        assert_eq!(said("\"soon\""), Some(OwnTime::Unreadable));
        assert_eq!(said("{}"), Some(OwnTime::Unreadable));
        assert_eq!(said("1e999"), Some(OwnTime::Unreadable));
        assert_eq!(said("null"), None);
    }
}
