//! How fast eggs develop at a temperature, and sums of that along a trace.

use crate::fit::CurveFit;
use crate::integral::{clipped_mean, share_under};
use crate::species::{Form, Species};

/// Share of what the law says beyond the calibrated range that is doubted: a planning value.
///
/// Beyond the range a law is known to go wrong (weatherfish at 9 °C came out wrong by a factor of 3 from a line
/// fitted on 12 to 24 °C). The likeliest time follows the law all the same; half of the slowing below the range, and
/// half of the speeding above it, widen the window.
pub const EXTRAPOLATION_DOUBT: f64 = 0.5;

/// Which base temperature: low, likely, high.
pub(crate) const LOW: usize = 0;
pub(crate) const LIKELY: usize = 1;
pub(crate) const HIGH: usize = 2;

const FIELDS: usize = 13;
const SOONER: usize = 3;
const LATER: usize = 4;
const PER_DEGREE: usize = 5;
const HIDDEN: usize = 6;
const READ: usize = 7;
const WARMTH: usize = 8;
const UNREAD: usize = 9;
const BELOW: usize = 10;
const ABOVE: usize = 11;
const STILL: usize = 12;

/// Everything that is summed along a course; plain numbers, so that a stretch is the difference of two.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Sums([f64; FIELDS]);

impl Sums {
    /// Degree-days (°C·d) above one base temperature.
    pub(crate) fn degree_days(&self, base: usize) -> f64 {
        self.0[base]
    }
    /// °C·d more that may have been had in water below the calibrated range.
    pub(crate) fn sooner(&self) -> f64 {
        self.0[SOONER]
    }
    /// °C·d less that may have been had in water above the calibrated range.
    pub(crate) fn later(&self) -> f64 {
        self.0[LATER]
    }
    /// °C·d more for each degree that the water was warmer than read.
    pub(crate) fn per_degree(&self) -> f64 {
        self.0[PER_DEGREE]
    }
    /// Square of the °C·d that gaps could hide either way (four times of five), added over the gaps.
    pub(crate) fn hidden(&self) -> f64 {
        self.0[HIDDEN].max(0.0)
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
    pub(crate) fn times(mut self, by: f64) -> Self {
        self.0.iter_mut().for_each(|a| *a *= by);
        self
    }
}

/// The law of one species: nothing at the base temperature, level above the cap, nothing above the upper threshold.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Pace {
    bases: [f64; 3],
    shape: Shape,
    cap: f64,
    upper: f64,
    trusted: (f64, f64),
}

#[derive(Debug, Clone, PartialEq)]
enum Shape {
    Line,
    /// Speed = scale · (T − c)^power.
    Power {
        c: f64,
        power: f64,
        scale: f64,
    },
    Curve {
        curve: CurveFit,
        scale: f64,
    },
}

impl Pace {
    pub(crate) fn of(species: &Species) -> Self {
        let trusted = species.calibrated.map_or((f64::NEG_INFINITY, f64::INFINITY), |b| (b.low, b.high));
        let mut pace = Self {
            bases: species.base.all(),
            shape: Shape::of(&species.law.form),
            cap: species.cap.unwrap_or(f64::INFINITY),
            upper: species.upper.unwrap_or(f64::INFINITY),
            trusted,
        };
        if let Some(band) = species.calibrated {
            pace.scale(0.5 * (band.low + band.high));
        }
        pace
    }

    /// Speeds of a law that is no line are told in °C·d of the line: in the middle of the range both are alike.
    fn scale(&mut self, middle: f64) {
        let line = middle - self.bases[LIKELY];
        let raw = self.shape.mean(middle, middle);
        if let Shape::Power { scale, .. } | Shape::Curve { scale, .. } = &mut self.shape
            && raw > 0.0
        {
            *scale = line / raw;
        }
    }

    /// Mean speed (°C·d per day) along a straight line of temperature.
    pub(crate) fn speed(&self, a: f64, b: f64, base: usize) -> f64 {
        let (low, high) = if a <= b { (a, b) } else { (b, a) };
        if low >= self.upper {
            return 0.0;
        }
        if high > self.upper {
            return share_under(low, high, self.upper) * self.speed(low, self.upper, base);
        }
        if self.shape == Shape::Line {
            let t0 = self.bases[base];
            return clipped_mean(low, high, t0, self.cap.max(t0)) - t0;
        }
        if high > self.cap {
            let under = share_under(low, high, self.cap);
            let level = self.shape.mean(self.cap, self.cap);
            return under * self.shape.mean(low.min(self.cap), self.cap) + (1.0 - under) * level;
        }
        self.shape.mean(low, high)
    }

    /// Mean speed with every point of the line clipped to a range.
    fn held(&self, a: f64, b: f64, low: f64, high: f64) -> f64 {
        let (from, to) = if a <= b { (a, b) } else { (b, a) };
        if from >= low && to <= high {
            return self.speed(from, to, LIKELY);
        }
        let (under, over) = (share_under(from, to, low), share_under(-from, -to, -high));
        let level = |share: f64, at: f64| if share > 0.0 { share * self.speed(at, at, LIKELY) } else { 0.0 };
        let inside = (1.0 - under - over).max(0.0);
        let middle =
            if inside > 0.0 { inside * self.speed(from.max(low), to.min(high), LIKELY) } else { 0.0 };
        level(under, low) + level(over, high) + middle
    }

    /// Sums of a day at a steady temperature that nobody has read.
    pub(crate) fn day_at(&self, celsius: f64) -> Sums {
        let mut sums = Sums::default();
        self.develop(&mut sums, celsius, celsius, 1.0);
        sums
    }

    /// Sums of a stretch that was read: `days` long, straight from `a` to `b`.
    pub(crate) fn read(&self, a: f64, b: f64, days: f64) -> Sums {
        let mut sums = Sums::default();
        self.develop(&mut sums, a, b, days);
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
        self.develop(&mut sums, celsius, celsius, days);
        let either = 0.5 * (self.steady(celsius + doubt) - self.steady(celsius - doubt));
        sums.0[HIDDEN] = (either * days).powi(2);
        sums.0[UNREAD] = days;
        sums
    }

    fn steady(&self, celsius: f64) -> f64 {
        self.speed(celsius, celsius, LIKELY)
    }

    fn develop(&self, sums: &mut Sums, a: f64, b: f64, days: f64) {
        for base in [LOW, LIKELY, HIGH] {
            sums.0[base] = self.speed(a, b, base) * days;
        }
        let likely = sums.0[LIKELY];
        if a.min(b) < self.trusted.0 {
            let held = self.held(a, b, self.trusted.0, f64::INFINITY) * days;
            sums.0[SOONER] = EXTRAPOLATION_DOUBT * (held - likely).max(0.0);
        }
        if a.max(b) > self.trusted.1 {
            let held = self.held(a, b, f64::NEG_INFINITY, self.trusted.1) * days;
            sums.0[LATER] = EXTRAPOLATION_DOUBT * (likely - held).max(0.0);
        }
        // Half a degree to either side: the size of a probe's error.
        let (up, down) = (self.speed(a + 0.5, b + 0.5, LIKELY), self.speed(a - 0.5, b - 0.5, LIKELY));
        sums.0[PER_DEGREE] = (up - down) * days;
    }
}

/// Speed of development at a steady temperature in a unit of its own; 0 where nothing develops. A line starts at `base`.
pub(crate) fn speed_at(form: &Form, base: f64, celsius: f64) -> f64 {
    match Shape::of(form) {
        Shape::Line => (celsius - base).max(0.0),
        shape => shape.mean(celsius, celsius),
    }
}

impl Shape {
    fn of(form: &Form) -> Self {
        match form {
            Form::Line => Shape::Line,
            Form::Power { b, c } => Shape::Power { c: *c, power: -b, scale: 1.0 },
            Form::Curve(curve) => Shape::Curve { curve: curve.clone(), scale: 1.0 },
        }
    }

    /// Mean speed from `low` to `high`, without cap and threshold. A line has its own way.
    fn mean(&self, low: f64, high: f64) -> f64 {
        match self {
            Shape::Line => 0.0,
            Shape::Power { c, power, scale } => scale * power_mean(low - c, high - c, *power),
            Shape::Curve { curve, scale } => scale * curve_mean(curve, low, high),
        }
    }
}

/// Mean of max(x, 0)^p from `u` to `v`. Over a narrow piece three Gauss points, whose relative error there is under
/// 1e-11; else the closed form, which would lose digits over a narrow piece.
fn power_mean(u: f64, v: f64, p: f64) -> f64 {
    if v <= 0.0 {
        return 0.0;
    }
    let from = u.max(0.0);
    let share = if v > u { (v - from) / (v - u) } else { 1.0 };
    let (middle, half) = (0.5 * (from + v), 0.5 * (v - from));
    if half < 0.05 * middle {
        let off = half * 0.6_f64.sqrt();
        let at = |x: f64| x.powf(p);
        return share * (5.0 * at(middle - off) + 8.0 * at(middle) + 5.0 * at(middle + off)) / 18.0;
    }
    share * (v.powf(p + 1.0) - from.powf(p + 1.0)) / ((p + 1.0) * (v - from))
}

/// Mean rate of a curve: two Gauss points in each of its pieces, which is exact for a cubic.
fn curve_mean(curve: &CurveFit, low: f64, high: f64) -> f64 {
    if high <= low {
        return curve.rate(low);
    }
    let inner = curve.celsius.iter().copied().chain(zero(curve)).filter(|k| *k > low && *k < high);
    let mut ends: Vec<f64> = inner.chain([low, high]).collect();
    ends.sort_by(f64::total_cmp);
    let piece = |w: &[f64]| {
        let (middle, off) = (0.5 * (w[0] + w[1]), 0.5 * (w[1] - w[0]) / 3.0_f64.sqrt());
        0.5 * (w[1] - w[0]) * (curve.rate(middle - off) + curve.rate(middle + off))
    };
    ends.windows(2).map(piece).sum::<f64>() / (high - low)
}

/// Where the straight end of a curve below its coldest point reaches zero, °C.
fn zero(curve: &CurveFit) -> Option<f64> {
    let (first, step) = (*curve.celsius.first()?, 1e-3);
    let (rate, slope) = (curve.rate(first), (curve.rate(first) - curve.rate(first - step)) / step);
    (slope > 0.0).then(|| first - rate / slope)
}
