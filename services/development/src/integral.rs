//! Exact integrals of a clipped straight line.

use units::Time;

/// Mean of the straight line from `a` to `b` after clipping every point of it to `low..=high` (°C).
///
/// Clipping the line and not its ends is the point: water that swings through the base temperature develops eggs
/// for part of the swing, which a clipped mean would miss.
pub(crate) fn clipped_mean(a: f64, b: f64, low: f64, high: f64) -> f64 {
    let (a, b) = if a <= b { (a, b) } else { (b, a) };
    if b <= low {
        return low;
    }
    if a >= high {
        return high;
    }
    let under = share_under(a, b, low);
    let over = 1.0 - share_under(a, b, high);
    let part = |share: f64, level: f64| if share > 0.0 { share * level } else { 0.0 };
    part(under, low) + part(over, high) + (1.0 - under - over) * 0.5 * (a.max(low) + b.min(high))
}

/// Share of the straight line from `a` to `b` that lies under `level`, 0 to 1.
pub(crate) fn share_under(a: f64, b: f64, level: f64) -> f64 {
    let (a, b) = if a <= b { (a, b) } else { (b, a) };
    if b <= level {
        // A line that lies on the level is not under it.
        return if a < level { 1.0 } else { 0.0 };
    }
    if a >= level { 0.0 } else { (level - a) / (b - a) }
}

/// Degree-days (°C·d) above the base temperature `t0` (°C) of a temperature trace, straight lines between its
/// points, clipped at `t0` and at `cap` (°C) inside each line. Exact but for rounding.
///
/// `trace` is in order of time; two points at one time make a step. Fewer than two points give 0.
///
/// ```
/// use development::degree_days;
/// use units::{Span, Time};
/// let at = |hours, celsius| (Time::from_millis(0) + Span::hours(hours), celsius);
/// // Half of the swing from 14 to 22 °C lies above 18 °C, on average 2 °C above it.
/// assert_eq!(degree_days(&[at(0, 14.0), at(24, 22.0)], 18.0, None), 1.0);
/// ```
pub fn degree_days(trace: &[(Time, f64)], t0: f64, cap: Option<f64>) -> f64 {
    let high = cap.unwrap_or(f64::INFINITY).max(t0);
    trace
        .windows(2)
        .map(|w| (clipped_mean(w[0].1, w[1].1, t0, high) - t0) * (w[1].0 - w[0].0).as_days())
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_inside_its_limits_keeps_its_plain_mean() {
        assert_eq!(clipped_mean(20.0, 26.0, 18.0, 32.0), 23.0);
        assert_eq!(clipped_mean(26.0, 20.0, 18.0, f64::INFINITY), 23.0);
    }

    #[test]
    fn a_line_through_a_limit_is_clipped_where_it_crosses() {
        // 16 to 20 through 18: half at 18, half averaging 19.
        assert_eq!(clipped_mean(16.0, 20.0, 18.0, f64::INFINITY), 18.5);
        // 28 to 36 through 32: half averaging 30, half at 32.
        assert_eq!(clipped_mean(28.0, 36.0, 18.0, 32.0), 31.0);
        assert_eq!(clipped_mean(10.0, 12.0, 18.0, 32.0), 18.0);
        assert_eq!(clipped_mean(40.0, 40.0, 18.0, 32.0), 32.0);
    }

    #[test]
    fn the_share_under_a_level_counts_only_what_is_strictly_under() {
        assert_eq!(share_under(26.0, 26.0, 26.0), 0.0);
        assert_eq!(share_under(24.0, 28.0, 25.0), 0.25);
        assert_eq!(share_under(28.0, 24.0, 25.0), 0.25);
        assert_eq!(share_under(20.0, 26.0, 26.0), 1.0);
    }
}
