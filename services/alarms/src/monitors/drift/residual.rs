//! What is left of a course without its level and its daily shape, and how wide that is.

use super::limit::{A_DAY, LAMBDA};
use crate::statistics::{half_width, mad, median};

/// How many half hours of a day make a level, and how many days a shape. Planning values.
const LEAST_LEVEL: usize = 24;
const LEAST_DAYS: usize = 2;
/// How many residuals make a spread: half a day. A planning value.
const LEAST_SPREAD: usize = 24;
/// Beyond so many standard deviations a residual is held. A planning value.
const WILD: f64 = 3.0;

/// One half hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Left {
    /// What was expected, °C.
    pub(super) expected: f64,
    /// What was found beyond it, K.
    pub(super) by: f64,
    /// The same half hour of earlier days was known.
    pub(super) daily: bool,
}

/// Each half hour against the level of the 24 h before it and against how the same half hour of earlier days stood to
/// its level.
pub(super) fn left(medians: &[Option<f64>]) -> Vec<Option<Left>> {
    let above: Vec<Option<(f64, f64)>> = (0..medians.len()).map(|i| above_level(medians, i)).collect();
    (0..medians.len()).map(|i| one(&above, i)).collect()
}

/// The level before a half hour, and how far it lies above that.
fn above_level(medians: &[Option<f64>], i: usize) -> Option<(f64, f64)> {
    let known: Vec<f64> = medians.get(i.saturating_sub(A_DAY)..i)?.iter().copied().flatten().collect();
    let value = (*medians.get(i)?)?;
    let level = (known.len() >= LEAST_LEVEL).then(|| median(known))??;
    Some((level, value - level))
}

fn one(above: &[Option<(f64, f64)>], i: usize) -> Option<Left> {
    let (level, above_it) = (*above.get(i)?)?;
    let days: Vec<f64> =
        (1..=i / A_DAY).filter_map(|d| (*above.get(i - d * A_DAY)?).map(|(_, above)| above)).collect();
    let daily = days.len() >= LEAST_DAYS;
    let shape = if daily { median(days)? } else { 0.0 };
    Some(Left { expected: level + shape, by: above_it - shape, daily })
}

/// Standard deviation of the smoothed residuals, K: as worked out from that of the residuals, which is at least a step of
/// the probe, and never less than what they were seen to do: weather lasts longer than a row of first order remembers.
pub(super) fn smoothed_spread(residuals: &[Option<f64>], step: f64) -> Option<f64> {
    let known: Vec<f64> = residuals.iter().copied().flatten().collect();
    if known.len() < LEAST_SPREAD {
        return None;
    }
    let sigma = mad(&known)?.floored(step);
    let most = WILD * sigma;
    Some(worked_out(residuals, sigma, most)?.max(seen(&known, most)))
}

/// That of a residual, smoothed, and widened for how much each half hour resembles the last, or narrowed where a heater's
/// cycle makes it the opposite. For a row of first order the variance of an EWMA grows by (1 + φ(1−λ)) / (1 − φ(1−λ)):
/// Schmid 1997 (from memory, checked by simulation below).
fn worked_out(residuals: &[Option<f64>], sigma: f64, most: f64) -> Option<f64> {
    let kept = alike(residuals, most).clamp(-0.95, 0.95) * (1.0 - LAMBDA);
    Some(half_width(LAMBDA, 1.0, sigma, None)? * ((1.0 + kept) / (1.0 - kept)).sqrt())
}

/// Root mean square of the smoothed residuals, those beyond `most` held there. Few of a week's are independent of each
/// other, so a median of them would be too small too often.
fn seen(residuals: &[f64], most: f64) -> f64 {
    let (mut z, mut squares) = (0.0, 0.0);
    for residual in residuals {
        z += LAMBDA * (residual.clamp(-most, most) - z);
        squares += z * z;
    }
    (squares / residuals.len().max(1) as f64).sqrt()
}

/// Correlation of each residual with the next, those beyond `most` held there.
fn alike(residuals: &[Option<f64>], most: f64) -> f64 {
    let held = |r: &Option<f64>| r.map(|r| r.clamp(-most, most));
    let pairs = residuals.windows(2).filter_map(|w| Some((held(w.first()?)?, held(w.last()?)?)));
    let (mut both, mut squares) = (0.0, 0.0);
    for (a, b) in pairs {
        both += a * b;
        squares += (a * a + b * b) / 2.0;
    }
    if squares > 0.0 { both / squares } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers of a row of first order, of variance 1: each is `kept` times the last and something new. New is a sum of
    /// twelve even numbers of a linear congruential generator (Knuth's MMIX figures), which is near enough to normal.
    fn row(kept: f64, len: usize) -> Vec<f64> {
        let (mut seed, mut last) = (7_u64, 0.0);
        let mut even = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 11) as f64 / (1_u64 << 53) as f64
        };
        let mut next = || {
            let new = (0..12).map(|_| even()).sum::<f64>() - 6.0;
            last = kept * last + (1.0 - kept * kept).sqrt() * new;
            last
        };
        (0..len).map(|_| next()).collect()
    }

    /// Against what an EWMA of such a row was seen to do.
    #[test]
    fn the_spread_of_what_resembles_itself() {
        for kept in [-0.5, 0.0, 0.3, 0.6, 0.8] {
            let row = row(kept, 50_000);
            let held: Vec<Option<f64>> = row.iter().copied().map(Some).collect();
            let found = worked_out(&held, 1.0, f64::INFINITY).unwrap();
            let was = seen(&row, f64::INFINITY);
            let plain = half_width(LAMBDA, 1.0, 1.0, None).unwrap();
            println!("each resembles the last by {kept}: {found:.4}, seen {was:.4}, without that {plain:.4}");
            assert!((found / was - 1.0).abs() < 0.05, "{kept}: {found} and {was}");
        }
    }

    #[test]
    fn a_probe_that_repeats_itself_is_as_exact_as_its_step() {
        let still = vec![Some(0.0); 100];
        assert!((smoothed_spread(&still, 0.0625).unwrap() - 0.0625 / 3.0).abs() < 1e-6);
        assert_eq!(smoothed_spread(&still[..20], 0.0625), None);
    }

    #[test]
    fn a_day_like_the_last_ones_leaves_nothing() {
        let day = |i: usize| (i as f64 / A_DAY as f64 * std::f64::consts::TAU).sin();
        let found = left(&(0..6 * A_DAY).map(|i| Some(26.0 + day(i))).collect::<Vec<_>>());
        let last = found.last().unwrap().unwrap();
        assert!(
            last.daily && last.by.abs() < 1e-9 && (last.expected - 26.0 - day(6 * A_DAY - 1)).abs() < 1e-9
        );
        assert_eq!(found[23], None);
        assert!(found[36 + A_DAY].is_some_and(|l| !l.daily && l.by.abs() > 0.05), "no earlier days yet");
    }
}
