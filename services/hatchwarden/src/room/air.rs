//! The night strip of one tumbler: slots of six minutes in which its eggs turned, lay still or were not heard.

use super::night::SLOT;
use std::collections::BTreeMap;
use units::{Span, Time};

/// How far back slots are kept: a whole night and the day before it.
pub(crate) const KEPT: Span = Span::hours(26);

#[derive(Debug, Default, Clone, Copy)]
struct Slot {
    turning: u32,
    still: u32,
}

/// Counts of readings per slot.
#[derive(Debug, Default)]
pub(crate) struct AirLog {
    slots: BTreeMap<i64, Slot>,
}

fn slot_of(t: Time) -> i64 {
    t.millis().div_euclid(SLOT.millis())
}

impl AirLog {
    /// Counts one reading; old slots are dropped.
    pub(crate) fn note(&mut self, t: Time, still: bool) {
        let slot = self.slots.entry(slot_of(t)).or_default();
        if still {
            slot.still += 1;
        } else {
            slot.turning += 1;
        }
        if let Some((&newest, _)) = self.slots.last_key_value() {
            let oldest = newest - KEPT.millis() / SLOT.millis();
            while self.slots.first_key_value().is_some_and(|(&k, _)| k < oldest) {
                self.slots.pop_first();
            }
        }
    }

    /// Forgets what was counted in slots after the one that is running at `now`.
    pub(crate) fn forget_after(&mut self, now: Time) {
        self.slots.split_off(&(slot_of(now) + 1));
    }

    /// One letter a slot from dusk up to the slot that is running at `to`: `t` turning, `s` still for at least
    /// half of its readings, `.` not heard.
    pub(crate) fn strokes(&self, dusk: Time, to: Time) -> String {
        (slot_of(dusk)..=slot_of(to))
            .map(|k| match self.slots.get(&k) {
                None => '.',
                Some(s) if s.still >= s.turning => 's',
                Some(_) => 't',
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_states_three_letters() {
        let at = |min: i64| Time::from_millis(min * 60_000);
        let mut log = AirLog::default();
        for m in 0..6 {
            log.note(at(m), false);
        }
        for m in 12..18 {
            log.note(at(m), m >= 14);
        }
        assert_eq!(log.strokes(at(0), at(17)), "t.s");
    }

    #[test]
    fn old_slots_are_dropped_so_that_memory_stays_flat() {
        let mut log = AirLog::default();
        for h in 0..500 {
            log.note(Time::from_millis(h * 3_600_000), false);
        }
        assert!(log.slots.len() <= 27, "{}", log.slots.len());
    }
}
