//! The EWMA chart: readings smoothed with a memory that fades, and how far that may be from the target.

use super::Way;
use serde::{Deserialize, Serialize};

/// How the limits of a young chart are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Limits {
    /// As narrow as the few readings so far allow: quick to see what is wrong from the start.
    Exact,
    /// Those of a chart that has run for ever. Run lengths are worked out for these.
    Asymptotic,
}

/// An EWMA chart; target and sigma in the unit of the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaSettings {
    /// Where the readings should be, and where the chart starts.
    pub target: f64,
    /// Standard deviation of a reading.
    pub sigma: f64,
    /// Weight of the newest reading, above 0 and up to 1.
    pub lambda: f64,
    /// Half width of the limits in standard deviations of the smoothed value. [`super::run_length::limit_for`] finds it.
    pub limit: f64,
    /// Which limits.
    pub limits: Limits,
}

/// An [`Ewma`] after a reading, in the unit of the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaPoint {
    /// The smoothed value.
    pub z: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Which limit it is beyond.
    pub signal: Option<Way>,
}

/// An EWMA chart that takes readings one at a time; it goes on after a signal. Source: Lucas & Saccucci 1990, Technometrics
/// 32:1-12; NIST/SEMATECH e-Handbook 6.3.2.4.
///
/// ```
/// use alarms::statistics::{Ewma, EwmaSettings, Limits, Way};
/// let settings = EwmaSettings { target: 26.0, sigma: 0.1, lambda: 0.2, limit: 3.0, limits: Limits::Asymptotic };
/// let mut chart = Ewma::new(settings).unwrap();
/// let first = chart.push(25.9).unwrap();
/// assert!((first.z - 25.98).abs() < 1e-9 && (first.low - 25.9).abs() < 1e-9 && first.signal.is_none());
/// assert_eq!((0..6).filter_map(|_| chart.push(25.8)).last().unwrap().signal, Some(Way::Down));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ewma {
    settings: EwmaSettings,
    z: f64,
    readings: u32,
}

impl Ewma {
    /// `None` for numbers that are not finite, a sigma or limit that is not positive, or a weight outside (0, 1].
    pub fn new(settings: EwmaSettings) -> Option<Self> {
        let sound = settings.target.is_finite()
            && half_width(settings.lambda, settings.limit, settings.sigma, None).is_some_and(|w| w > 0.0);
        sound.then_some(Self { settings, z: settings.target, readings: 0 })
    }

    /// Takes a reading in. `None` for one that is not finite, which is left out.
    pub fn push(&mut self, x: f64) -> Option<EwmaPoint> {
        if !x.is_finite() {
            return None;
        }
        let s = self.settings;
        self.readings = self.readings.saturating_add(1);
        self.z += s.lambda * (x - self.z);
        let young = (s.limits == Limits::Exact).then_some(self.readings);
        let width = half_width(s.lambda, s.limit, s.sigma, young)?;
        let (low, high) = (s.target - width, s.target + width);
        let signal = match self.z {
            z if z > high => Some(Way::Up),
            z if z < low => Some(Way::Down),
            _ => None,
        };
        Some(EwmaPoint { z: self.z, low, high, signal })
    }

    /// Begins anew at the target.
    pub fn restart(&mut self) {
        (self.z, self.readings) = (self.settings.target, 0);
    }
}

/// Half width of the limits, in the unit of `sigma`: L σ √(λ/(2−λ) · (1 − (1−λ)²ⁱ)) after `i` readings, or without the last
/// factor for `None`. Source: Lucas & Saccucci 1990.
///
/// `None` for a weight outside (0, 1] and for a negative or endless `limit` or `sigma`.
///
/// ```
/// # use alarms::statistics::half_width;
/// assert!((half_width(0.3, 3.0, 1.0, Some(1)).unwrap() - 0.9).abs() < 1e-12);
/// ```
pub fn half_width(lambda: f64, limit: f64, sigma: f64, readings: Option<u32>) -> Option<f64> {
    let sound = lambda > 0.0 && lambda <= 1.0 && limit >= 0.0 && sigma >= 0.0;
    let grown = readings.map_or(1.0, |i| 1.0 - (1.0 - lambda).powf(2.0 * f64::from(i)));
    let width = limit * sigma * (lambda / (2.0 - lambda) * grown).sqrt();
    (sound && width.is_finite()).then_some(width)
}
