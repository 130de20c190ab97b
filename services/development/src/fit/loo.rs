//! What each model makes of a temperature that it has not seen.

use super::{ModelKind, Observation, curve, line, power, temperatures};

/// Errors of prediction, for each observation from those at other temperatures.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Errors {
    /// ln(predicted / observed), in the order of the observations; `None` where the model could not be fitted to the
    /// rest, or says that nothing develops.
    each: [Vec<Option<f64>>; 3],
}

impl Errors {
    pub(super) fn of(observations: &[Observation]) -> Self {
        let mut each = [const { Vec::new() }; 3];
        for o in observations {
            for kind in ModelKind::ALL {
                each[kind as usize].push(error(kind, observations, o));
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

    /// Mean absolute error in percent of the observed days.
    pub(super) fn percent(&self, kind: ModelKind) -> Option<f64> {
        let all = self.all(kind)?;
        let off = |e: &f64| 100.0 * (e.exp() - 1.0).abs();
        Some(all.iter().map(off).sum::<f64>() / all.len() as f64)
    }
}

/// ln(predicted / observed) of one observation from those at other temperatures.
pub(super) fn error(kind: ModelKind, from: &[Observation], of: &Observation) -> Option<f64> {
    let rest: Vec<Observation> = from.iter().filter(|r| r.celsius != of.celsius).copied().collect();
    let enough = temperatures(&rest).len() >= 2;
    let days = if enough { days(kind, &rest, of.celsius) } else { None };
    days.map(|d| (d / of.days).ln())
}

fn days(kind: ModelKind, rest: &[Observation], celsius: f64) -> Option<f64> {
    match kind {
        ModelKind::Line => line::fit(rest)?.days(celsius),
        ModelKind::Power => power::fit(rest)?.days(celsius),
        ModelKind::Curve => curve::fit(rest)?.days(celsius),
    }
}
