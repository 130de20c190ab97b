//! The recent readings of one probe, and how they tell a repeat.
//!
//! A device with a clock is simple: the same time is the same reading. A device without one is told apart by its
//! running number, and there two mistakes are possible. Taking a repeat for new lets a reading stand twice, which
//! does no harm. Taking a new reading for a repeat loses it. A board that restarts counts from the beginning again,
//! and a steady tank sends the same value all night, so the same number with the same value may well be new.
//! Three things prove that the counter began anew, and each clears the memory of numbers:
//!
//! - the number falls back by 128 or more: no client has that many messages under way;
//! - the number is known with another value: a repeat is the same to the byte;
//! - repeats that count upwards at the pace of living readings (a second apart or more, nothing new between): what is sent
//!   again comes in one burst.
//!
//! So a restart within the first 128 readings costs at most the one reading that starts the third proof.

use crate::{Reading, TimeSource};
use std::collections::VecDeque;
use units::{Span, Time};

/// How many readings are remembered.
const KEPT: usize = 512;
/// A probe that has spoken this often gets room for all that is kept, in one piece: growing by halves would leave as much
/// again behind in holes. What is not used yet is not resident.
const FEW: usize = 64;
/// How long a running number is remembered.
const NUMBERS_FOR: Span = Span::hours(1);
/// A fall by this much is no redelivery.
const FALL: u64 = 128;
/// Repeats at least so far apart are not one burst.
const PACE: Span = Span::seconds(1);

/// One remembered reading. A large room remembers a million of them, so it holds what every one needs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub(super) time: Time,
    pub(super) value: f64,
}

/// A reading that comes in.
#[derive(Debug, Clone, Copy)]
pub(super) struct New {
    seen: Seen,
    received: Time,
    /// The running number, where it tells repeats.
    number: Option<u64>,
}

impl New {
    pub(super) fn of(r: &Reading) -> Self {
        let number = r.sequence.filter(|_| r.time_source == TimeSource::Arrival);
        Self { seen: Seen { time: r.time, value: r.value }, received: r.received, number }
    }
}

/// The running number of a remembered reading.
#[derive(Debug, Clone, Copy)]
struct Numbered {
    seen: Seen,
    received: Time,
    number: u64,
}

/// The newest readings of one probe in order of time.
#[derive(Debug, Default)]
pub(super) struct Memory {
    seen: VecDeque<Seen>,
    /// Those of them whose number tells repeats.
    numbered: VecDeque<Numbered>,
    /// The highest running number since the counter began.
    top: Option<u64>,
    /// The last repeat, while nothing new has come after it.
    repeat: Option<(u64, Time)>,
    /// Times that stand and say nothing of what comes before or after them: our clock has gone back past them since. In
    /// order; empty until that happens, and again once it has come past them.
    passed: Vec<Time>,
}

impl Memory {
    /// Whether a reading stands at that time.
    pub(super) fn has(&self, time: Time) -> bool {
        // Nearly always the newest so far.
        (self.seen.back().is_some_and(|s| s.time >= time) && self.at(time).is_ok())
            || self.passed.binary_search(&time).is_ok()
    }

    /// Our own clock has jumped by `by`. After it has gone back, what was read before stands, but is no neighbour in time of
    /// what comes now; and running numbers are as old as they were.
    pub(super) fn clock_moved(&mut self, by: Span) {
        if by < Span::ZERO {
            let before = std::mem::take(&mut self.seen);
            before.iter().for_each(|s| self.stands_only(s.time));
        }
        for n in &mut self.numbered {
            n.received += by;
            n.seen.time += by;
        }
        self.repeat = self.repeat.map(|(n, at)| (n, at + by));
    }

    /// A reading stands at that time, and that is all that counts of it.
    pub(super) fn stands_only(&mut self, time: Time) {
        if let Err(i) = self.passed.binary_search(&time) {
            self.passed.insert(i, time);
        }
    }

    /// The nearest readings before and after a time.
    pub(super) fn around(&self, time: Time) -> (Option<&Seen>, Option<&Seen>) {
        let (Ok(i) | Err(i)) = self.at(time);
        (i.checked_sub(1).and_then(|i| self.seen.get(i)), self.seen.get(i))
    }

    /// Whether a reading without a time of its own repeats one that stands.
    pub(super) fn is_repeat(&mut self, new: &New) -> bool {
        let Some(number) = new.number.filter(|n| !self.has_fallen(*n)) else { return false };
        if !self.same_number(number, new.received).any(|n| n.seen.value == new.seen.value) {
            return false;
        }
        let last = self.repeat.replace((number, new.received));
        !last.is_some_and(|(n, at)| n < number && new.received - at >= PACE)
    }

    /// Takes in an accepted reading.
    pub(super) fn note(&mut self, new: New) {
        self.repeat = None;
        if let Some(number) = new.number {
            // A number that is noted a second time was found to be new: the counter began again.
            if self.has_fallen(number) || self.same_number(number, new.received).next().is_some() {
                self.forget_numbers();
            }
            self.top = self.top.max(Some(number));
        }
        self.insert(new);
    }

    /// At most as many as are kept, so that the memory never takes room for more.
    fn insert(&mut self, new: New) {
        if self.seen.len() == KEPT {
            let Some(oldest) = self.seen.front().filter(|s| s.time < new.seen.time) else { return };
            self.numbered.pop_front_if(|n| n.seen.time <= oldest.time);
            self.seen.pop_front();
        }
        if self.seen.len() == FEW {
            self.seen.reserve_exact(KEPT - FEW);
        }
        let (Ok(i) | Err(i)) = self.at(new.seen.time);
        self.seen.insert(i, new.seen);
        if self.passed.last().is_some_and(|last| *last < new.seen.time) {
            self.passed = Vec::new();
        }
        if let New { seen, received, number: Some(number) } = new {
            if self.numbered.len() == KEPT {
                self.numbered.pop_front(); // after our clock went back there may be more of them than of readings
            }
            let i = self.numbered.partition_point(|n| n.seen.time < seen.time);
            self.numbered.insert(i, Numbered { seen, received, number });
        }
    }

    fn at(&self, time: Time) -> Result<usize, usize> {
        match self.seen.back() {
            Some(newest) if newest.time >= time => self.seen.binary_search_by_key(&time, |s| s.time),
            _ => Err(self.seen.len()),
        }
    }

    fn has_fallen(&self, number: u64) -> bool {
        self.top.is_some_and(|top| top.saturating_sub(number) >= FALL)
    }

    fn same_number(&self, number: u64, received: Time) -> impl Iterator<Item = &Numbered> {
        let rising = self.top.is_none_or(|top| number > top);
        let known = self.numbered.iter().rev().take(if rising { 0 } else { KEPT });
        known.filter(move |n| n.number == number && received - n.received <= NUMBERS_FOR)
    }

    fn forget_numbers(&mut self) {
        self.top = None;
        self.numbered.clear();
    }
}
