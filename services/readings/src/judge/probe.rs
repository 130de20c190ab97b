//! Judging the numbers of one probe.

use super::jump::{self, Fit};
use super::leap::Leap;
use super::memory::{Memory, New};
use super::outlier::Recent;
use super::when::{MOST_AHEAD, When, backfill};
use super::{Verdict, refusal};
use crate::{Flags, OwnTime, Raw, Reading, Reason, Refusal, Rules, TimeSource, plausible};
use std::borrow::Cow;
use units::{Span, Time};

/// What is known of one probe.
#[derive(Debug, Default)]
pub(super) struct Probe {
    memory: Memory,
    /// The last accepted reading that got its time from its arrival: when it arrived, and the time it got.
    last_arrival: Option<(Time, Time)>,
    held: Option<Reading>,
    held_changed: bool,
    dropped: Option<Refusal>,
    recent: Recent,
    leap: Leap,
}

impl Probe {
    pub(super) fn judge(&mut self, mut raw: Raw, retained: bool, received: Time) -> Verdict {
        let given = raw.rules.take();
        let rules = given.as_deref().map_or_else(|| Cow::Owned(Rules::of(raw.probe.quantity)), Cow::Borrowed);
        match self.reading(raw, retained, received, &rules) {
            Err(refusal) => Verdict::Refuse(refusal),
            Ok(reading) => match rules.max_step.filter(|_| reading.fresh) {
                Some(step) => self.settle(reading, step),
                None => self.accept(vec![reading]),
            },
        }
    }

    pub(super) fn remember(&mut self, reading: &Reading) {
        self.note_arrival(reading);
        self.remember_clock(reading);
        if !self.memory.has(reading.time) {
            self.memory.note(New::of(reading));
        }
    }

    /// What a stored reading tells of its device's clock.
    fn remember_clock(&mut self, r: &Reading) {
        if r.flags.contains(Flags::DEVICE_CLOCK_BEHIND) {
            self.leap.remember(None, r.received);
        } else if r.time_source == TimeSource::Payload && !r.flags.contains(Flags::RETAINED_NOT_FRESH) {
            self.leap.remember(Some(r.time), r.received);
        }
    }

    pub(super) fn stands_only(&mut self, time: Time) {
        self.memory.stands_only(time);
    }

    pub(super) fn clock_moved(&mut self, by: Span) {
        self.memory.clock_moved(by);
        self.leap.clock_moved(by);
        if let Some(held) = &mut self.held {
            held.time += by;
            held.received += by;
            self.held_changed = true;
        }
    }

    pub(super) fn hold(&mut self, reading: Reading) {
        self.held = Some(reading);
    }

    pub(super) fn take_held_change(&mut self) -> Option<Option<Reading>> {
        std::mem::take(&mut self.held_changed).then(|| self.held.clone())
    }

    pub(super) fn take_dropped(&mut self) -> Option<Refusal> {
        self.dropped.take()
    }

    /// A reading with its time, if the number can stand and is no repeat.
    fn reading(
        &mut self,
        raw: Raw,
        retained: bool,
        received: Time,
        rules: &Rules,
    ) -> Result<Reading, Refusal> {
        let fail = |reason| refusal(&raw.probe, raw.value, reason, received);
        // Decoding has checked this; a number from elsewhere must not slip in.
        plausible::check(raw.probe.quantity, rules.hard_band, raw.value).map_err(fail)?;
        let said = When::new(believable(raw.own_time, retained), received);
        let by_clock = said.flags.contains(Flags::PAYLOAD_TIME);
        if by_clock && self.leap.has(said.time) {
            return Err(fail(Reason::Duplicate));
        }
        let wrong = by_clock && !retained && self.leap.look(said.time, received);
        let behind = When { time: received, flags: Flags::DEVICE_CLOCK_BEHIND };
        let When { mut time, flags } = if wrong { behind } else { said };
        let own = When { time, flags }.is_own();
        if retained && !own {
            return Err(fail(Reason::RetainedNotFresh));
        }
        if !own {
            time = self.free_time(received).ok_or_else(|| fail(Reason::TooFrequent))?;
        }
        let fresh = !retained && !flags.contains(Flags::BACKFILL);
        let flags = if retained { flags | Flags::RETAINED_NOT_FRESH } else { flags };
        let (value, sequence, time_source) = (raw.value, raw.sequence, flags.time_source());
        let reading =
            Reading { probe: raw.probe, time, value, received, sequence, fresh, time_source, flags };
        if self.is_repeat(&reading) {
            return Err(refusal(&reading.probe, value, Reason::Duplicate, received));
        }
        self.is_no_outlier(&reading, rules)?;
        Ok(reading)
    }

    /// Late readings come in any order, so only fresh ones are compared.
    fn is_no_outlier(&mut self, new: &Reading, rules: &Rules) -> Result<(), Refusal> {
        let Some(rule) = rules.outliers.filter(|_| new.fresh) else { return Ok(()) };
        match self.recent.is_outlier(new.value, rule) {
            Some(true) => Err(refusal(&new.probe, new.value, Reason::Outlier, new.received)),
            _ => Ok(()),
        }
    }

    /// A time of arrival that no reading has yet. Several of one millisecond follow each other by a millisecond,
    /// so that a burst of a device without a clock is kept whole and in order.
    fn free_time(&self, received: Time) -> Option<Time> {
        let mut time = match self.last_arrival {
            Some((arrived, given)) if arrived <= received && received <= given => {
                given + Span::from_millis(1)
            }
            _ => received,
        };
        while self.stands(time) {
            time += Span::from_millis(1);
        }
        (time - received <= MOST_AHEAD).then_some(time)
    }

    fn stands(&self, time: Time) -> bool {
        self.memory.has(time) || self.held.as_ref().is_some_and(|h| h.time == time)
    }

    fn is_repeat(&mut self, new: &Reading) -> bool {
        if new.time_source != TimeSource::Arrival {
            return self.stands(new.time);
        }
        let of_held =
            |h: &Reading| h.sequence.is_some() && h.sequence == new.sequence && h.value == new.value;
        self.held.as_ref().is_some_and(of_held) || self.memory.is_repeat(&New::of(new))
    }

    /// Looks for a jump, and for what the reading says about one that is held.
    fn settle(&mut self, new: Reading, step: (f64, Span)) -> Verdict {
        if let Some(held) = self.held.take_if(|h| jump::agree(h.value, new.value, step.0)) {
            self.held_changed = true;
            return self.confirm(held, new);
        }
        // A reading from before the held one says nothing about it.
        if let Some(held) = self.held.take_if(|h| h.time < new.time) {
            self.held_changed = true;
            self.dropped = Some(refusal(&held.probe, held.value, Reason::TooFastChange, held.received));
        }
        match jump::fit(&self.memory, new.time, new.value, step) {
            Fit::Good => self.accept(vec![new]),
            Fit::Wait if self.held.is_none() => {
                self.held = Some(new);
                self.held_changed = true;
                Verdict::Hold
            }
            Fit::Wait | Fit::Bad => {
                Verdict::Refuse(refusal(&new.probe, new.value, Reason::TooFastChange, new.received))
            }
        }
    }

    fn confirm(&mut self, mut held: Reading, new: Reading) -> Verdict {
        // It may have waited long for its second reading.
        held.flags = held.flags | backfill(held.time, new.received);
        held.fresh = !held.flags.contains(Flags::BACKFILL);
        let mut both = vec![held, new];
        both.sort_by_key(|r| r.time);
        self.accept(both)
    }

    fn accept(&mut self, readings: Vec<Reading>) -> Verdict {
        for r in &readings {
            self.note_arrival(r);
            self.memory.note(New::of(r));
        }
        Verdict::Accept(readings)
    }

    fn note_arrival(&mut self, r: &Reading) {
        if r.time_source == TimeSource::Arrival {
            self.last_arrival = Some((r.received, r.time));
        }
    }
}

/// An age counts back from arrival, and when a retained message was sent nobody knows.
fn believable(own: Option<OwnTime>, retained: bool) -> Option<OwnTime> {
    own.filter(|own| !(retained && matches!(own, OwnTime::Ago(_))))
}
