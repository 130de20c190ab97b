//! How long to wait before trying the broker again.

use std::hash::{BuildHasher, RandomState};
use std::time::Duration;

/// Doubling waits between two bounds, each shortened by up to half, so that many services do
/// not come back to a restarted broker in step. How much is the caller's to say.
pub(super) struct BackOff {
    shortest: Duration,
    longest: Duration,
    next: Duration,
}

impl BackOff {
    pub(super) fn new((shortest, longest): (Duration, Duration)) -> Self {
        let mut back_off = Self { shortest, longest: longest.max(shortest), next: shortest };
        back_off.reset();
        back_off
    }

    /// The link was up: the next wait is one of the shortest again.
    pub(super) fn reset(&mut self) {
        self.next = self.doubled(self.shortest);
    }

    /// The wait to make now, shortened by `jitter` (0 not at all, 1000 by half) but never below
    /// the shortest; the one after is twice as long.
    pub(super) fn wait(&mut self, jitter: u32) -> Duration {
        let full = self.next;
        self.next = self.doubled(full);
        (full - full / 2 * jitter.min(1000) / 1000).max(self.shortest)
    }

    fn doubled(&self, wait: Duration) -> Duration {
        wait.saturating_mul(2).min(self.longest)
    }
}

/// Numbers from 0 to 1000 that differ between services and between draws.
#[derive(Default)]
pub(super) struct Jitter {
    seed: RandomState,
    draws: u64,
}

impl Jitter {
    pub(super) fn draw(&mut self) -> u32 {
        self.draws = self.draws.wrapping_add(1);
        u32::try_from(self.seed.hash_one(self.draws) % 1001).unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOUNDS: (Duration, Duration) = (Duration::from_millis(500), Duration::from_secs(30));

    fn waits(jitter: u32) -> Vec<u128> {
        let mut back_off = BackOff::new(BOUNDS);
        (0..8).map(|_| back_off.wait(jitter).as_millis()).collect()
    }

    #[test]
    fn doubles_up_to_the_longest() {
        assert_eq!(waits(0), [1000, 2000, 4000, 8000, 16_000, 30_000, 30_000, 30_000]);
    }

    #[test]
    fn jitter_takes_away_up_to_half_and_never_goes_below_the_shortest() {
        assert_eq!(waits(1000), [500, 1000, 2000, 4000, 8000, 15_000, 15_000, 15_000]);
        assert_eq!(waits(500)[..3], [750, 1500, 3000]);
        assert_eq!(waits(9999), waits(1000));
    }

    #[test]
    fn starts_over_when_reset() {
        let mut back_off = BackOff::new(BOUNDS);
        for _ in 0..5 {
            back_off.wait(0);
        }
        back_off.reset();
        assert_eq!(back_off.wait(1000), BOUNDS.0);
    }

    #[test]
    fn bounds_in_the_wrong_order_or_all_alike_do_no_harm() {
        for bounds in [(BOUNDS.1, BOUNDS.0), (BOUNDS.1, BOUNDS.1)] {
            let mut back_off = BackOff::new(bounds);
            for jitter in [0, 1000, 500] {
                assert_eq!(back_off.wait(jitter), BOUNDS.1);
            }
        }
    }

    #[test]
    fn draws_differ_and_stay_in_range() {
        let mut jitter = Jitter::default();
        let draws: Vec<u32> = (0..64).map(|_| jitter.draw()).collect();
        assert!(draws.iter().all(|d| *d <= 1000), "{draws:?}");
        assert!(draws.iter().any(|d| *d != draws[0]), "{draws:?}");
    }
}
