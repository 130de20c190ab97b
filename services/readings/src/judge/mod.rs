//! Judging a decoded number against what came before.

mod jump;
mod leap;
mod memory;
mod outlier;
mod probe;
mod when;

use crate::{Raw, Reading, Reason, Refusal};
use probe::Probe;
use std::collections::HashMap;
use units::{ProbeKey, Span, Time};

/// Most probes that one judge knows. A room has some hundreds; the bound keeps a publisher that invents marks from
/// filling the memory. Each takes at most about 8 KB, and 25 KB where the device has no clock but numbers its readings.
pub const MOST_PROBES: usize = 4_096;

/// Knows the recent readings of every probe and judges what comes next. Pure: time comes with each message.
///
/// A probe remembers its newest 512 readings by time. Memory built by [`Judge::remember`] from stored rows judges
/// as the one that was lost, apart from a run of repeats that was just under way, and from outliers: their windows begin
/// anew. Of a device whose clock is behind it knows that, but not by how much: its next reading is taken for a new one in
/// any case, and repeats of what it sent before are not told. Where the first reading of a clock that leapt was refused, and
/// so is not among the rows, one reading more is taken for an old one.
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

    /// Takes in a stored reading of which only the time counts: our own clock has gone back past it since.
    pub fn stands(&mut self, reading: &Reading) {
        self.probe(&reading.probe).stands_only(reading.time);
    }

    /// Our own clock, by which messages are received, has jumped by `by`. What was known of each probe's pace goes on. After
    /// it has gone back, what was read before still stands, and is not compared with what comes now. A reading that is held
    /// is moved along, so ask [`Judge::take_held_change`].
    ///
    /// ```
    /// use readings::{Judge, OwnTime, Raw, Verdict};
    /// use units::{ProbeKey, Span, Time};
    ///
    /// let probe: ProbeKey = "V1/temperature".parse().unwrap();
    /// let said = |t| Raw { own_time: Some(OwnTime::At(t)), ..Raw::bare(probe.clone(), 26.9) };
    /// let (at, hour) = (Time::from_millis(1_931_221_060_000), Span::hours(1));
    /// let mut judge = Judge::new();
    /// judge.judge(said(at), false, at);
    ///
    /// judge.clock_moved(hour); // ours; the device's clock is as it was
    /// let next = at + Span::minutes(1);
    /// let Verdict::Accept(new) = judge.judge(said(next), false, next + hour) else { panic!("new") };
    /// assert!(new[0].fresh && new[0].time == next + hour);
    /// ```
    pub fn clock_moved(&mut self, by: Span) {
        self.probes.values_mut().for_each(|p| p.clock_moved(by));
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
