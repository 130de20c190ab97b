//! Gauss-Legendre places and weights.

/// Places and weights of an n-point rule on `low..high`, in order. Roots of the Legendre polynomial by Newton's method from
/// Francesco Tricomi's first guess; in three or four steps they are exact to rounding.
pub(super) fn places(n: u32, low: f64, high: f64) -> Vec<(f64, f64)> {
    let (middle, half) = (f64::midpoint(low, high), (high - low) / 2.0);
    (1..=n)
        .rev()
        .map(|i| {
            let (x, slope) = root(n, i);
            (middle + half * x, half * 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

/// The i-th root from the top, and the slope of the polynomial there.
fn root(n: u32, i: u32) -> (f64, f64) {
    let mut x = (std::f64::consts::PI * (f64::from(i) - 0.25) / (f64::from(n) + 0.5)).cos();
    let mut slope = 1.0;
    for _ in 0..8 {
        let value;
        (value, slope) = polynomial(n, x);
        x -= value / slope;
    }
    (x, slope)
}

/// Value and slope at x inside −1..1.
fn polynomial(n: u32, x: f64) -> (f64, f64) {
    let (mut before, mut value) = (0.0, 1.0);
    for k in 1..=n {
        let k = f64::from(k);
        (before, value) = (value, ((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k);
    }
    (value, f64::from(n) * (before - x * value) / (1.0 - x * x))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Abramowitz & Stegun, table 25.4, n = 3 (from memory): ±0.774597, 0 with 5/9, 8/9; and n points are exact for powers
    /// up to 2n − 1.
    #[test]
    fn three_points_and_the_powers_that_forty_are_exact_for() {
        let three = places(3, -1.0, 1.0);
        let want = [(-0.6_f64.sqrt(), 5.0 / 9.0), (0.0, 8.0 / 9.0), (0.6_f64.sqrt(), 5.0 / 9.0)];
        for (got, want) in three.iter().zip(want) {
            assert!((got.0 - want.0).abs() < 1e-15 && (got.1 - want.1).abs() < 1e-15);
        }
        for power in 0..80 {
            let sum: f64 = places(40, 0.0, 1.0).iter().map(|(x, w)| w * x.powi(power)).sum();
            assert!((sum - 1.0 / f64::from(power + 1)).abs() < 1e-14, "{power}");
        }
    }
}
