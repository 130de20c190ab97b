//! The straight line: rate = (T − T0) / K.

use super::Observation;
use serde::Serialize;

/// A straight line of the rate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LineFit {
    /// Base temperature, °C.
    pub t0: f64,
    /// Requirement, °C·d.
    pub k: f64,
    /// How well they are known; `None` with no more observations than parameters.
    pub standard_errors: Option<LineErrors>,
}

/// Standard errors by the delta method.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LineErrors {
    /// Of the base temperature, °C.
    pub t0: f64,
    /// Of the requirement, °C·d.
    pub k: f64,
}

impl LineFit {
    /// Days at a temperature; `None` at the base temperature and under it.
    pub fn days(&self, celsius: f64) -> Option<f64> {
        (celsius > self.t0).then(|| self.k / (celsius - self.t0))
    }
}

/// Weighted least squares of the rate on temperature. `None` when the rate does not rise.
///
/// Where every observation has a standard deviation they weigh by it (that of the rate is sd/days²), else all alike.
pub(super) fn fit(observations: &[Observation]) -> Option<LineFit> {
    let weights = weights(observations);
    let sum = |f: &dyn Fn(&Observation) -> f64| -> f64 {
        observations.iter().zip(&weights).map(|(o, w)| w * f(o)).sum()
    };
    let all = sum(&|_| 1.0);
    let (mean_t, mean_r) = (sum(&|o| o.celsius) / all, sum(&|o| 1.0 / o.days) / all);
    let wide = sum(&|o| (o.celsius - mean_t) * (o.celsius - mean_t));
    if wide <= 0.0 {
        return None;
    }
    let slope = sum(&|o| (o.celsius - mean_t) * (1.0 / o.days - mean_r)) / wide;
    if slope <= 0.0 {
        return None;
    }
    let start = mean_r - slope * mean_t;
    let left = sum(&|o| {
        let off = 1.0 / o.days - start - slope * o.celsius;
        off * off
    });
    let (t0, k) = (-start / slope, 1.0 / slope);
    let free = observations.len() as f64 - 2.0;
    let standard_errors = (free > 0.0).then(|| {
        let variance = left / free;
        let (var_slope, var_mean) = (variance / wide, variance / all);
        // T0 = mean_t − mean_r / slope, whose two parts do not depend on each other.
        let t0 = (var_mean / (slope * slope) + var_slope * (mean_r / (slope * slope)).powi(2)).sqrt();
        LineErrors { t0, k: var_slope.sqrt() / (slope * slope) }
    });
    Some(LineFit { t0, k, standard_errors })
}

fn weights(observations: &[Observation]) -> Vec<f64> {
    let known = observations.iter().all(|o| o.sd.is_some());
    let weight = |o: &Observation| match o.sd {
        Some(sd) if known => (o.days * o.days / sd).powi(2),
        _ => 1.0,
    };
    let raw: Vec<f64> = observations.iter().map(weight).collect();
    // The mean is one, so that sums stay in the size of the numbers.
    let mean = raw.iter().sum::<f64>() / raw.len().max(1) as f64;
    raw.into_iter().map(|w| w / mean).collect()
}
