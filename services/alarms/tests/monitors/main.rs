//! Monitors on simulated water and air: how often they are wrong in sixty quiet nights, and how soon they see what is
//! wrong. `cargo test -p hatchwarden-alarms --test monitors -- --nocapture` prints what was found.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod drift;
mod fast_change;
mod levels;
mod line_fault;
mod order;
mod probes;
mod sim;
mod weak_air;

use alarms::{AlarmKey, Condition, Panel, Settings};
use units::{Span, Time, VesselId};

fn at(minute: i64) -> Time {
    Time::from_millis(0) + Span::minutes(minute)
}

const DAY: i64 = 1_440;
/// What is asked of every monitor: sixty quiet nights.
const NIGHTS: i64 = 60;

/// A panel with one alarm, to try settings on: which condition it is named after does not matter.
struct Watch {
    panel: Panel,
    key: AlarmKey,
}

impl Watch {
    fn new(settings: Settings) -> Self {
        let key = AlarmKey::at(&VesselId::new("X").unwrap(), Condition::LeavingBand);
        let mut panel = Panel::new();
        panel.watch(key.clone(), settings, at(0));
        Self { panel, key }
    }

    /// Tells a number; whether somebody is called.
    fn calls(&mut self, t: Time, number: f64) -> bool {
        let mut moved = self.panel.tick(t);
        moved.extend(self.panel.derived(self.key.clone(), t, number, t));
        moved.iter().any(|m| m.announce)
    }
}

/// When somebody is called, of numbers at times.
fn calls(settings: Settings, numbers: impl IntoIterator<Item = (Time, f64)>) -> Vec<Time> {
    let mut watch = Watch::new(settings);
    numbers.into_iter().filter(|(t, number)| watch.calls(*t, *number)).map(|(t, _)| t).collect()
}
