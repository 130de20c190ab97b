//! Writing what a room brings about as JSON lines.

use crate::output::{Happening, Sent};
use crate::truth::Truth;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::{Serialize, Serializer};
use std::io::{self, Write};
use std::str;
use units::Time;

/// A message as one line of JSON, with the end of line. Text is given as `payload`, bytes that are none as
/// `payload_b64`; `retain` and `qos` where they are not false and 1.
///
/// ```
/// # use sensors_sim::{Kind, Sent, record};
/// # use units::Time;
/// let sent = Sent {
///     at: Time::parse_rfc3339("2031-03-01T00:00:03.25Z").unwrap(),
///     device: "b1".into(),
///     topic: "hatchwarden/undercroft/V1/temperature".into(),
///     payload: b"26.94".to_vec(),
///     retain: false,
///     qos: 1,
///     kind: Kind::Reading,
/// };
/// let mut line = Vec::new();
/// record::message(&mut line, &sent).unwrap();
/// assert_eq!(
///     String::from_utf8(line).unwrap(),
///     "{\"at\":\"2031-03-01T00:00:03.250Z\",\"device\":\"b1\",\"topic\":\"hatchwarden/undercroft/V1/temperature\",\
///      \"payload\":\"26.94\"}\n"
/// );
/// ```
///
/// # Errors
/// Those of the writer.
pub fn message(out: &mut impl Write, sent: &Sent) -> io::Result<()> {
    serde_json::to_writer(&mut *out, &Line::of(sent))?;
    out.write_all(b"\n")
}

/// A line of the truth.
///
/// # Errors
/// Those of the writer.
pub fn truth(out: &mut impl Write, truth: &Truth) -> io::Result<()> {
    serde_json::to_writer(&mut *out, truth)?;
    out.write_all(b"\n")
}

/// Sorts what happened into messages and truth.
///
/// # Errors
/// Those of the writers.
pub fn both(messages: &mut impl Write, truths: &mut impl Write, happened: &[Happening]) -> io::Result<()> {
    for h in happened {
        match h {
            Happening::Sent(sent) => message(messages, sent)?,
            Happening::Truth(line) => truth(truths, line)?,
            Happening::Link { .. } => {}
        }
    }
    Ok(())
}

#[derive(Serialize)]
struct Line<'a> {
    #[serde(serialize_with = "millis")]
    at: Time,
    device: &'a str,
    topic: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    payload: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    payload_b64: Option<String>,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    retain: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    qos: Option<u8>,
}

impl<'a> Line<'a> {
    fn of(sent: &'a Sent) -> Self {
        let text = str::from_utf8(&sent.payload).ok();
        Self {
            at: sent.at,
            device: &sent.device,
            topic: &sent.topic,
            payload: text,
            payload_b64: text.is_none().then(|| STANDARD.encode(&sent.payload)),
            retain: sent.retain,
            qos: (sent.qos != 1).then_some(sent.qos),
        }
    }
}

/// RFC 3339 in UTC to the millisecond, always of the same width.
fn millis<S: Serializer>(at: &Time, s: S) -> Result<S::Ok, S::Error> {
    let mut text = *b"0000-00-00T00:00:00.000Z";
    if !stamp(&mut text, at.millis()) {
        return s.collect_str(at); // before the year 0 or past 9999
    }
    s.serialize_str(str::from_utf8(&text).unwrap_or_default())
}

/// A calendar library takes half of the time of a whole recording; this is Hinnant's day count (from memory), checked
/// against the library in a test.
fn stamp(text: &mut [u8; 24], ms: i64) -> bool {
    let (days, rest) = (ms.div_euclid(86_400_000), ms.rem_euclid(86_400_000));
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let day_of_era = z.rem_euclid(146_097);
    let year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    if !(0..10_000).contains(&year) {
        return false;
    }
    let parts =
        [(0, 4, year), (5, 2, month), (8, 2, day), (11, 2, rest / 3_600_000), (14, 2, rest / 60_000 % 60)];
    for (at, width, n) in parts.into_iter().chain([(17, 2, rest / 1000 % 60), (20, 3, rest % 1000)]) {
        put(&mut text[at..at + width], n);
    }
    true
}

fn put(place: &mut [u8], mut n: i64) {
    for digit in place.iter_mut().rev() {
        *digit = b'0' + (n % 10) as u8;
        n /= 10;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::Span;

    #[test]
    fn stamps_are_those_of_the_calendar_library() {
        for i in -30_000..40_000_i64 {
            let at = Time::from_millis(i * 86_399_771) + Span::days(12_000);
            let mut text = [0_u8; 24];
            text.copy_from_slice(b"0000-00-00T00:00:00.000Z");
            assert!(stamp(&mut text, at.millis()));
            let want = at.to_chrono().format("%Y-%m-%dT%H:%M:%S%.3fZ").to_string();
            assert_eq!(str::from_utf8(&text).unwrap(), want);
        }
    }
}
