//! The Hampel identifier: a value is an outlier when it is many robust standard deviations from the median around it.

use super::robust::mad;
use std::collections::VecDeque;

/// How a [`Hampel`] looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HampelSettings {
    /// Values it looks at together, 1 to 1,000.
    pub window: usize,
    /// How many of them are newer than the one that is judged, so how late the answer is: 0 judges each value at once, half
    /// of the window (rounded down) has it in the middle, as the filter is published.
    pub behind: usize,
    /// How many standard deviations are too many; 3 is usual (Pearson 2002).
    pub n_sigma: f64,
    /// One step of the probe, in the unit of the values: the standard deviation is never taken to be less. 0 for no floor.
    pub resolution: f64,
}

/// What a [`Hampel`] makes of a value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// The value that was judged.
    pub value: f64,
    /// The median of the window.
    pub median: f64,
    /// Its standard deviation by [`super::Mad::floored`].
    pub spread: f64,
    /// Further from the median than `n_sigma` times that.
    pub outlier: bool,
}

impl Judged {
    /// The value, or the median in place of an outlier.
    pub fn cleaned(self) -> f64 {
        if self.outlier { self.median } else { self.value }
    }
}

/// A filter that takes values one at a time. Source: |x − median| > n · 1.4826 · MAD, Pearson 2002, IEEE Trans. Control
/// Systems Technology 10:55-63.
///
/// It looks at values as they came, outliers too, so that a lasting change is believed once half of the window shows it.
///
/// ```
/// use alarms::statistics::{Hampel, HampelSettings};
/// // The newest of five; 85 °C is what a one-wire thermometer says that has just got power.
/// let settings = HampelSettings { window: 5, behind: 0, n_sigma: 3.0, resolution: 0.0625 };
/// let mut filter = Hampel::new(settings).unwrap();
/// let said: Vec<_> = [26.0, 26.1, 26.0, 26.1, 85.0].into_iter().map(|x| filter.push(x)).collect();
/// assert_eq!(said[3], None); // too few to tell
/// assert!(said[4].unwrap().outlier);
/// assert_eq!(said[4].unwrap().cleaned(), 26.1);
/// ```
#[derive(Debug, Clone)]
pub struct Hampel {
    settings: HampelSettings,
    recent: VecDeque<f64>,
}

impl Hampel {
    /// `None` for a window of 0 or over 1,000, a value to be judged that is not in it, and numbers that are negative or not
    /// finite.
    pub fn new(settings: HampelSettings) -> Option<Self> {
        let fits = (1..=1000).contains(&settings.window) && settings.behind < settings.window;
        let sound = [settings.n_sigma, settings.resolution].iter().all(|x| x.is_finite() && *x >= 0.0);
        (fits && sound).then(|| Self { settings, recent: VecDeque::new() })
    }

    /// Takes a value in and judges the one that came `behind` values before it. `None` while the window is not full, which
    /// leaves the first ones unjudged, and for a value that is not finite, which is left out.
    pub fn push(&mut self, value: f64) -> Option<Judged> {
        if !value.is_finite() {
            return None;
        }
        let s = self.settings;
        self.recent.push_back(value);
        while self.recent.len() > s.window {
            self.recent.pop_front();
        }
        if self.recent.len() < s.window {
            return None;
        }
        let value = *self.recent.iter().rev().nth(s.behind)?;
        let centre = mad(self.recent.make_contiguous())?;
        let spread = centre.floored(s.resolution);
        let outlier = (value - centre.median).abs() > s.n_sigma * spread;
        Some(Judged { value, median: centre.median, spread, outlier })
    }
}
