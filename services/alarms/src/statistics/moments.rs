//! Mean and standard deviation as values come: what a chart's target and sigma are learnt from.

/// Count, mean and standard deviation of the values so far. Source: Welford 1962, Technometrics 4:419-420.
///
/// ```
/// use alarms::statistics::Moments;
/// let mut calm = Moments::default();
/// [26.0, 26.2, f64::NAN, 26.1].into_iter().for_each(|x| calm.push(x));
/// assert_eq!(calm.count(), 3);
/// assert!((calm.mean().unwrap() - 26.1).abs() < 1e-9 && (calm.sd().unwrap() - 0.1).abs() < 1e-9);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Moments {
    count: u64,
    mean: f64,
    squares: f64,
}

impl Moments {
    /// Takes a value in; one that is not finite is left out.
    pub fn push(&mut self, value: f64) {
        if !value.is_finite() {
            return;
        }
        self.count += 1;
        let off = value - self.mean;
        self.mean += off / self.count as f64;
        self.squares += off * (value - self.mean);
    }

    /// How many were taken in.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// `None` before the first.
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then_some(self.mean)
    }

    /// Of a sample (n − 1); `None` before the second.
    pub fn sd(&self) -> Option<f64> {
        (self.count > 1).then(|| (self.squares / (self.count - 1) as f64).sqrt())
    }
}
