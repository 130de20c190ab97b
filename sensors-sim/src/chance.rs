//! Seeded chance: `SplitMix64` (Steele, Lea & Flood 2014), small enough to be read and fixed for ever.

use units::Span;

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

    /// The stream of something that has a name, so that adding another thing to a room changes nothing here.
    pub(crate) fn named(seed: u64, kind: &str, name: &str) -> Self {
        // Fowler-Noll-Vo 1a, 64 bit.
        let fnv = |h: u64, b: u8| (h ^ u64::from(b)).wrapping_mul(0x100_0000_01b3);
        let stream = kind.bytes().chain([0]).chain(name.bytes()).fold(0xcbf2_9ce4_8422_2325, fnv);
        Self::new(seed, stream)
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

    /// Close to normal, mean 0, standard deviation 1, never beyond ±6: the twelve sixteen-bit pieces of three numbers
    /// added up.
    pub(crate) fn normal(&mut self) -> f64 {
        let pieces = |x: u64| (x & 0xffff) + (x >> 16 & 0xffff) + (x >> 32 & 0xffff) + (x >> 48);
        let sum: u64 = (0..3).map(|_| pieces(self.next())).sum();
        // Each piece is a whole number from 0 to 65,535: its mean is 32,767.5 and 65,536 of them make one unit.
        (sum as f64 - 12.0 * 32_767.5) / 65_536.0
    }

    /// Exponential with mean 1.
    pub(crate) fn exponential(&mut self) -> f64 {
        -libm::log(1.0 - self.unit())
    }

    /// A wait of that mean length, as between events that do not know of each other.
    pub(crate) fn wait(&mut self, mean: Span) -> Span {
        Span::from_millis((mean.millis() as f64 * self.exponential()) as i64)
    }

    /// True in that share of cases.
    pub(crate) fn hits(&mut self, share: f64) -> bool {
        self.unit() < share
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

    fn mean_and_variance(draws: &[f64]) -> (f64, f64) {
        let n = draws.len() as f64;
        let mean = draws.iter().sum::<f64>() / n;
        (mean, draws.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n)
    }

    #[test]
    fn noise_has_the_mean_and_spread_it_claims() {
        let mut c = Chance::new(1, 2);
        let (mean, variance) = mean_and_variance(&(0..20_000).map(|_| c.normal()).collect::<Vec<_>>());
        assert!(mean.abs() < 0.03 && (variance - 1.0).abs() < 0.05, "{mean} {variance}");
    }

    #[test]
    fn waits_have_the_mean_and_spread_they_claim() {
        let mut c = Chance::named(1, "device", "b1");
        let (mean, variance) = mean_and_variance(&(0..20_000).map(|_| c.exponential()).collect::<Vec<_>>());
        assert!((mean - 1.0).abs() < 0.03 && (variance - 1.0).abs() < 0.08, "{mean} {variance}");
        assert_ne!(Chance::named(1, "device", "b1").next(), Chance::named(1, "device", "b2").next());
    }
}
