//! A vessel's night as lines of a table: what it was, and what it usually is.

use super::{AirNight, ClutchNight, Figure, Refused, Stop, Stretch, VesselNight};
use crate::local::Local;
use crate::words;
use units::{Span, Time};

/// One line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Which figure.
    pub name: String,
    /// This night.
    pub night: String,
    /// Usually; empty where nothing is compared.
    pub usual: String,
    /// Whether it is one of the reasons why the night was not good.
    pub bad: bool,
}

impl Line {
    fn new(name: impl Into<String>, night: String, usual: String) -> Self {
        Self { name: name.into(), night, usual, bad: false }
    }

    fn bad(self, bad: bool) -> Self {
        Self { bad, ..self }
    }
}

/// All figures of a vessel, in the zone of that IANA name.
pub fn lines(v: &VesselNight, zone: &str) -> Vec<Line> {
    let local = Local::of(zone);
    let mut all = water(v, &local);
    all.extend(v.air.iter().flat_map(|a| air(a, &local)));
    all.extend(v.clutches.iter().flat_map(|c| clutch(c, &local)));
    all.extend(refused(&v.refusals));
    all
}

fn figure(name: &str, f: Figure, say: impl Fn(f64) -> String) -> Line {
    let or = |x: Option<f64>, none: &str| x.map_or_else(|| none.to_owned(), &say);
    Line::new(name, or(f.value, "not read"), or(f.usual, "not known yet"))
}

fn water(v: &VesselNight, local: &Local) -> Vec<Line> {
    let w = &v.water;
    if w.read == Span::ZERO {
        return vec![Line::new("Water", "not read at all".to_owned(), String::new()).bad(true)];
    }
    let celsius = |x: f64| format!("{x:.2} °C");
    let mut all = vec![
        figure("Lowest", w.min, celsius),
        figure("Highest", w.max, celsius),
        figure("Mean", w.mean, celsius),
    ];
    if let (Some(band), Some(below), Some(above)) = (v.band, w.below, w.above) {
        let parts = [(below, "under", band.low), (above, "over", band.high)];
        let parts = parts.iter().filter(|(s, ..)| *s > Span::ZERO);
        let parts: Vec<String> =
            parts.map(|(s, word, end)| format!("{} {word} {end:.1} °C", length(*s))).collect();
        let hours = |h: f64| length(Span::from_days(h / 24.0));
        let mut line = figure("Outside its band", w.outside_hours, hours);
        if !parts.is_empty() {
            line.night = parts.join(", ");
        }
        all.push(line.bad(below + above > Span::ZERO));
    }
    if !w.enough {
        all.push(Line::new("Read", length(w.read), String::new()).bad(true));
    }
    all.extend(gaps("Water not read", &w.gaps, local));
    all
}

fn gaps(name: &str, gaps: &[Stretch], local: &Local) -> Option<Line> {
    if gaps.is_empty() {
        return None;
    }
    let said = gaps.iter().map(|g| between(g.from, g.to, local)).collect();
    let whole = gaps.iter().fold(Span::ZERO, |sum, g| sum + g.length());
    Some(Line::new(name, listed(said, whole), String::new()).bad(true))
}

/// The most stretches that are named one by one: a device that comes and goes has hundreds in a night.
const NAMED: usize = 6;

fn listed(mut all: Vec<String>, whole: Span) -> String {
    let more = all.len().saturating_sub(NAMED);
    all.truncate(NAMED);
    let mut said = all.join(", ");
    if more > 0 {
        said.push_str(&format!(" and {more} more, {} in all", length(whole)));
    }
    said
}

fn air(a: &AirNight, local: &Local) -> Vec<Line> {
    if !a.needed || !a.heard {
        let night = if a.needed { "no probe of it was heard" } else { "needed by no clutch" };
        return vec![Line::new("Air", night.to_owned(), String::new()).bad(a.needed)];
    }
    let minutes = |m: f64| length(Span::from_days(m / 1440.0));
    let usual = a.still_minutes.usual.map_or_else(|| "not known yet".to_owned(), minutes);
    let whole = a.stops.iter().fold(Span::ZERO, |sum, s| sum + s.length());
    let night = match a.stops.as_slice() {
        [] => "never".to_owned(),
        all => listed(all.iter().map(|s| stop(s, local)).collect(), whole),
    };
    let mut all = vec![Line::new("Air stood", night, usual).bad(!a.stops.is_empty())];
    all.extend(gaps("Air not heard", &a.gaps, local));
    all
}

fn stop(s: &Stop, local: &Local) -> String {
    let mut said = between(s.from, s.to, local);
    for (so, words) in [
        (s.before, "it stood already at dusk"),
        (s.after, "it still stood at dawn"),
        (s.unheard_after, "then nothing was heard"),
    ] {
        if so {
            said.push_str(&format!(", {words}"));
        }
    }
    said
}

/// `02:17 to 02:57 (40 min)`
pub(super) fn between(from: Time, to: Time, local: &Local) -> String {
    format!("{} to {} ({})", local.exact(from), local.exact(to), length(to - from))
}

/// A length to the minute, so that what adds up is not cut off: `40 min`, `1 h 30 min`, `0 min`.
pub(super) fn length(span: Span) -> String {
    let seconds = (span.millis() as f64 / 1000.0).round() as i64;
    if (1..60).contains(&seconds) {
        return format!("{seconds} s");
    }
    let minutes = (seconds + 30) / 60;
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m:02} min"),
    }
}

fn clutch(c: &ClutchNight, local: &Local) -> Vec<Line> {
    let base = c.base.map(|b| format!(" above {b:.1} °C")).unwrap_or_default();
    let sum = |x: f64| format!("{x:.2} °C·d");
    let mut gained = figure(&format!("{} gained{base}", c.clutch), c.gained, sum);
    if c.gained.usual.is_some() {
        gained.usual.push_str(&of_nights(c.usual_nights));
    }
    let mut all = vec![gained];
    for s in &c.shifts {
        let name = format!("{} {}", c.clutch, words::stage(s.stage));
        let mut night = format!("{}: {}", moved(s.later), local.full(s.after));
        if !s.causes.is_empty() {
            night.push_str(&format!(". {}", s.causes.join("; ")));
        }
        all.push(Line::new(name, night, String::new()));
    }
    let none = c.no_shift.iter();
    all.extend(none.map(|why| Line::new(format!("{} dates", c.clutch), why.clone(), String::new())));
    all
}

fn of_nights(n: usize) -> String {
    if n == 1 { " (1 night)".to_owned() } else { format!(" ({n} nights)") }
}

/// `32 min later`, `1 h sooner`, `unmoved`.
fn moved(later: Span) -> String {
    if later.abs() < Span::seconds(30) {
        return "unmoved".to_owned();
    }
    format!("{} {}", length(later.abs()), if later > Span::ZERO { "later" } else { "sooner" })
}

fn refused(all: &[Refused]) -> Option<Line> {
    (!all.is_empty()).then(|| {
        let said: Vec<String> =
            all.iter().map(|r| format!("{} × {} of {}", r.count, r.reason, r.place)).collect();
        Line::new("Not accepted", said.join(", "), String::new())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_rounded_to_minutes_and_moves_say_which_way() {
        let said = [0, 20, 59, 61, 2_399, 2_400, 3_600, 5_430].map(|s| length(Span::seconds(s)));
        assert_eq!(said, ["0 min", "20 s", "59 s", "1 min", "40 min", "40 min", "1 h", "1 h 31 min"]);
        assert_eq!(moved(Span::minutes(32)), "32 min later");
        assert_eq!(moved(Span::hours(-2)), "2 h sooner");
        assert_eq!(moved(Span::seconds(20)), "unmoved");
    }

    #[test]
    fn many_stretches_are_added_up_and_an_hour_shown_twice_is_told_apart() {
        let t = |text: &str| Time::parse_rfc3339(text).unwrap();
        let berlin = Local::of("Europe/Berlin");
        let night = between(t("2026-10-25T00:30:00Z"), t("2026-10-25T01:30:00Z"), &berlin);
        assert_eq!(night, "02:30 CEST to 02:30 CET (1 h)");
        let many = (0..9).map(|n| n.to_string()).collect();
        assert_eq!(listed(many, Span::minutes(90)), "0, 1, 2, 3, 4, 5 and 3 more, 1 h 30 min in all");
    }
}
