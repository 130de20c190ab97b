//! The tabular CUSUM: what has added up beyond a slack, to either side of a target.

use super::Way;

/// A two-sided CUSUM, in the unit of the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumSettings {
    /// Where the readings should be.
    pub target: f64,
    /// Slack: half of the shift that matters, usually half a standard deviation.
    pub k: f64,
    /// Decision interval: a sum beyond it is a signal. [`super::run_length::limit_for`] finds it, in standard deviations.
    pub h: f64,
    /// Where both sums start. 0 is plain; `h / 2` is the fast initial response (FIR) of Lucas & Crosier 1982, for a chart
    /// that is started when something may be wrong already.
    pub head_start: f64,
}

/// A [`Cusum`] after a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumPoint {
    /// Sum of what was above target + k, never below 0.
    pub high: f64,
    /// Sum of what was below target − k, never below 0.
    pub low: f64,
    /// For how many readings `high` has been above 0: counted back from a signal, the change began after that.
    pub for_high: u32,
    /// The same for `low`.
    pub for_low: u32,
    /// Plain sum of the deviations from the target since the start.
    pub sum: f64,
    /// Which sum is beyond `h`; the larger if both are.
    pub signal: Option<Way>,
}

/// A tabular CUSUM that takes readings one at a time. It goes on after a signal until it is told to [`Cusum::restart`].
/// Source: NIST/SEMATECH e-Handbook 6.3.2.3; Page 1954, Biometrika 41:100-115.
///
/// ```
/// use alarms::statistics::{Cusum, CusumSettings, Way};
/// let mut chart = Cusum::new(CusumSettings { target: 26.0, k: 0.05, h: 0.5, head_start: 0.0 }).unwrap();
/// assert_eq!(chart.push(26.02).unwrap().signal, None);
/// let last = (0..4).filter_map(|_| chart.push(26.2)).last().unwrap();
/// assert_eq!((last.signal, last.for_high), (Some(Way::Up), 4));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cusum {
    settings: CusumSettings,
    now: CusumPoint,
}

impl Cusum {
    /// `None` for numbers that are not finite, a negative slack or head start, or a decision interval that is not positive.
    pub fn new(settings: CusumSettings) -> Option<Self> {
        let CusumSettings { target, k, h, head_start } = settings;
        let finite = [target, k, h, head_start].iter().all(|x| x.is_finite());
        (finite && k >= 0.0 && h > 0.0 && head_start >= 0.0)
            .then(|| Self { settings, now: Self::start(head_start) })
    }

    fn start(head_start: f64) -> CusumPoint {
        CusumPoint { high: head_start, low: head_start, for_high: 0, for_low: 0, sum: 0.0, signal: None }
    }

    /// Takes a reading in. `None` for one that is not finite, which is left out.
    pub fn push(&mut self, x: f64) -> Option<CusumPoint> {
        if !x.is_finite() {
            return None;
        }
        let s = self.settings;
        let (off, before) = (x - s.target, self.now);
        let (high, low) = ((before.high + off - s.k).max(0.0), (before.low - off - s.k).max(0.0));
        let counted = |sum: f64, n: u32| if sum > 0.0 { n.saturating_add(1) } else { 0 };
        self.now = CusumPoint {
            high,
            low,
            for_high: counted(high, before.for_high),
            for_low: counted(low, before.for_low),
            sum: before.sum + off,
            signal: (high.max(low) > s.h).then_some(if high >= low { Way::Up } else { Way::Down }),
        };
        Some(self.now)
    }

    /// Begins anew, with the head start: for after a signal was acted on.
    pub fn restart(&mut self) {
        self.now = Self::start(self.settings.head_start);
    }
}

/// Decision interval from the risks of a V-mask: h = k · (2/δ²) · ln((1 − β) / (α/2)), in the unit of `k`. `delta_sigma` is
/// the shift to find in standard deviations, `alpha` the risk of a false signal, `beta` that of a missed one. Source:
/// NIST/SEMATECH e-Handbook 6.3.2.3. [`super::run_length::limit_for`] is more exact.
///
/// `None` unless `delta_sigma` and `k` are positive, 0 < α < 1 and 0 ≤ β < 1.
///
/// ```
/// # use alarms::statistics::decision_interval;
/// assert!((decision_interval(1.0, 0.3175, 0.0027, 0.0).unwrap() - 4.1959).abs() < 1e-4);
/// ```
pub fn decision_interval(delta_sigma: f64, k: f64, alpha: f64, beta: f64) -> Option<f64> {
    let risks = alpha > 0.0 && alpha < 1.0 && (0.0..1.0).contains(&beta);
    let h = k * 2.0 / (delta_sigma * delta_sigma) * ((1.0 - beta) / (alpha / 2.0)).ln();
    (risks && delta_sigma > 0.0 && k > 0.0 && h.is_finite() && h > 0.0).then_some(h)
}
