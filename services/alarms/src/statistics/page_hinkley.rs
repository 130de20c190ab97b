//! Page's test against the running mean: it needs no target.

use super::{Moments, Way};

/// How a [`PageHinkley`] looks; `delta` and `threshold` in the unit of the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PageHinkleySettings {
    /// Readings before it says anything.
    pub least: u64,
    /// Slack around the mean that is no change.
    pub delta: f64,
    /// What must add up beyond that.
    pub threshold: f64,
    /// How much of the sums is kept from reading to reading, 0 to 1.
    pub keep: f64,
}

/// Page's test with the mean of what it has seen as target, both ways; it begins anew after it has found a change. Source:
/// Page 1954, Biometrika 41:100-115, in the form of the Python library river 0.26.1 (`PageHinkley`, mode "both").
///
/// Since the mean creeps after the readings, a change slower than `delta` in the time it has seen is never found: for a
/// known target [`super::Cusum`] is the better chart.
///
/// ```
/// use alarms::statistics::{PageHinkley, PageHinkleySettings, Way};
/// let settings = PageHinkleySettings { least: 10, delta: 0.02, threshold: 1.0, keep: 1.0 };
/// let mut test = PageHinkley::new(settings).unwrap();
/// assert!((0..50).all(|_| test.push(26.0).is_none()));
/// assert_eq!((0..10).find_map(|_| test.push(25.5)), Some(Way::Down));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PageHinkley {
    settings: PageHinkleySettings,
    seen: Moments,
    up: f64,
    down: f64,
    least_up: f64,
    most_down: f64,
}

impl PageHinkley {
    /// `None` for numbers that are negative or not finite, and for a `keep` above 1.
    pub fn new(settings: PageHinkleySettings) -> Option<Self> {
        let PageHinkleySettings { delta, threshold, keep, .. } = settings;
        let sound = [delta, threshold, keep].iter().all(|x| x.is_finite() && *x >= 0.0) && keep <= 1.0;
        sound.then_some(Self::fresh(settings))
    }

    fn fresh(settings: PageHinkleySettings) -> Self {
        let (least_up, most_down) = (f64::INFINITY, f64::NEG_INFINITY);
        Self { settings, seen: Moments::default(), up: 0.0, down: 0.0, least_up, most_down }
    }

    /// Takes a reading in and says which way a change went that it has just found. One that is not finite is left out.
    pub fn push(&mut self, x: f64) -> Option<Way> {
        if !x.is_finite() {
            return None;
        }
        let s = self.settings;
        self.seen.push(x);
        let off = x - self.seen.mean()?;
        self.up = s.keep * self.up + off - s.delta;
        self.down = s.keep * self.down + off + s.delta;
        self.least_up = self.least_up.min(self.up);
        self.most_down = self.most_down.max(self.down);
        let found = self.found().filter(|_| self.seen.count() >= s.least);
        if found.is_some() {
            *self = Self::fresh(s);
        }
        found
    }

    fn found(&self) -> Option<Way> {
        match self.settings.threshold {
            most if self.up - self.least_up > most => Some(Way::Up),
            most if self.most_down - self.down > most => Some(Way::Down),
            _ => None,
        }
    }
}
