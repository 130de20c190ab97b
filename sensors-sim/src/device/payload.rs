//! How a device writes what its probes say.

use super::probe::Probe;
use super::said::Said;
use crate::{ClockPlan, DevicePlan, Shape};
use std::io::Write;
use std::sync::Arc;
use units::{Span, Time};

/// What the device believes of the time.
#[derive(Debug, Clone, Copy)]
pub(super) struct Clock {
    pub(super) kind: ClockPlan,
    pub(super) shows: Time,
    pub(super) since_start: Span,
}

/// How a device writes, and where to.
#[derive(Debug, Clone)]
pub(super) struct Label {
    shape: Shape,
    numbers: bool,
    /// Topic of a message with all probes.
    pub(super) topic: Arc<str>,
    device: String,
}

impl Label {
    pub(super) fn new(plan: &DevicePlan, room: &str) -> Self {
        let topic = plan.topic.clone().unwrap_or_else(|| format!("{room}/{}/probes", plan.name));
        Self { shape: plan.shape, numbers: plan.numbers, topic: Arc::from(topic), device: plan.name.clone() }
    }

    /// A message of one probe.
    pub(super) fn single(&self, said: Said, clock: Clock, number: u64) -> Option<Vec<u8>> {
        if said == Said::Nothing {
            return None;
        }
        let mut out = Vec::with_capacity(48);
        match self.shape {
            Shape::Float32Le => out.extend(float(said)),
            Shape::Plain => text(&mut out, said, false),
            _ => {
                out.extend_from_slice(b"{\"v\":");
                text(&mut out, said, true);
                if let Some(t) = Written::of(clock) {
                    out.extend_from_slice(b",\"t\":");
                    t.write(&mut out);
                }
                self.number(&mut out, number);
                out.push(b'}');
            }
        }
        Some(out)
    }

    fn number(&self, out: &mut Vec<u8>, number: u64) {
        if self.numbers {
            put(out, format_args!(",\"n\":{number}"));
        }
    }

    /// A message of all probes; `None` if none of them says anything.
    pub(super) fn whole(
        &self,
        probes: &[Probe],
        said: &[Said],
        clock: Clock,
        number: u64,
    ) -> Option<Vec<u8>> {
        let heard: Vec<(&Probe, Said)> =
            probes.iter().zip(said.iter().copied()).filter(|(_, s)| self.has_word_for(*s)).collect();
        if heard.is_empty() {
            return None;
        }
        let mut out = Vec::with_capacity(40 + 32 * heard.len());
        match self.shape {
            Shape::FlatJson => self.flat(&mut out, &heard, clock, number),
            Shape::ListJson => self.list(&mut out, &heard, clock, number),
            Shape::Senml => self.senml(&mut out, &heard, clock),
            Shape::KeyValue => parted(&mut out, b" ", &heard, |out, (probe, said)| {
                put(out, format_args!("{}=", probe.short));
                text(out, *said, false);
            }),
            // A column is never left out, or the others would move up.
            _ => parted(&mut out, b",", said, |out, said| {
                if !matches!(said, Said::Null | Said::Nothing) {
                    text(out, *said, false);
                }
            }),
        }
        Some(out)
    }

    /// A SenML record has a number, and a pack at least one record (RFC 8428, 3 and 4.3).
    fn has_word_for(&self, said: Said) -> bool {
        match self.shape {
            Shape::Senml => matches!(said, Said::Number(_) | Said::Nan),
            _ => said != Said::Nothing,
        }
    }

    fn flat(&self, out: &mut Vec<u8>, heard: &[(&Probe, Said)], clock: Clock, number: u64) {
        out.push(b'{');
        parted(out, b",", heard, |out, (probe, said)| {
            put(out, format_args!("\"{}\":", probe.short));
            text(out, *said, true);
        });
        self.number(out, number);
        if let Some(t) = Written::of(clock) {
            out.extend_from_slice(b",\"ts\":");
            t.write(out);
        }
        out.push(b'}');
    }

    fn list(&self, out: &mut Vec<u8>, heard: &[(&Probe, Said)], clock: Clock, number: u64) {
        out.extend_from_slice(b"{\"probes\":[");
        parted(out, b",", heard, |out, (probe, said)| {
            put(out, format_args!("{{\"id\":\"{}\",\"value\":", probe.short));
            text(out, *said, true);
            out.push(b'}');
        });
        out.push(b']');
        self.number(out, number);
        if let Some(t) = Written::of(clock) {
            out.extend_from_slice(b",\"ts\":");
            t.write(out);
        }
        out.push(b'}');
    }

    /// RFC 8428. A clock that was never set or has no zone is left out: then the time is that of arrival.
    fn senml(&self, out: &mut Vec<u8>, heard: &[(&Probe, Said)], clock: Clock) {
        out.push(b'[');
        let mut first = true;
        for (probe, said) in heard {
            out.extend_from_slice(if first { b"{" } else { b",{" });
            if first {
                put(out, format_args!("\"bn\":\"{}/\",", self.device));
                if clock.kind == ClockPlan::Right {
                    out.extend_from_slice(b"\"bt\":");
                    Written::Seconds(clock.shows.millis()).write(out);
                    out.push(b',');
                }
            }
            first = false;
            let (unit, factor) = probe.senml_unit();
            put(out, format_args!("\"n\":\"{}\",\"u\":\"{unit}\",\"v\":", probe.short));
            match said {
                // As many places as it takes: 0.42 L/min is 0.007 L/s.
                Said::Number(v) => put(out, format_args!("{}", v * factor)),
                other => text(out, *other, true),
            }
            out.push(b'}');
        }
        out.push(b']');
    }
}

fn parted<T>(out: &mut Vec<u8>, between: &[u8], all: &[T], mut write: impl FnMut(&mut Vec<u8>, &T)) {
    for (i, one) in all.iter().enumerate() {
        if i > 0 {
            out.extend_from_slice(between);
        }
        write(out, one);
    }
}

fn put(out: &mut Vec<u8>, what: std::fmt::Arguments<'_>) {
    // A vector takes everything.
    let _ = out.write_fmt(what);
}

fn text(out: &mut Vec<u8>, said: Said, json: bool) {
    match said {
        Said::Number(v) => decimal(out, v),
        Said::Nan => out.extend_from_slice(b"nan"),
        Said::Null | Said::Nothing => out.extend_from_slice(b"null"),
        Said::Word if json => out.extend_from_slice(b"\"unavailable\""),
        Said::Word => out.extend_from_slice(b"unavailable"),
    }
}

fn float(said: Said) -> Vec<u8> {
    match said {
        Said::Number(v) => (v as f32).to_le_bytes().to_vec(),
        Said::Nan => f32::NAN.to_le_bytes().to_vec(),
        Said::Null | Said::Word | Said::Nothing => Vec::new(),
    }
}

/// Two places after the point, halves away from zero.
fn decimal(out: &mut Vec<u8>, value: f64) {
    let hundredths = libm::round(value * 100.0) as i64;
    if hundredths < 0 {
        out.push(b'-');
    }
    let n = hundredths.unsigned_abs();
    digits(out, n / 100, 1);
    out.push(b'.');
    digits(out, n % 100, 2);
}

/// A whole number with at least so many digits.
fn digits(out: &mut Vec<u8>, mut n: u64, least: usize) {
    let mut text = [b'0'; 20];
    let mut at = text.len();
    while n > 0 || text.len() - at < least {
        at -= 1;
        text[at] = b'0' + (n % 10) as u8;
        n /= 10;
    }
    out.extend_from_slice(&text[at..]);
}

/// A time as the device writes it.
enum Written {
    /// Milliseconds since 1970, or since its start.
    Seconds(i64),
    /// Local time of one hour east, without a zone.
    NoZone(Time),
}

impl Written {
    fn of(clock: Clock) -> Option<Self> {
        match clock.kind {
            ClockPlan::Absent => None,
            ClockPlan::Right => Some(Self::Seconds(clock.shows.millis())),
            ClockPlan::Unset => Some(Self::Seconds(clock.since_start.millis())),
            ClockPlan::NoZone => Some(Self::NoZone(clock.shows + Span::hours(1))),
        }
    }

    fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Seconds(ms) => {
                let ms = (*ms).max(0).unsigned_abs();
                digits(out, ms / 1000, 1);
                out.push(b'.');
                digits(out, ms % 1000, 3);
            }
            Self::NoZone(t) => put(out, format_args!("\"{}\"", t.to_chrono().format("%Y-%m-%dT%H:%M:%S"))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(value: f64) -> String {
        let mut out = Vec::new();
        decimal(&mut out, value);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn numbers_are_written_as_the_platform_would() {
        for (value, want) in [(26.9375, "26.94"), (0.0, "0.00"), (-0.0625, "-0.06"), (-127.0, "-127.00")] {
            assert_eq!(written(value), want);
        }
        for i in -5000..5000 {
            let value = f64::from(i) / 100.0;
            assert_eq!(written(value), format!("{value:.2}"));
        }
    }
}
