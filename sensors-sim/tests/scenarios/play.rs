//! A scenario played to its end, and questions to what came out.

use sensors_sim::{Happening, Kind, Known, Moment, Room, Scenario, Sent, Truth, shipped};
use units::Time;

/// A scenario and what must be seen in it.
pub(crate) type Check = (&'static str, fn(&Played));

pub(crate) struct Played {
    pub(crate) start: Time,
    pub(crate) sent: Vec<Sent>,
    pub(crate) truth: Vec<Truth>,
}

/// Plays a shipped scenario for its whole length.
pub(crate) fn play(name: &str) -> Played {
    play_text(&shipped(name).unwrap().text)
}

/// Plays a scenario from its TOML.
pub(crate) fn play_text(toml: &str) -> Played {
    let scenario = Scenario::from_toml(toml).unwrap();
    let start = Time::parse_rfc3339("2031-03-01T00:00:00Z").unwrap();
    let end = start + scenario.length.span();
    let (mut happened, mut sent, mut truth) = (Vec::new(), Vec::new(), Vec::new());
    Room::new(scenario, 7, start).play(end, &mut happened);
    for h in happened {
        match h {
            Happening::Sent(message) => sent.push(message),
            Happening::Truth(line) => truth.push(line),
            Happening::Link { .. } => {}
        }
    }
    Played { start, sent, truth }
}

/// What a payload of our own shape says.
pub(crate) fn value(sent: &Sent) -> Option<f64> {
    json(sent)["v"].as_f64()
}

pub(crate) fn json(sent: &Sent) -> serde_json::Value {
    serde_json::from_slice(&sent.payload).unwrap_or_default()
}

pub(crate) fn text(sent: &Sent) -> &str {
    str::from_utf8(&sent.payload).unwrap_or_default()
}

impl Played {
    /// `"02:17"` is of day 1; anything else is written as in a scenario.
    pub(crate) fn at(&self, moment: &str) -> Time {
        let whole = if moment.contains(' ') { moment.to_owned() } else { format!("day 1 {moment}") };
        whole.parse::<Moment>().unwrap().after(self.start)
    }

    /// Readings that were published between two moments.
    pub(crate) fn readings<'a>(&'a self, from: &str, to: &str) -> impl Iterator<Item = &'a Sent> + use<'a> {
        let (from, to) = (self.at(from), self.at(to));
        self.sent.iter().filter(move |s| s.kind == Kind::Reading && from <= s.at && s.at <= to)
    }

    /// Those of one probe.
    pub(crate) fn of<'a>(&'a self, probe: &str, from: &str, to: &str) -> Vec<&'a Sent> {
        let end = format!("/{probe}");
        self.readings(from, to).filter(|s| s.topic.ends_with(&end)).collect()
    }

    /// Numbers of one probe; there must be some.
    pub(crate) fn values(&self, probe: &str, from: &str, to: &str) -> Vec<f64> {
        let all: Vec<f64> = self.of(probe, from, to).into_iter().filter_map(value).collect();
        assert!(!all.is_empty(), "no reading of {probe} from {from} to {to}");
        all
    }

    pub(crate) fn mean(&self, probe: &str, from: &str, to: &str) -> f64 {
        let all = self.values(probe, from, to);
        all.iter().sum::<f64>() / all.len() as f64
    }

    /// Every reading of a probe lies in a range.
    pub(crate) fn within(&self, probe: &str, (from, to): (&str, &str), low: f64, high: f64) {
        for v in self.values(probe, from, to) {
            assert!((low..=high).contains(&v), "{probe} from {from} to {to}: {v} is not in {low} to {high}");
        }
    }

    /// When the truth first says something.
    pub(crate) fn when(&self, says: &str) -> Option<Time> {
        self.truth.iter().find(|t| t.what.to_string().contains(says)).map(|t| t.at)
    }

    pub(crate) fn tells(&self, says: &str) -> bool {
        self.when(says).is_some()
    }

    /// How many of a clutch the truth says are left at a moment.
    pub(crate) fn left(&self, name: &str, at: Time) -> u32 {
        let told = self.truth.iter().rev().filter(|t| t.at <= at).find_map(|t| match &t.what {
            Known::Fewer { clutch, alive, .. } if clutch == name => Some(*alive),
            Known::Clutch { clutch, eggs, .. } if clutch == name => Some(*eggs),
            _ => None,
        });
        told.unwrap()
    }
}
