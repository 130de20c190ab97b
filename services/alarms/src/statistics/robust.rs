//! Median and median absolute deviation.

/// Turns a median absolute deviation into the standard deviation of normal values: 1 / Φ⁻¹(3/4). Source: Hampel 1974,
/// JASA 69:383-393; computed with scipy 1.17.1.
pub const CONSISTENT: f64 = 1.482_602_218_505_602;

/// Middle and width of some values, in their unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mad {
    /// The median.
    pub median: f64,
    /// The median of the distances from it.
    pub raw: f64,
}

impl Mad {
    /// As a standard deviation: [`CONSISTENT`] times the raw one.
    pub fn scaled(self) -> f64 {
        CONSISTENT * self.raw
    }

    /// As a standard deviation, and never less than one step of the probe: a probe that repeats one number is as exact as
    /// its resolution, not perfect. A resolution that is not a positive number is no floor.
    pub fn floored(self, resolution: f64) -> f64 {
        self.scaled().max(resolution.max(0.0))
    }
}

/// Middle value, of an even count half way between the two in the middle. Values that are not finite are left out; `None`
/// if nothing is left.
///
/// ```
/// use alarms::statistics::median;
/// assert_eq!(median([26.0, 85.0, 26.5, f64::NAN]), Some(26.5));
/// assert_eq!(median([]), None);
/// ```
pub fn median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut left: Vec<f64> = values.into_iter().filter(|x| x.is_finite()).collect();
    let half = left.len() / 2;
    if left.is_empty() {
        return None;
    }
    let even = left.len().is_multiple_of(2);
    let (below, upper, _) = left.select_nth_unstable_by(half, f64::total_cmp);
    if !even {
        return Some(*upper);
    }
    let lower = below.iter().copied().max_by(f64::total_cmp)?;
    Some(f64::midpoint(lower, *upper))
}

/// Median and median absolute deviation. Values that are not finite are left out; `None` if nothing is left.
///
/// ```
/// use alarms::statistics::mad;
/// let width = mad(&[26.1, 26.0, 26.2, 25.9, 26.1, 31.0]).unwrap();
/// assert!((width.raw - 0.1).abs() < 1e-9 && (width.scaled() - 0.14826).abs() < 1e-5);
/// assert_eq!(mad(&[26.3, 26.3]).unwrap().floored(0.0625), 0.0625);
/// ```
pub fn mad(values: &[f64]) -> Option<Mad> {
    let median_of = median(values.iter().copied())?;
    let raw = median(values.iter().map(|x| (x - median_of).abs()))?;
    Some(Mad { median: median_of, raw })
}
