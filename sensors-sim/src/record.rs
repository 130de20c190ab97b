//! Writing what a room brings about as JSON lines.

use crate::output::{Happening, Sent};
use crate::truth::Truth;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
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
    out.write_all(Lines::new().of(sent))
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
    let mut lines = Lines::new();
    for h in happened {
        match h {
            Happening::Sent(sent) => messages.write_all(lines.of(sent))?,
            Happening::Truth(line) => truth(truths, line)?,
            Happening::Link { .. } => {}
        }
    }
    Ok(())
}

/// Lines one after another. Messages of a device share their moment, and the calendar takes longer than all the rest,
/// so the last stamp is kept.
struct Lines {
    line: Vec<u8>,
    at: Time,
    stamp: [u8; 24],
}

/// RFC 3339 in UTC to the millisecond, always of the same width.
const BLANK: [u8; 24] = *b"0000-00-00T00:00:00.000Z";

impl Lines {
    fn new() -> Self {
        let (at, mut text) = (Time::from_millis(0), BLANK);
        stamp(&mut text, at.millis());
        Self { line: Vec::with_capacity(512), at, stamp: text }
    }

    /// Written by hand: a general serializer takes twice as long, and a day of a large room is nine million lines.
    fn of(&mut self, sent: &Sent) -> &[u8] {
        self.line.clear();
        self.line.extend_from_slice(b"{\"at\":");
        self.moment(sent.at);
        self.text(b",\"device\":", &sent.device);
        self.text(b",\"topic\":", &sent.topic);
        match str::from_utf8(&sent.payload) {
            Ok(text) => self.text(b",\"payload\":", text),
            Err(_) => self.text(b",\"payload_b64\":", &STANDARD.encode(&sent.payload)),
        }
        if sent.retain {
            self.line.extend_from_slice(b",\"retain\":true");
        }
        if sent.qos != 1 {
            self.line.extend_from_slice(b",\"qos\":");
            self.line.push(b'0' + sent.qos % 10);
        }
        self.line.extend_from_slice(b"}\n");
        &self.line
    }

    fn moment(&mut self, at: Time) {
        if at != self.at {
            let mut text = BLANK;
            if !stamp(&mut text, at.millis()) {
                return self.text(b"", &at.to_string()); // before the year 0 or past 9999
            }
            (self.at, self.stamp) = (at, text);
        }
        self.line.push(b'"');
        self.line.extend_from_slice(&self.stamp);
        self.line.push(b'"');
    }

    /// A key with its comma and colon, and a text of which a line of JSON can hold every character.
    fn text(&mut self, key: &[u8], text: &str) {
        self.line.extend_from_slice(key);
        let (control, marks) = (has(text, |b| b < b' '), has(text, |b| matches!(b, b'"' | b'\\')));
        if control {
            // A vector takes everything.
            let _ = serde_json::to_writer(&mut self.line, text);
            return;
        }
        self.line.push(b'"');
        if marks {
            escape(&mut self.line, text.as_bytes());
        } else {
            self.line.extend_from_slice(text.as_bytes());
        }
        self.line.push(b'"');
    }
}

/// Looks at every byte without a branch, many at a time.
fn has(text: &str, is: impl Fn(u8) -> bool) -> bool {
    text.bytes().fold(false, |found, b| found | is(b))
}

/// Adds a text with a backslash before each mark. Room is made once, for the worst.
fn escape(line: &mut Vec<u8>, text: &[u8]) {
    let mut at = line.len();
    line.resize(at + 2 * text.len(), 0);
    for b in text {
        if matches!(b, b'"' | b'\\') {
            line[at] = b'\\';
            at += 1;
        }
        line[at] = *b;
        at += 1;
    }
    line.truncate(at);
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
    use crate::Kind;
    use serde_json::{Value, json};
    use units::Span;

    #[test]
    fn stamps_are_those_of_the_calendar_library() {
        for i in -30_000..40_000_i64 {
            let at = Time::from_millis(i * 86_399_771) + Span::days(12_000);
            let mut text = BLANK;
            assert!(stamp(&mut text, at.millis()));
            let want = at.to_chrono().format("%Y-%m-%dT%H:%M:%S%.3fZ").to_string();
            assert_eq!(str::from_utf8(&text).unwrap(), want);
        }
    }

    fn sent(at: i64, payload: &[u8]) -> Sent {
        Sent {
            at: Time::from_millis(at),
            device: "b\"1\\".into(),
            topic: "cellar/\u{e9}t\u{e9}/\u{1}\t".into(),
            payload: payload.to_vec(),
            retain: at % 2 == 0,
            qos: u8::from(at % 3 == 0),
            kind: Kind::Reading,
        }
    }

    /// A general JSON library reads every line, whatever stands in it, and finds what was sent.
    #[test]
    fn lines_are_json_whatever_they_carry() {
        let payloads: [&[u8]; 6] =
            [b"26.94", b"{\"v\":nan}", b"", &[0xff, 0, 1], b"a\nb\x7f", "\u{2028}".as_bytes()];
        let mut lines = Lines::new();
        for (i, payload) in (0..).zip(payloads.into_iter().cycle().take(40)) {
            // Twice the same moment, and far outside the four digits of a year.
            let sent = sent(i / 2 * 12_345_678_901_234, payload);
            let read: Value = serde_json::from_slice(lines.of(&sent)).unwrap();
            let at = Time::parse_rfc3339(read["at"].as_str().unwrap());
            assert!(at.map_or(sent.at.millis() > 250_000_000_000_000, |at| at == sent.at), "{read}");
            assert_eq!((&read["device"], &read["topic"]), (&json!(&*sent.device), &json!(&*sent.topic)));
            match str::from_utf8(payload) {
                Ok(text) => assert_eq!(read["payload"], text),
                Err(_) => assert_eq!(read["payload_b64"], STANDARD.encode(payload)),
            }
            assert_eq!(read.get("retain").is_some(), sent.retain);
            assert_eq!(read.get("qos").map_or(1, |q| q.as_u64().unwrap()), u64::from(sent.qos));
        }
    }
}
