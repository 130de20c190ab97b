//! Run lengths of the zone tests. The chart itself is the chain: its memory is the state.

use super::normal::below;
use super::solve::solve;
use crate::statistics::WesternElectric;
use std::collections::BTreeMap;

/// Borders between the zones, in standard deviations.
const BORDERS: [f64; 7] = [-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0];

/// Average readings to a signal of some of the four tests of [`WesternElectric`] if the mean is off its target by `shift`
/// standard deviations from the first reading on. Source: Champ & Woodall 1987, Technometrics 29:393-399.
///
/// `None` for a shift that is not finite, and without any test.
///
/// ```
/// use alarms::statistics::run_length::western_electric;
/// assert!((western_electric([1], 0.0).unwrap() - 370.40).abs() < 0.01);
/// assert!((western_electric([1, 4], 0.0).unwrap() - 152.73).abs() < 0.01);
/// ```
pub fn western_electric(tests: impl IntoIterator<Item = u8>, shift: f64) -> Option<f64> {
    let start = WesternElectric::new(tests);
    if !shift.is_finite() || start == WesternElectric::new([]) {
        return None;
    }
    let zones = zones(shift);
    let (mut number, mut states) = (BTreeMap::from([(start, 0)]), vec![start]);
    let mut ways: Vec<Vec<(usize, f64)>> = Vec::new();
    while let Some(state) = states.get(ways.len()).copied() {
        let quiet = zones.iter().filter_map(|(z, p)| next(state, *z).map(|next| (next, *p)));
        let numbered = quiet.map(|(next, p)| {
            let n = *number.entry(next).or_insert_with(|| {
                states.push(next);
                states.len() - 1
            });
            (n, p)
        });
        ways.push(numbered.collect());
    }
    let n = ways.len();
    let rows = ways.iter().enumerate().map(|(i, ways)| {
        let mut row = vec![0.0; n + 1];
        (row[i], row[n]) = (1.0, 1.0);
        ways.iter().for_each(|(to, p)| row[*to] -= p);
        row
    });
    solve(rows.collect())?.first().copied().filter(|length| length.is_finite())
}

/// A point in each zone, and the chance of it.
fn zones(shift: f64) -> Vec<(f64, f64)> {
    let upper = BORDERS.iter().copied().chain([f64::INFINITY]);
    let lower = [f64::NEG_INFINITY].into_iter().chain(BORDERS);
    lower
        .zip(upper)
        .zip(-4..4)
        .map(|((a, b), zone)| (f64::from(zone) + 0.5, below(b - shift) - below(a - shift)))
        .collect()
}

/// What the chart remembers after a point that fails no test.
fn next(mut state: WesternElectric, z: f64) -> Option<WesternElectric> {
    state.push(z).is_empty().then_some(state)
}
