//! The two transcendental functions that the room needs, from basic operations only: those of the platform may differ
//! in the last bit, and then the same seed would not give the same bytes everywhere.

/// e^-x for x ≥ 0; anything else counts as no decay.
pub(crate) fn decay(x: f64) -> f64 {
    if !x.is_finite() || x > 700.0 {
        return if x > 0.0 { 0.0 } else { 1.0 };
    }
    if x <= 0.0 {
        return 1.0;
    }
    let (mut y, mut halvings) = (x, 0);
    while y > 1.0 / 32.0 {
        y /= 2.0;
        halvings += 1;
    }
    // Taylor's series in Horner's form; at y = 1/32 the next term is under 1e-17.
    let mut result = (1..=8).rev().fold(1.0, |inner, n| 1.0 - y / f64::from(n) * inner);
    for _ in 0..halvings {
        result *= result;
    }
    result
}

/// cos of an angle given in turns; good to about 1e-7.
pub(crate) fn cos_turns(turns: f64) -> f64 {
    let quarter_on = turns + 0.25;
    let r = quarter_on - (quarter_on + 0.5).floor();
    let r = if r > 0.25 {
        0.5 - r
    } else if r < -0.25 {
        -0.5 - r
    } else {
        r
    };
    let y = r * std::f64::consts::TAU;
    let terms = [2.0 * 3.0, 4.0 * 5.0, 6.0 * 7.0, 8.0 * 9.0, 10.0 * 11.0];
    y * terms.iter().rev().fold(1.0, |inner, n| 1.0 - y * y / n * inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decay_agrees_with_the_platform() {
        for x in [0.0, 1e-9, 1e-3, 0.03, 0.5, 1.0, 4.2, 30.0, 650.0] {
            let want = f64::exp(-x);
            assert!((decay(x) - want).abs() <= want * 1e-11, "{x}: {} {want}", decay(x));
        }
        assert_eq!(decay(f64::INFINITY), 0.0);
        assert_eq!(decay(f64::NAN), 1.0);
        assert_eq!(decay(-1.0), 1.0);
    }

    #[test]
    fn cosine_agrees_with_the_platform() {
        for i in -300..300 {
            let turns = f64::from(i) / 97.0;
            let want = (turns * std::f64::consts::TAU).cos();
            assert!((cos_turns(turns) - want).abs() < 1e-7, "{turns}");
        }
    }
}
