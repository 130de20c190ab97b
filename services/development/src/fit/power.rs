//! The power law: ln days = ln a + b ln(T − c).

use super::{FEWEST_POWER, Observation, temperatures};
use serde::Serialize;

/// A power law of the days.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PowerFit {
    /// Logarithm of the days at one degree over `c`.
    pub ln_a: f64,
    /// The power; −1 is the straight line.
    pub b: f64,
    /// Temperature at which nothing develops, °C.
    pub c: f64,
    /// How well they are known; `None` with no more observations than parameters.
    pub standard_errors: Option<PowerErrors>,
}

/// Standard errors from the curvature at the best fit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PowerErrors {
    /// Of ln a.
    pub ln_a: f64,
    /// Of b.
    pub b: f64,
    /// Of c, °C.
    pub c: f64,
}

impl PowerFit {
    /// Days at a temperature; `None` at `c` and under it.
    pub fn days(&self, celsius: f64) -> Option<f64> {
        (celsius > self.c).then(|| (self.ln_a + self.b * (celsius - self.c).ln()).exp())
    }
}

/// How far `c` may lie under the coldest observation, °C: nearer the law has no bound, further it is an exponential.
const NEAREST: f64 = 0.05;
const FURTHEST: f64 = 80.0;
const STEPS: u32 = 240;

/// Least squares of ln days. For each `c` the rest is a straight line; `c` is sought on a grid and then closed in on.
pub(super) fn fit(observations: &[Observation]) -> Option<PowerFit> {
    let all = temperatures(observations);
    if all.len() < FEWEST_POWER {
        return None;
    }
    let coldest = all[0];
    let left = |ln_u: f64| straight(observations, coldest - ln_u.exp()).map_or(f64::INFINITY, |s| s.left);
    let (from, to) = (NEAREST.ln(), FURTHEST.ln());
    let step = (to - from) / f64::from(STEPS);
    let at = |i: u32| from + step * f64::from(i);
    let best = (0..=STEPS).min_by(|a, b| left(at(*a)).total_cmp(&left(at(*b))))?;
    let ln_u = closed_in(left, (at(best) - step).max(from), (at(best) + step).min(to));
    let c = coldest - ln_u.exp();
    let s = straight(observations, c).filter(|s| s.b < 0.0)?;
    Some(PowerFit { ln_a: s.ln_a, b: s.b, c, standard_errors: errors(observations, &s, c) })
}

struct Straight {
    ln_a: f64,
    b: f64,
    left: f64,
}

fn straight(observations: &[Observation], c: f64) -> Option<Straight> {
    let n = observations.len() as f64;
    let points: Vec<(f64, f64)> = observations.iter().map(|o| ((o.celsius - c).ln(), o.days.ln())).collect();
    let mean = |f: fn(&(f64, f64)) -> f64| points.iter().map(f).sum::<f64>() / n;
    let (mx, my) = (mean(|p| p.0), mean(|p| p.1));
    let wide: f64 = points.iter().map(|p| (p.0 - mx).powi(2)).sum();
    let b = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum::<f64>() / wide;
    let ln_a = my - b * mx;
    let left = points.iter().map(|p| (p.1 - ln_a - b * p.0).powi(2)).sum();
    (wide > 0.0 && b.is_finite()).then_some(Straight { ln_a, b, left })
}

/// Golden section.
fn closed_in(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    while high - low > 1e-10 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if f(a) <= f(b) { high = b } else { low = a }
    }
    0.5 * (low + high)
}

/// From the inverse of JᵀJ, J being the derivatives of ln days by ln a, b and c.
fn errors(observations: &[Observation], s: &Straight, c: f64) -> Option<PowerErrors> {
    let free = observations.len() as f64 - 3.0;
    if free <= 0.0 {
        return None;
    }
    let mut m = [[0.0_f64; 3]; 3];
    for o in observations {
        let row = [1.0, (o.celsius - c).ln(), -s.b / (o.celsius - c)];
        for (i, x) in row.iter().enumerate() {
            for (j, y) in row.iter().enumerate() {
                m[i][j] += x * y;
            }
        }
    }
    let diagonal = inverse_diagonal(&m)?;
    let error = |i: usize| (diagonal[i] * s.left / free).sqrt();
    Some(PowerErrors { ln_a: error(0), b: error(1), c: error(2) })
}

fn inverse_diagonal(m: &[[f64; 3]; 3]) -> Option<[f64; 3]> {
    let minor = |i: usize, j: usize| {
        let (r, c) = ([(i + 1) % 3, (i + 2) % 3], [(j + 1) % 3, (j + 2) % 3]);
        m[r[0]][c[0]] * m[r[1]][c[1]] - m[r[0]][c[1]] * m[r[1]][c[0]]
    };
    let all = m[0][0] * minor(0, 0) + m[0][1] * minor(0, 1) + m[0][2] * minor(0, 2);
    (all.abs() > 1e-300).then(|| [minor(0, 0) / all, minor(1, 1) / all, minor(2, 2) / all])
}
