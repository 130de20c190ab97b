//! The night in strokes: a lane a tumbler, a stroke each six minutes.

use super::{Drawing, num};
use crate::local::Local;
use crate::view::{NightSpan, RoomView, Turning};
use maud::Markup;
use std::fmt::Write as _;
use units::{Span, Time};

/// Length of one slot.
pub(crate) const SLOT: Span = Span::minutes(6);
const LANE: f64 = 17.0;
const LEFT: f64 = 40.0;
const RIGHT: f64 = 356.0;

/// One run of equal letters: what, from, to.
pub(crate) fn runs(strokes: &str, dusk: Time) -> Vec<(char, Time, Time)> {
    let mut out: Vec<(char, Time, Time)> = Vec::new();
    for (i, c) in strokes.chars().enumerate() {
        let from = dusk + Span::from_millis(SLOT.millis() * i as i64);
        match out.last_mut() {
            Some(last) if last.0 == c => last.2 = from + SLOT,
            _ => out.push((c, from, from + SLOT)),
        }
    }
    out
}

/// The night of one tumbler in words: "still 01:52 to now; else turning".
pub(crate) fn told(strokes: &str, dusk: Time, now: Time, local: &Local) -> String {
    let runs = runs(strokes, dusk);
    let end = |t: Time| if t >= now { "now".to_owned() } else { local.hm(t) };
    let parts: Vec<String> = runs
        .iter()
        .filter(|r| r.0 != 't')
        .map(|(c, a, b)| {
            let what = if *c == 's' { "still" } else { "not heard" };
            format!("{what} {} to {}", local.hm(*a), end(*b))
        })
        .collect();
    match (parts.is_empty(), runs.iter().any(|r| r.0 == 't')) {
        (true, true) => "turning since dusk".into(),
        (true, false) => "nothing heard yet".into(),
        (false, true) => format!("{}; else turning", parts.join(", ")),
        (false, false) => parts.join(", "),
    }
}

fn x_of(t: Time, night: NightSpan) -> f64 {
    let whole = (night.dawn - night.dusk).as_hours().max(1.0);
    LEFT + (RIGHT - LEFT) * ((t - night.dusk).as_hours() / whole).clamp(0.0, 1.0)
}

fn lane(d: &mut Drawing, strokes: &str, y: f64, room: &RoomView) {
    let mut slants = String::new();
    for (i, c) in strokes.chars().enumerate() {
        let t = room.night.dusk + Span::from_millis(SLOT.millis() * i as i64);
        if c == 't' && t < room.night.dawn {
            let _ = write!(slants, "M{} {}l2.2-9", num(x_of(t, room.night)), num(y + 4.5));
        }
    }
    d.path("stroke", &slants);
    for (_, from, to) in runs(strokes, room.night.dusk).into_iter().filter(|r| r.0 == 's') {
        let to = to.min(room.now.max(from + SLOT));
        d.line("flat", (x_of(from, room.night), y), (x_of(to, room.night), y));
    }
}

fn hours(d: &mut Drawing, room: &RoomView, local: &Local, bottom: f64) {
    let mut t = room.night.dusk;
    let mut n = 0;
    while t <= room.night.dawn && n < 30 {
        let x = x_of(t, room.night);
        d.line("hair", (x, 6.0), (x, bottom));
        let near_now = (t - room.now).abs() < Span::minutes(45) && room.now <= room.night.dawn;
        if n % 2 == 0 && !near_now {
            d.text("t", "middle", x, bottom + 14.0, &local.hm(t)[..2]);
        }
        t += Span::hours(1);
        n += 1;
    }
}

/// A name that fits beside its lane.
pub(crate) fn short(name: &str) -> String {
    if name.len() <= 5 { name.to_owned() } else { format!("{}…", name.chars().take(4).collect::<String>()) }
}

/// The strip of all tumblers.
pub(crate) fn strip(room: &RoomView, local: &Local, label: &str) -> Markup {
    let mut d = Drawing::default();
    let bottom = room.tumblers.len() as f64 * LANE + 8.0;
    hours(&mut d, room, local, bottom);
    for (i, t) in room.tumblers.iter().enumerate() {
        let y = 14.0 + i as f64 * LANE;
        let still = t.strokes.ends_with('s');
        d.text(if still { "tb" } else { "tk" }, "start", 0.0, y + 4.5, &short(t.vessel.as_str()));
        if t.turning == Turning::NoProbe {
            d.text("t", "start", LEFT + 2.0, y + 4.5, "no probe of its air");
        } else {
            lane(&mut d, &t.strokes, y, room);
        }
    }
    if room.now >= room.night.dusk && room.now <= room.night.dawn {
        let x = x_of(room.now, room.night);
        d.line("now", (x, 2.0), (x, bottom));
        d.text("t tnow", "middle", x.clamp(LEFT + 8.0, RIGHT - 10.0), bottom + 14.0, "now");
    }
    d.finish("wide", 362.0, bottom + 18.0, Some(label))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_join_equal_letters_and_words_name_the_gaps() {
        let dusk = Time::parse_rfc3339("2026-11-24T19:00:00Z").unwrap();
        let utc = Local::of("UTC");
        let r = runs("tt.ss", dusk);
        assert_eq!(r.iter().map(|r| r.0).collect::<String>(), "t.s");
        assert_eq!(r[2].2 - r[2].1, Span::minutes(12));
        let now = dusk + Span::minutes(27);
        assert_eq!(
            told("tt.ss", dusk, now, &utc),
            "not heard 19:12 to 19:18, still 19:18 to now; else turning"
        );
        assert_eq!(told("ttt", dusk, now, &utc), "turning since dusk");
        assert_eq!(told("", dusk, now, &utc), "nothing heard yet");
        assert_eq!(told("..", dusk, dusk + Span::minutes(9), &utc), "not heard 19:00 to now");
    }
}
