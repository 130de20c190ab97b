//! What devices make of the truth: shares, rhythms, clocks, shapes and the way to the broker, counted over long plays.
//!
//! A share counts as right within four standard errors; the seeds are fixed, so a right one never fails by chance.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod clocks;
mod glitches;
mod golden;
mod rhythm;
mod shapes;
mod way;

use sensors_sim::{Happening, Kind, Room, Scenario, Sent};
use serde_json::Value;
use units::{Span, Time};

pub(crate) fn start() -> Time {
    Time::parse_rfc3339("2031-03-14T00:00:00Z").unwrap()
}

/// Two tanks of which nothing changes, a tumbler, and what the test adds.
pub(crate) fn calm(more: &str) -> Room {
    let text = format!(
        "room = 'lab'\n[room_air]\nmean_celsius = 26.0625\nswing_celsius = 0\n\
         [[tank]]\nvessel = 'V1'\nlitres = 90\nstart_celsius = 26.0625\nph_swing = 0\n\
         [[tank]]\nvessel = 'V2'\nlitres = 90\nstart_celsius = 26.0625\n\
         [[outlet]]\nvessel = 'TU1'\nlitres_per_minute = 0.45\n{more}"
    );
    Room::new(Scenario::from_toml(&text).unwrap(), 11, start())
}

/// One device, b1, with these probes and more lines of TOML.
pub(crate) fn device(probes: &str, more: &str) -> String {
    format!("[[device]]\nname = 'b1'\nprobes = [{probes}]\n{more}\n")
}

pub(crate) fn played(room: &mut Room, span: Span) -> Vec<Happening> {
    let mut happened = Vec::new();
    room.play(room.now() + span, &mut happened);
    happened
}

/// The readings of the next span.
pub(crate) fn readings(room: &mut Room, span: Span) -> Vec<Sent> {
    let to = room.now() + span;
    room.advance(to).into_iter().filter(|s| s.kind == Kind::Reading).collect()
}

pub(crate) fn json(sent: &Sent) -> Value {
    serde_json::from_slice(&sent.payload).unwrap()
}

/// That a count is what a share of `of` gives.
pub(crate) fn as_often(what: &str, count: usize, of: usize, share: f64) {
    let n = of as f64;
    let (want, error) = (n * share, (n * share * (1.0 - share)).sqrt());
    assert!(
        (count as f64 - want).abs() <= 4.0 * error,
        "{what}: {count} of {of}, not {want:.0} ± {error:.0}"
    );
}

/// That lengths are exponential with this mean, s.
pub(crate) fn exponential(what: &str, lengths: &[f64], mean: f64) {
    let n = lengths.len();
    let found = lengths.iter().sum::<f64>() / n as f64;
    assert!(
        (found - mean).abs() <= 4.0 * mean / (n as f64).sqrt(),
        "{what}: mean {found}, not {mean}; n {n}"
    );
    for times in [0.25, 1.0, 2.0] {
        let longer = lengths.iter().filter(|l| **l > times * mean).count();
        as_often(&format!("{what} over {times} means"), longer, n, f64::exp(-times));
    }
}
