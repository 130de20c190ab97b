//! What each model makes of a temperature that it has not seen.

use super::power::Shape;
use super::{ModelKind, Observation, curve, line, power, temperatures};

/// Makes a median of absolute values the standard deviation of a normal distribution.
pub(super) const MAD: f64 = 1.4826;

/// The middle one; of an even number the mean of the two. Infinite where there is none.
pub(super) fn median(mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    let upper = all.get(all.len() / 2).copied().unwrap_or(f64::INFINITY);
    let lower = all.len().checked_sub(1).map_or(upper, |last| all[last / 2]);
    0.5 * (lower + upper)
}

/// Errors of prediction, for each observation from those at other temperatures.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Errors {
    /// ln(predicted / observed), in the order of the observations; `None` where the model could not be fitted to the
    /// rest, or says that nothing develops.
    each: [Vec<Option<f64>>; 3],
}

impl Errors {
    pub(super) fn of(observations: &[Observation], shape: Shape) -> Self {
        let mut each = [(); 3].map(|()| vec![None; observations.len()]);
        for t in temperatures(observations) {
            let rest = away_from(observations, t);
            for kind in ModelKind::ALL {
                let days = predicted(kind, &rest, t, shape);
                for (i, o) in observations.iter().enumerate().filter(|(_, o)| o.celsius == t) {
                    each[kind as usize][i] = days.map(|d| (d / o.days).ln());
                }
            }
        }
        Self { each }
    }

    /// The errors of one model, where every observation has one: a model that fails on one is not to be compared.
    pub(super) fn all(&self, kind: ModelKind) -> Option<Vec<f64>> {
        self.each[kind as usize].iter().copied().collect()
    }

    pub(super) fn each(&self, kind: ModelKind) -> &[Option<f64>] {
        &self.each[kind as usize]
    }

    /// Robust standard deviation of the errors of one model.
    pub(super) fn typical(&self, kind: ModelKind) -> Option<f64> {
        self.all(kind).map(|all| MAD * median(all.iter().map(|e| e.abs()).collect()))
    }

    /// Mean absolute error in percent of the observed days.
    pub(super) fn percent(&self, kind: ModelKind) -> Option<f64> {
        let all = self.all(kind)?;
        let off = |e: &f64| 100.0 * (e.exp() - 1.0).abs();
        Some(all.iter().map(off).sum::<f64>() / all.len() as f64)
    }
}

/// ln(predicted / observed) of one observation from those at other temperatures.
pub(super) fn error(kind: ModelKind, from: &[Observation], of: &Observation, shape: Shape) -> Option<f64> {
    let rest = away_from(from, of.celsius);
    predicted(kind, &rest, of.celsius, shape).map(|d| (d / of.days).ln())
}

fn away_from(observations: &[Observation], celsius: f64) -> Vec<Observation> {
    observations.iter().filter(|o| o.celsius != celsius).copied().collect()
}

/// Days at a temperature by the others; `None` where they are at fewer than two temperatures.
fn predicted(kind: ModelKind, rest: &[Observation], celsius: f64, shape: Shape) -> Option<f64> {
    if temperatures(rest).len() < 2 {
        return None;
    }
    match kind {
        ModelKind::Line => line::fit(rest)?.days(celsius),
        ModelKind::Power => power::fit(rest, shape)?.days(celsius),
        ModelKind::Curve => curve::fit(rest)?.days(celsius),
    }
}
