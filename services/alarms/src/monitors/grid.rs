//! The step of a probe, learnt from what it says.

/// Differences under this are rounding, not steps: no probe here resolves so finely.
const ROUNDING: f64 = 1e-6;

/// The smallest step between different values, in their unit: at most the resolution of the probe, or a multiple of it
/// while few values are known. `None` if all are alike. Values that are not finite are left out.
///
/// ```
/// use alarms::monitors::step_of;
/// assert_eq!(step_of([26.0625, 26.0, 26.1875, 26.0]), Some(0.0625));
/// assert_eq!(step_of([0.8, 0.8]), None);
/// ```
pub fn step_of(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.into_iter().filter(|x| x.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    sorted.windows(2).map(|pair| pair[1] - pair[0]).filter(|gap| *gap > ROUNDING).min_by(f64::total_cmp)
}
