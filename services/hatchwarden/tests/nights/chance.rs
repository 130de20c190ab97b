//! Random draws that a printed seed plays again.

use units::Span;

/// SplitMix64 (Steele, Lea and Flood 2014).
pub(crate) struct Chance(u64);

/// From `HATCHWARDEN_SEED`, else a fixed one; printed, so that a failure can be played again.
pub(crate) fn seed() -> u64 {
    let given = std::env::var("HATCHWARDEN_SEED").ok().and_then(|s| s.parse().ok());
    let seed = given.unwrap_or(20_261_129);
    println!("HATCHWARDEN_SEED={seed}");
    seed
}

impl Chance {
    /// The stream of one night: nights do not depend on each other.
    pub(crate) fn new(seed: u64, night: usize) -> Self {
        let mut root = Self(seed);
        Self(root.next() ^ (night as u64 + 1).wrapping_mul(0xd6e8_feb8_6659_fd93))
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly from 0 up to, but not including, 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A number from `low` up to and including `high`.
    pub(crate) fn count(&mut self, low: usize, high: usize) -> usize {
        low + (self.unit() * (high - low + 1) as f64) as usize
    }

    pub(crate) fn pick<T: Clone>(&mut self, of: &[T]) -> T {
        of[self.count(0, of.len() - 1)].clone()
    }

    pub(crate) fn hits(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    /// A span of whole seconds.
    pub(crate) fn span(&mut self, low: Span, high: Span) -> Span {
        Span::seconds(self.between(low.as_seconds(), high.as_seconds()) as i64)
    }
}
