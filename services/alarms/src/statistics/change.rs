//! Looking back: where a series changed its level.

/// The most values that are looked at: work grows with the square.
pub const MOST_VALUES: usize = 2_000;

/// Where the level of a series changed: first places of the second and later parts. The parts have the least sum of squares
/// about their own means plus `penalty` (in the unit of the values, squared) for each change; none has fewer than `least`
/// values. The best of all partings, found as PELT finds it but without its short cuts. Source: Killick, Fearnhead & Eckley
/// 2012, JASA 107:1590-1598.
///
/// `None` for values or a penalty that are not finite (leaving some out would move the places), a negative penalty, `least`
/// of 0, fewer than `least` values or more than [`MOST_VALUES`].
///
/// ```
/// use alarms::statistics::change_points;
/// let night: Vec<f64> = (0..20).map(|i| if i < 12 { 26.0 } else { 25.0 }).collect();
/// assert_eq!(change_points(&night, 1.0, 3), Some(vec![12]));
/// assert_eq!(change_points(&night, f64::NAN, 3), None);
/// ```
pub fn change_points(values: &[f64], penalty: f64, least: usize) -> Option<Vec<usize>> {
    let sound = penalty.is_finite() && penalty >= 0.0 && least > 0 && values.iter().all(|x| x.is_finite());
    if !sound || values.len() < least || values.len() > MOST_VALUES {
        return None;
    }
    let sums = sums(values);
    // Of each length: the least cost, and where its last part begins.
    let mut best: Vec<(f64, usize)> = vec![(f64::INFINITY, 0); least];
    best[0].0 = -penalty;
    for end in least..=values.len() {
        let begun = best.iter().take(end + 1 - least).enumerate();
        let costs = begun.map(|(from, (cost, _))| (cost + penalty + squares(&sums, from, end), from));
        best.push(costs.min_by(|a, b| a.0.total_cmp(&b.0))?);
    }
    let mut changes = Vec::new();
    let mut end = values.len();
    while let Some((_, from)) = best.get(end).filter(|(_, from)| *from > 0) {
        changes.push(*from);
        end = *from;
    }
    changes.reverse();
    Some(changes)
}

/// Running sums of the values and of their squares. They are taken about the first value, so that squares of small
/// differences are not lost behind the large level.
fn sums(values: &[f64]) -> Vec<(f64, f64)> {
    let level = values.first().copied().unwrap_or_default();
    let running = values.iter().scan((0.0, 0.0), |(s, q), x| {
        (*s, *q) = (*s + x - level, *q + (x - level) * (x - level));
        Some((*s, *q))
    });
    std::iter::once((0.0, 0.0)).chain(running).collect()
}

/// Sum of squares of the values `from..to` about their mean.
fn squares(sums: &[(f64, f64)], from: usize, to: usize) -> f64 {
    let (Some((s0, q0)), Some((s1, q1))) = (sums.get(from), sums.get(to)) else {
        return f64::INFINITY;
    };
    let s = s1 - s0;
    q1 - q0 - s * s / (to - from) as f64
}
