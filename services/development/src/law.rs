//! How fast eggs develop at a temperature, and sums of that along a trace.

use crate::integral::{clipped_mean, share_under};
use crate::species::Species;

/// Share of what the straight line says beyond the calibrated range that is doubted: a planning value.
///
/// Beyond the range the line is known to go wrong (weatherfish at 9 °C came out wrong by a factor of 3 from a line
/// fitted on 12 to 24 °C). The likeliest time follows the line all the same; the earliest time takes half of the
/// slowing below the range away, and the latest half of the speeding above it.
pub const EXTRAPOLATION_DOUBT: f64 = 0.5;

/// Which edge of the window a sum serves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Edge {
    Likeliest,
    Earliest,
    Latest,
}

/// Which base temperature: low, likely, high.
pub(crate) const LOW: usize = 0;
pub(crate) const LIKELY: usize = 1;
pub(crate) const HIGH: usize = 2;

const FIELDS: usize = 15;
const READ: usize = 9;
const WARMTH: usize = 10;
const UNREAD: usize = 11;
const BELOW: usize = 12;
const ABOVE: usize = 13;
const STILL: usize = 14;

/// Everything that is summed along a course; plain numbers, so that a stretch is the difference of two.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Sums([f64; FIELDS]);

impl Sums {
    /// Degree-days (°C·d) for one edge and base temperature.
    pub(crate) fn degree_days(&self, edge: Edge, base: usize) -> f64 {
        self.0[slot(edge, base)]
    }
    /// Mean temperature (°C) of what was read; `None` where nothing was.
    pub(crate) fn mean(&self) -> Option<f64> {
        // Half a millisecond in days: less is rounding.
        (self.0[READ] > 5e-9).then(|| self.0[WARMTH] / self.0[READ])
    }
    /// Days without a reading.
    pub(crate) fn unread(&self) -> f64 {
        self.0[UNREAD]
    }
    /// Days read below the calibrated range.
    pub(crate) fn below(&self) -> f64 {
        self.0[BELOW]
    }
    /// Days read above the calibrated range.
    pub(crate) fn above(&self) -> f64 {
        self.0[ABOVE]
    }
    /// Days read under the likely base temperature.
    pub(crate) fn still(&self) -> f64 {
        self.0[STILL]
    }
    /// The same stretch, not counted as one without a reading.
    pub(crate) fn counted_as_read(mut self) -> Self {
        self.0[UNREAD] = 0.0;
        self
    }
    pub(crate) fn plus(mut self, other: &Self) -> Self {
        self.0.iter_mut().zip(other.0).for_each(|(a, b)| *a += b);
        self
    }
    pub(crate) fn minus(mut self, other: &Self) -> Self {
        self.0.iter_mut().zip(other.0).for_each(|(a, b)| *a -= b);
        self
    }
}

fn slot(edge: Edge, base: usize) -> usize {
    base + match edge {
        Edge::Likeliest => 0,
        Edge::Earliest => 3,
        Edge::Latest => 6,
    }
}

/// The straight-line law of one species: rate 0 at the base temperature, level above the cap.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Law {
    bases: [f64; 3],
    cap: f64,
    trusted: (f64, f64),
}

impl Law {
    pub(crate) fn of(species: &Species) -> Self {
        let trusted = species.calibrated.map_or((f64::NEG_INFINITY, f64::INFINITY), |b| (b.low, b.high));
        Self { bases: species.base.all(), cap: species.cap.unwrap_or(f64::INFINITY), trusted }
    }

    /// Mean speed (°C·d per day) along a straight line of temperature.
    pub(crate) fn speed(&self, a: f64, b: f64, edge: Edge, base: usize) -> f64 {
        let t0 = self.bases[base];
        let clip = |low: f64, high: f64| clipped_mean(a, b, low.max(t0), high.max(low).max(t0)) - t0;
        let line = clip(t0, self.cap);
        let held = match edge {
            Edge::Likeliest => return line,
            Edge::Earliest => clip(self.trusted.0, self.cap),
            Edge::Latest => clip(t0, self.cap.min(self.trusted.1)),
        };
        line + EXTRAPOLATION_DOUBT * (held - line)
    }

    /// Sums of a stretch that was read: `days` long, straight from `a` to `b`.
    pub(crate) fn read(&self, a: f64, b: f64, days: f64) -> Sums {
        let mut sums = Sums::default();
        self.develop(&mut sums, Edge::Likeliest, a, b, days);
        let inside = a.min(b) >= self.trusted.0 && a.max(b) <= self.trusted.1;
        for edge in [Edge::Earliest, Edge::Latest] {
            if inside {
                (0..3).for_each(|k| sums.0[slot(edge, k)] = sums.0[k]);
            } else {
                self.develop(&mut sums, edge, a, b, days);
            }
        }
        sums.0[READ] = days;
        sums.0[WARMTH] = 0.5 * (a + b) * days;
        sums.0[BELOW] = share_under(a, b, self.trusted.0) * days;
        sums.0[ABOVE] = share_under(-a, -b, -self.trusted.1) * days;
        sums.0[STILL] = share_under(a, b, self.bases[LIKELY]) * days;
        sums
    }

    /// Sums of a stretch that was not read, taken at `celsius`, which `doubt` (°C) either way could hide.
    pub(crate) fn unread(&self, celsius: f64, doubt: f64, days: f64) -> Sums {
        let mut sums = Sums::default();
        for (edge, t) in
            [(Edge::Likeliest, celsius), (Edge::Earliest, celsius + doubt), (Edge::Latest, celsius - doubt)]
        {
            self.develop(&mut sums, edge, t, t, days);
        }
        sums.0[UNREAD] = days;
        sums
    }

    fn develop(&self, sums: &mut Sums, edge: Edge, a: f64, b: f64, days: f64) {
        for base in [LOW, LIKELY, HIGH] {
            sums.0[slot(edge, base)] = self.speed(a, b, edge, base) * days;
        }
    }
}
