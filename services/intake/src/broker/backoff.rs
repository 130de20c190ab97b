//! How long to wait before trying the broker again.

use std::hash::{BuildHasher, RandomState};
use std::time::Duration;

/// Doubling waits between two bounds, each shortened by up to half at random, so that many
/// services do not come back to a restarted broker in step.
pub(super) struct BackOff {
    shortest: Duration,
    longest: Duration,
    next: Duration,
    draws: u64,
    seed: RandomState,
}

impl BackOff {
    pub(super) fn new((shortest, longest): (Duration, Duration)) -> Self {
        Self { shortest, longest: longest.max(shortest), next: shortest, draws: 0, seed: RandomState::new() }
    }

    /// The broker answered: the next wait is the shortest again.
    pub(super) fn reset(&mut self) {
        self.next = self.shortest;
    }

    /// The wait to make now; the one after is twice as long.
    pub(super) fn wait(&mut self) -> Duration {
        let full = self.next;
        self.next = full.saturating_mul(2).min(self.longest);
        self.draws = self.draws.wrapping_add(1);
        let thousandths = u32::try_from(self.seed.hash_one(self.draws) % 501).unwrap_or(0);
        full - full * thousandths / 1000
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOUNDS: (Duration, Duration) = (Duration::from_millis(500), Duration::from_secs(30));

    fn assert_within(wait: Duration, full: Duration) {
        assert!(wait >= full / 2 && wait <= full, "{wait:?} is not in the upper half of {full:?}");
    }

    #[test]
    fn doubles_up_to_the_longest() {
        let mut back_off = BackOff::new(BOUNDS);
        for full in [500, 1000, 2000, 4000, 8000, 16_000, 30_000, 30_000] {
            assert_within(back_off.wait(), Duration::from_millis(full));
        }
    }

    #[test]
    fn starts_over_when_reset() {
        let mut back_off = BackOff::new(BOUNDS);
        for _ in 0..5 {
            back_off.wait();
        }
        back_off.reset();
        assert_within(back_off.wait(), BOUNDS.0);
    }

    #[test]
    fn does_not_repeat_one_wait_for_ever() {
        let mut back_off = BackOff::new((BOUNDS.1, BOUNDS.1));
        let first = back_off.wait();
        assert!((0..64).any(|_| back_off.wait() != first));
    }

    #[test]
    fn bounds_in_the_wrong_order_do_no_harm() {
        let mut back_off = BackOff::new((BOUNDS.1, BOUNDS.0));
        back_off.wait();
        assert_within(back_off.wait(), BOUNDS.1);
    }
}
