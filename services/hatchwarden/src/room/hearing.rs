//! Two clocks for each probe, and its rhythm: when a message about it last came, when a reading was last accepted, and
//! how long it usually takes from one to the next.

use super::Room;
use crate::config::SILENT_AFTER;
use readings::{Raw, Sender};
use store::ReadingRow;
use units::{ProbeKey, Span, Time};
use web::probes::RhythmFrom;

/// How many of the newest fresh readings tell the rhythm.
const KEPT: usize = 16;
/// A probe is silent half a rhythm after so many missed readings. A planning value: at the very moment of the next one it might
/// still come.
pub(crate) const MISSED: i64 = 3;

/// What is known of how one probe is heard.
#[derive(Debug, Default)]
pub(crate) struct Hearing {
    /// Arrival of the last message that was not retained, accepted or refused: the device is alive.
    pub(super) message: Option<Time>,
    /// Times of the newest fresh readings, in order.
    pub(super) fresh: Vec<Time>,
    /// The rhythm that the map or the device tells.
    told: Option<Span>,
    /// How long it may be silent by its rhythm; the least of all while that is not known.
    limit: Option<Span>,
    /// The device that sends it.
    pub(super) sender: Sender,
}

impl Hearing {
    /// A message about the probe.
    pub(super) fn heard(&mut self, raw: &Raw, retained: bool, received: Time) {
        if !retained {
            self.message = self.message.max(Some(received));
        }
        let set = raw.rules.as_ref().and_then(|r| r.every);
        self.told = set.or(raw.within).or(self.told);
        if self.sender != raw.sender {
            self.sender.clone_from(&raw.sender);
        }
    }

    /// A fresh reading was accepted; true if that changes how long the probe may be silent.
    pub(super) fn accepted(&mut self, time: Time) -> bool {
        self.note(time);
        let missed = |e: Span| Span::from_millis(e.millis().saturating_mul(2 * MISSED + 1) / 2);
        let limit = self.rhythm().0.map(missed).filter(|l| *l > SILENT_AFTER);
        std::mem::replace(&mut self.limit, limit) != limit
    }

    /// Kept in order of time, so that a restart learns the same.
    fn note(&mut self, time: Time) {
        match self.fresh.last() {
            Some(last) if *last >= time => {
                if let Err(i) = self.fresh.binary_search(&time) {
                    self.fresh.insert(i, time);
                }
            }
            _ => self.fresh.push(time),
        }
        if self.fresh.len() > KEPT {
            self.fresh.remove(0);
        }
    }

    /// Takes in a stored reading at a restart.
    pub(super) fn restored(&mut self, row: &ReadingRow, sender: Sender) {
        self.sender = sender;
        self.message = self.message.max(Some(row.received));
        if row.fresh {
            self.accepted(row.time);
        }
    }

    /// Time between two readings, and how that is known.
    pub(super) fn rhythm(&self) -> (Option<Span>, RhythmFrom) {
        if self.told.is_some() {
            return (self.told, RhythmFrom::Told);
        }
        // Asked with every reading, so nothing is allocated for it.
        let mut gaps = [Span::ZERO; KEPT];
        let known = self.fresh.len().saturating_sub(1);
        gaps.iter_mut().zip(self.fresh.windows(2)).for_each(|(gap, w)| *gap = w[1] - w[0]);
        gaps[..known].sort_unstable();
        match gaps[..known].get(known / 2) {
            Some(middle) => (Some(*middle), RhythmFrom::Learnt),
            None => (None, RhythmFrom::Unknown),
        }
    }
}

impl Room {
    /// How long a probe may be silent: as set for its vessel, else some missed readings, and at least three minutes.
    pub(super) fn silent_after(&self, probe: &ProbeKey) -> Span {
        if let Some(set) = self.setup.vessel(&probe.vessel).and_then(|v| v.silent_after) {
            return set;
        }
        self.hearing.get(probe).and_then(|h| h.limit).unwrap_or(SILENT_AFTER)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(s: i64) -> Time {
        Time::from_millis(s * 1_000)
    }

    #[test]
    fn the_rhythm_is_the_median_gap_in_any_order_of_arrival() {
        let mut h = Hearing::default();
        assert_eq!(h.rhythm(), (None, RhythmFrom::Unknown));
        h.accepted(at(0));
        assert_eq!(h.rhythm().0, None);
        for s in [60, 600, 180, 120, 240, 120] {
            h.accepted(at(s));
        }
        assert_eq!(h.rhythm(), (Some(Span::seconds(60)), RhythmFrom::Learnt));
        for i in 0..40 {
            h.accepted(at(1_000 + 10 * i));
        }
        assert_eq!(h.rhythm().0, Some(Span::seconds(10)), "the old rhythm is forgotten");
    }

    #[test]
    fn what_is_told_goes_before_what_is_learnt() {
        let mut h = Hearing::default();
        let probe: ProbeKey = "V1/ph".parse().unwrap();
        let raw = Raw { within: Some(Span::minutes(10)), ..Raw::bare(probe, 8.0) };
        h.heard(&raw, false, at(0));
        assert_eq!(h.rhythm(), (Some(Span::minutes(10)), RhythmFrom::Told));
        h.heard(&raw, true, at(50));
        assert_eq!(h.message, Some(at(0)), "a retained message is no sign of life");
    }
}
