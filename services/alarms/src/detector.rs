//! From samples to a condition: limit, deadband, delays.

use crate::{Settings, Side};
use serde::{Deserialize, Serialize};
use units::Time;

/// Whether a condition holds, and since when the opposite has been seen.
///
/// A delay counts elapsed time and not samples. An on-delay runs out at a sample or, between samples, at a tick: the worse
/// is believed. An off-delay runs out at a sample only: silence is not health. A sample that is older than the newest is
/// left out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Detector {
    /// The condition holds.
    pub(crate) on: bool,
    /// First sample of an unbroken row that speaks for a change.
    pub(crate) pending: Option<Time>,
    /// Newest sample, or for silence the moment from which it counts. Not part of what a restart needs: it is read
    /// from the stored readings.
    #[serde(skip)]
    pub(crate) newest: Option<Time>,
    /// The device of a probe has said that it goes: silence is not waited for beyond this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) gone_until: Option<Time>,
    /// Silence counts from here at the earliest: what it hung on was well again then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) counts_from: Option<Time>,
    /// The limit has changed while the newest value was not known, after a restart.
    #[serde(skip)]
    unjudged: bool,
}

impl Detector {
    pub(crate) fn new() -> Self {
        Self { on: false, pending: None, newest: None, gone_until: None, counts_from: None, unjudged: false }
    }

    /// Takes a sample in; true if it was not older than the newest.
    pub(crate) fn sample(&mut self, s: &Settings, t: Time, value: f64) -> bool {
        if self.newest.is_some_and(|newest| t < newest) {
            return false;
        }
        self.newest = Some(t);
        self.unjudged = false;
        self.pending = if self.speaks(s, value) { self.pending.or(Some(t)) } else { None };
        true
    }

    /// Whether a value speaks for a change.
    fn speaks(&self, s: &Settings, value: f64) -> bool {
        let (beyond, clear) = match s.side {
            Side::High => (value >= s.limit, value < s.limit - s.deadband),
            Side::Low => (value <= s.limit, value > s.limit + s.deadband),
            Side::Silence | Side::Told => (false, true),
        };
        if self.on { clear } else { beyond }
    }

    /// Judges the running row by new settings. Of its values only the newest, `value`, is known still: the row stands if
    /// whatever spoke for a change by the old settings does so by the new ones; else it begins at the newest sample.
    pub(crate) fn rejudge(&mut self, old: &Settings, new: &Settings, value: Option<f64>) {
        if !matches!(new.side, Side::High | Side::Low) {
            return;
        }
        self.pending = self.pending.filter(|_| self.widens(old, new));
        self.unjudged = value.is_none();
        if let Some(value) = value {
            self.pending = if self.speaks(new, value) { self.pending.or(self.newest) } else { None };
        }
    }

    /// Whether every value that speaks for a change by the old settings does so by the new ones.
    fn widens(&self, old: &Settings, new: &Settings) -> bool {
        match (new.side, self.on) {
            _ if old.side != new.side => false,
            (Side::High, false) => new.limit <= old.limit,
            (Side::Low, false) => new.limit >= old.limit,
            (Side::High, true) => new.limit - new.deadband >= old.limit - old.deadband,
            (Side::Low, true) => new.limit + new.deadband <= old.limit + old.deadband,
            (Side::Silence | Side::Told, _) => true,
        }
    }

    /// Learns the newest sample from before a restart.
    pub(crate) fn recall(&mut self, s: &Settings, t: Time, value: f64) {
        self.newest = Some(t);
        if std::mem::take(&mut self.unjudged) {
            self.pending = if self.speaks(s, value) { self.pending.or(Some(t)) } else { None };
        }
    }

    /// When a running on-delay is over without a further sample.
    pub(crate) fn due(&self, s: &Settings) -> Option<Time> {
        match s.side {
            _ if self.on => None,
            Side::Told => None,
            Side::Silence => {
                [self.newest.map(|t| t + s.on_delay), self.gone_until].into_iter().flatten().min()
            }
            Side::High | Side::Low => self.pending.map(|t| t + s.on_delay),
        }
    }

    /// Whether a delay is over at a sample of time `t`; since when the change then has held.
    pub(crate) fn over(&self, s: &Settings, t: Time) -> Option<Time> {
        let delay = if self.on { s.off_delay } else { s.on_delay };
        self.pending.filter(|since| *since + delay <= t)
    }

    /// Since when the change that is due has held: the first sample that spoke for it, or the last that was heard.
    pub(crate) fn since(&self, s: &Settings) -> Option<Time> {
        if s.side == Side::Silence { self.newest } else { self.pending }
    }
}
