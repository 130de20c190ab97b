//! The power law: ln days = ln a + b ln(T − c).

use super::{Observation, temperatures};
use serde::Serialize;

/// A power law of the days.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PowerFit {
    /// Logarithm of the days at one degree over `c`.
    pub ln_a: f64,
    /// The power; −1 is the straight line. With fewer than six temperatures it is given, −2.
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
    /// Of b; 0 where it is given.
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

/// Temperatures from which on the power is sought too: leave one out, and five remain for three parameters.
const FEWEST_FREE: usize = 6;
/// The power where it is not sought: the root of the rate is then a straight line of temperature, as Ratkowsky et al. 1982
/// (J. Bacteriol. 149:1-5, memory) have it for bacteria. Powers published for fish lie about it: −2.04 chinook (Beacham &
/// Murray 1990), −2.10 rainbow trout and −2.66 Atlantic salmon (Crisp 1981), all from memory.
const GIVEN: f64 = -2.0;

/// Whether the power itself is sought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    Given,
    Free,
}

impl Shape {
    /// What that many observations can carry; the same holds while one after another is left out.
    pub(super) fn of(observations: &[Observation]) -> Self {
        if temperatures(observations).len() < FEWEST_FREE { Self::Given } else { Self::Free }
    }

    fn parameters(self) -> usize {
        match self {
            Self::Given => 2,
            Self::Free => 3,
        }
    }
}

/// How far `c` may lie under the coldest observation, °C: nearer the law has no bound, further it is an exponential.
const NEAREST: f64 = 0.05;
const FURTHEST: f64 = 80.0;
const STEPS: u32 = 60;

/// Least squares of ln days. For each `c` the rest is a straight line; `c` is sought on a grid and then closed in on.
pub(super) fn fit(observations: &[Observation], shape: Shape) -> Option<PowerFit> {
    let points: Vec<(f64, f64)> = observations.iter().map(|o| (o.celsius, o.days.ln())).collect();
    let all = temperatures(observations);
    if all.len() < shape.parameters() {
        return None;
    }
    let coldest = all[0];
    let left = |ln_u: f64| straight(&points, coldest - ln_u.exp(), shape).map_or(f64::INFINITY, |s| s.left);
    let (from, to) = (NEAREST.ln(), FURTHEST.ln());
    let step = (to - from) / f64::from(STEPS);
    let grid: Vec<f64> = (0..=STEPS).map(|i| left(from + step * f64::from(i))).collect();
    let best = (0..=STEPS).min_by(|a, b| grid[*a as usize].total_cmp(&grid[*b as usize]))?;
    let at = from + step * f64::from(best);
    let c = coldest - closed_in(left, (at - step).max(from), (at + step).min(to)).exp();
    let s = straight(&points, c, shape).filter(|s| s.b < 0.0)?;
    Some(PowerFit { ln_a: s.ln_a, b: s.b, c, standard_errors: errors(observations, &s, c, shape) })
}

struct Straight {
    ln_a: f64,
    b: f64,
    left: f64,
}

/// The straight line of ln days on ln(T − c), its slope sought or given.
fn straight(points: &[(f64, f64)], c: f64, shape: Shape) -> Option<Straight> {
    let n = points.len() as f64;
    let on: Vec<(f64, f64)> = points.iter().map(|(t, y)| ((t - c).ln(), *y)).collect();
    let mean = |f: fn(&(f64, f64)) -> f64| on.iter().map(f).sum::<f64>() / n;
    let (mx, my) = (mean(|p| p.0), mean(|p| p.1));
    let b = match shape {
        Shape::Given => GIVEN,
        Shape::Free => {
            let wide: f64 = on.iter().map(|p| (p.0 - mx).powi(2)).sum();
            on.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum::<f64>() / wide
        }
    };
    let ln_a = my - b * mx;
    let left = on.iter().map(|p| (p.1 - ln_a - b * p.0).powi(2)).sum();
    b.is_finite().then_some(Straight { ln_a, b, left })
}

/// Golden section.
fn closed_in(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut a, mut b) = (high - golden * (high - low), low + golden * (high - low));
    let (mut at_a, mut at_b) = (f(a), f(b));
    while high - low > 1e-9 {
        if at_a <= at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - golden * (high - low);
            at_a = f(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + golden * (high - low);
            at_b = f(b);
        }
    }
    0.5 * (low + high)
}

/// From the inverse of JᵀJ, J being the derivatives of ln days by ln a, c and, where it is sought, b.
fn errors(observations: &[Observation], s: &Straight, c: f64, shape: Shape) -> Option<PowerErrors> {
    let free = observations.len() as f64 - shape.parameters() as f64;
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
    if shape == Shape::Given {
        m[1] = [0.0, 1.0, 0.0];
        (m[0][1], m[2][1]) = (0.0, 0.0);
    }
    let diagonal = inverse_diagonal(&m)?;
    let error = |i: usize| (diagonal[i] * s.left / free).sqrt();
    let b = if shape == Shape::Given { 0.0 } else { error(1) };
    Some(PowerErrors { ln_a: error(0), b, c: error(2) })
}

fn inverse_diagonal(m: &[[f64; 3]; 3]) -> Option<[f64; 3]> {
    let minor = |i: usize, j: usize| {
        let (r, c) = ([(i + 1) % 3, (i + 2) % 3], [(j + 1) % 3, (j + 2) % 3]);
        m[r[0]][c[0]] * m[r[1]][c[1]] - m[r[0]][c[1]] * m[r[1]][c[0]]
    };
    let all = m[0][0] * minor(0, 0) + m[0][1] * minor(0, 1) + m[0][2] * minor(0, 2);
    (all.abs() > 1e-300).then(|| [minor(0, 0) / all, minor(1, 1) / all, minor(2, 2) / all])
}
