//! Random points that a printed seed plays again.

/// SplitMix64 (Steele, Lea and Flood 2014).
pub struct Chance(u64);

impl Chance {
    /// From `HATCHWARDEN_SEED`, else a fixed seed; printed, so that a failure can be played again.
    pub fn seeded() -> Self {
        let given = std::env::var("HATCHWARDEN_SEED").ok().and_then(|s| s.parse().ok());
        let seed = given.unwrap_or(20_261_125);
        println!("HATCHWARDEN_SEED={seed}");
        Self(seed)
    }

    /// A number below `end`.
    pub fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % end
    }

    /// `count` points in rising order, all from 1 and below `end`.
    pub fn points(&mut self, count: usize, end: u64) -> Vec<u64> {
        let mut points: Vec<u64> = (0..count).map(|_| 1 + self.below(end - 1)).collect();
        points.sort_unstable();
        println!("{count} points: {points:?}");
        points
    }
}
