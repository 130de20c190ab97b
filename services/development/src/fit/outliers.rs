//! Observations that cannot be right: slips that stand in tables.

use super::loo::{self, Errors, MAD, median};
use super::power::Shape;
use super::{FEWEST, ModelKind, Observation, temperatures};

/// Fewest observations among which one can be told to be wrong.
const AMONG: usize = 5;
/// At most one of so many is left out.
const ONE_OF: usize = 4;
/// An error is suspicious over this (of the logarithm, about a quarter of the days) …
const OFF: f64 = 0.22;
/// … and over so many times the usual error.
const TIMES: f64 = 4.0;
/// Among more than so many one slip hardly moves what is usual, so all are judged by the errors of all.
const MANY: usize = 20;

/// What to use, and what was left out: one after the other, the worst that no model can make fit with the rest.
pub(super) fn sorted_out(observations: &[Observation], shape: Shape) -> (Vec<Observation>, Vec<Observation>) {
    let (mut used, mut left_out) = (observations.to_vec(), Vec::new());
    while used.len() >= AMONG && left_out.len() < observations.len() / ONE_OF {
        let Some(worst) = worst(&used, shape) else { break };
        let without: Vec<Observation> =
            used.iter().enumerate().filter(|(i, _)| *i != worst).map(|(_, o)| *o).collect();
        if temperatures(&without).len() < FEWEST {
            break;
        }
        left_out.push(used[worst]);
        used = without;
    }
    (used, left_out)
}

/// The observation that errs most from what the others say, if that is suspicious in every model that can tell.
fn worst(used: &[Observation], shape: Shape) -> Option<usize> {
    let whole = (used.len() > MANY).then(|| Errors::of(used, shape));
    let judged = (0..used.len()).filter_map(|i| Some((i, suspicion(used, i, whole.as_ref(), shape)?)));
    judged.filter(|(_, times)| *times > 1.0).max_by(|a, b| a.1.total_cmp(&b.1)).map(|(i, _)| i)
}

/// How many times over the limit one lies in the model that takes it best. The limit is that of the others among
/// themselves, so that a gross slip does not hide itself.
fn suspicion(used: &[Observation], i: usize, whole: Option<&Errors>, shape: Shape) -> Option<f64> {
    let others: Vec<Observation> =
        used.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, o)| *o).collect();
    let among_themselves = whole.is_none().then(|| Errors::of(&others, shape));
    let usual = whole.or(among_themselves.as_ref())?;
    let ends = temperatures(&others);
    let inside = ends.first()? <= &used[i].celsius && ends.last()? >= &used[i].celsius;
    // Beyond what the others have seen every model goes astray sooner.
    let allowed = if inside { 1.0 } else { 2.0 };
    let judged: Vec<f64> = ModelKind::ALL
        .iter()
        .filter_map(|kind| {
            let own = match whole {
                Some(all) => all.each(*kind)[i],
                None => loo::error(*kind, &others, &used[i], shape),
            };
            Some(own?.abs() / limit(usual.each(*kind)) / allowed)
        })
        .collect();
    (judged.len() > 1).then(|| judged.into_iter().fold(f64::INFINITY, f64::min))
}

/// The error over which one is suspicious.
fn limit(errors: &[Option<f64>]) -> f64 {
    OFF.max(TIMES * MAD * median(errors.iter().flatten().map(|e| e.abs()).collect()))
}
