//! Judging a decoded number against what came before.

mod jump;
mod memory;
mod outlier;
mod probe;
mod when;

use crate::{Raw, Reading, Reason, Refusal};
use probe::Probe;
use std::collections::HashMap;
use units::{ProbeKey, Time};

/// Most probes that one judge knows. A room has some hundreds; the bound keeps a publisher that invents marks from
/// filling the memory. Each takes at most about 8 KB, and 25 KB where the device has no clock but numbers its readings.
pub const MOST_PROBES: usize = 4_096;

/// Knows the recent readings of every probe and judges what comes next. Pure: time comes with each message.
///
/// A probe remembers its newest 512 readings by time. Memory built by [`Judge::remember`] from stored rows judges
/// as the one that was lost, apart from a run of repeats that was just under way, and from outliers: their windows begin
/// anew.
#[derive(Debug, Default)]
pub struct Judge {
    probes: HashMap<ProbeKey, Probe>,
}

/// What became of a number.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// Accepted: one reading, or two in order of time when it confirms one that was held.
    Accept(Vec<Reading>),
    /// Not accepted.
    Refuse(Refusal),
    /// A jump that water cannot make: it waits for a second reading that agrees.
    Hold,
}

impl Judge {
    /// Knows nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Judges a number. Ask [`Judge::take_held_change`] and [`Judge::take_dropped`] afterwards.
    ///
    /// In this order: the number itself; its time; a retained message without a believable time of its own; a
    /// repeat; an outlier, where the map asks; a jump.
    pub fn judge(&mut self, raw: Raw, retained: bool, received: Time) -> Verdict {
        if self.probes.len() >= MOST_PROBES && !self.probes.contains_key(&raw.probe) {
            return Verdict::Refuse(refusal(&raw.probe, raw.value, Reason::TooManyProbes, received));
        }
        self.probe(&raw.probe).judge(raw, retained, received)
    }

    /// Takes in a stored reading at a restart; give each probe's oldest first.
    pub fn remember(&mut self, reading: &Reading) {
        self.probe(&reading.probe).remember(reading);
    }

    /// Takes in a reading that was held when the program ended.
    pub fn hold(&mut self, reading: Reading) {
        self.probe(&reading.probe).hold(reading);
    }

    /// Whether the last judgement changed what is held for a probe: `None` for no change, `Some(Some(reading))` when
    /// that reading is now held, `Some(None)` when none is any more. The message of a held reading has been
    /// acknowledged, so it must be kept elsewhere.
    pub fn take_held_change(&mut self, probe: &ProbeKey) -> Option<Option<Reading>> {
        self.probes.get_mut(probe)?.take_held_change()
    }

    /// The refusal of a held reading that the last judgement did not confirm (`too_fast_change`).
    pub fn take_dropped(&mut self, probe: &ProbeKey) -> Option<Refusal> {
        self.probes.get_mut(probe)?.take_dropped()
    }

    fn probe(&mut self, key: &ProbeKey) -> &mut Probe {
        self.probes.entry(key.clone()).or_default()
    }
}

/// The refusal of a value; its excerpt is the value itself.
fn refusal(probe: &ProbeKey, value: f64, reason: Reason, at: Time) -> Refusal {
    let excerpt = format!("{value} {}", probe.quantity.unit());
    Refusal { place: probe.to_string(), reason, excerpt, at }
}
