//! The normal distribution.

/// Density at x.
pub(super) fn density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// Chance of a value below x, to about 1e-15. Source: the series of Marsaglia 2004, J. Statistical Software 11(4).
pub(super) fn below(x: f64) -> f64 {
    match x {
        _ if x.is_nan() => return x, // it would never settle
        _ if x > 8.0 => return 1.0,
        _ if x < -8.0 => return 0.0,
        _ => {}
    }
    let (mut term, mut sum, mut last, mut i) = (x, x, 0.0, 1.0);
    while sum != last {
        last = sum;
        i += 2.0;
        term *= x * x / i;
        sum += term;
    }
    0.5 + sum * density(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Computed with scipy 1.17.1 (`scipy.stats.norm.cdf`).
    #[test]
    fn the_distribution_is_that_of_scipy() {
        let cases = [
            (-6.0, 9.865_876_450_376_946e-10),
            (-3.0, 0.001_349_898_031_630_093_3),
            (-0.3, 0.382_088_577_811_047_4),
            (0.0, 0.5),
            (1.0, 0.841_344_746_068_542_9),
            (2.5, 0.993_790_334_674_223_8),
        ];
        for (x, want) in cases {
            assert!((below(x) - want).abs() < 2e-15, "{x}: {}", below(x));
        }
        assert_eq!((below(-50.0), below(50.0)), (0.0, 1.0));
        assert!(below(f64::NAN).is_nan());
    }
}
