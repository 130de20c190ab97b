//! How far a new observation may lie from a prediction.

use super::ModelKind;
use super::loo::Errors;

/// Student's t for four of five, by degrees of freedom from 1 (handbook table, two-sided 80 %); then the normal's.
const T: [f64; 10] = [3.078, 1.886, 1.638, 1.533, 1.476, 1.440, 1.415, 1.397, 1.383, 1.372];
const NORMAL: f64 = 1.282;
/// Widening beyond the observed temperatures for each degree: planning value, half of the difference that base
/// temperatures from 10 to 18 °C make per degree.
const BEYOND: f64 = 0.04;
/// Nothing is known better than this: rated accuracy of the usual probe at the usual base temperature.
pub(super) const LEAST: f64 = 0.02;

/// Half of the range in which four of five new observations should lie, as a logarithm.
pub(super) fn half_width(
    errors: &Errors,
    kind: ModelKind,
    celsius: f64,
    (low, high): (f64, f64),
) -> Option<f64> {
    let all = errors.all(kind)?;
    let n = all.len();
    let typical = (all.iter().map(|e| e * e).sum::<f64>() / n as f64).sqrt();
    // Each error is that of one prediction from the others, so it holds the error of the fit already.
    let t = T.get(n.saturating_sub(2).max(1) - 1).copied().unwrap_or(NORMAL);
    let beyond = (low - celsius).max(celsius - high).max(0.0);
    Some(t * typical.max(LEAST) + BEYOND * beyond)
}
