//! Seeded chance: `SplitMix64` (Steele, Lea & Flood 2014), small enough to be read and fixed for ever.

/// A stream of pseudo-random numbers.
#[derive(Debug, Clone)]
pub(crate) struct Chance(u64);

impl Chance {
    /// The stream number `stream` of a seed; streams do not depend on each other.
    pub(crate) fn new(seed: u64, stream: u64) -> Self {
        let mut root = Self(seed);
        let base = root.next();
        let mut own = Self(base ^ stream.wrapping_mul(0xD6E8_FEB8_6659_FD93));
        own.next();
        own
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly from 0 up to, but not including, 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Close to normal, mean 0, standard deviation 1, never beyond ±6: a sum of twelve, since a logarithm may differ
    /// between platforms.
    pub(crate) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs for seed 1234567 as printed with the reference implementation's test vectors (from memory, and
    /// found again with an independent implementation in Python).
    #[test]
    fn it_is_splitmix64() {
        let mut c = Chance(1_234_567);
        assert_eq!(c.next(), 6_457_827_717_110_365_317);
        assert_eq!(c.next(), 3_203_168_211_198_807_973);
    }

    #[test]
    fn noise_has_the_mean_and_spread_it_claims() {
        let mut c = Chance::new(1, 2);
        let draws: Vec<f64> = (0..20_000).map(|_| c.normal()).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let variance = draws.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / 20_000.0;
        assert!(mean.abs() < 0.03 && (variance - 1.0).abs() < 0.05, "{mean} {variance}");
    }
}
