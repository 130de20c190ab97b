//! The water of a night as straight lines between its readings, cut at dusk and dawn.

use development::GAP_AFTER;
use units::{Band, Span, Time};
use web::review::Stretch;

/// One straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Line {
    from: Time,
    to: Time,
    /// °C at its beginning and end.
    a: f64,
    b: f64,
}

impl Line {
    fn length(&self) -> Span {
        self.to - self.from
    }

    fn at(&self, t: Time) -> f64 {
        let share = (t - self.from).millis() as f64 / self.length().millis().max(1) as f64;
        self.a + (self.b - self.a) * share.clamp(0.0, 1.0)
    }

    /// The part of it between two times.
    fn cut(&self, from: Time, to: Time) -> Option<Self> {
        let (from, to) = (from.max(self.from), to.min(self.to));
        (from < to).then(|| Self { from, to, a: self.at(from), b: self.at(to) })
    }

    /// The share of it that lies strictly under a level, 0 to 1: exact where it crosses.
    fn share_under(&self, level: f64) -> f64 {
        let (low, high) = (self.a.min(self.b), self.a.max(self.b));
        if high < level {
            return 1.0;
        }
        if low >= level { 0.0 } else { (level - low) / (high - low) }
    }
}

/// What was read of the water between two times. Readings further apart than half an hour leave a gap, as for the dates of clutches.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Trace {
    from: Time,
    to: Time,
    lines: Vec<Line>,
}

impl Trace {
    /// Of readings (°C) in order of time; those outside join what they lie next to.
    pub(crate) fn of(points: &[(Time, f64)], from: Time, to: Time) -> Self {
        let line = |w: &[(Time, f64)]| {
            let ((from, a), (to, b)) = (w[0], w[1]);
            Line { from, to, a, b }
        };
        let joined = points.windows(2).map(line).filter(|l| l.length() <= GAP_AFTER);
        Self { from, to, lines: joined.filter_map(|l| l.cut(from, to)).collect() }
    }

    /// The same between two times of it.
    pub(crate) fn part(&self, from: Time, to: Time) -> Self {
        let (from, to) = (from.max(self.from), to.min(self.to));
        Self { from, to, lines: self.lines.iter().filter_map(|l| l.cut(from, to)).collect() }
    }

    /// How much of the time was read.
    pub(crate) fn read(&self) -> Span {
        self.lines.iter().fold(Span::ZERO, |sum, l| sum + l.length())
    }

    /// Lowest, °C.
    pub(crate) fn min(&self) -> Option<f64> {
        self.lines.iter().map(|l| l.a.min(l.b)).reduce(f64::min)
    }

    /// Highest, °C.
    pub(crate) fn max(&self) -> Option<f64> {
        self.lines.iter().map(|l| l.a.max(l.b)).reduce(f64::max)
    }

    /// Mean over the time that was read, °C.
    pub(crate) fn mean(&self) -> Option<f64> {
        let (min, max) = (self.min()?, self.max()?);
        let whole = |l: &Line| 0.5 * (l.a + l.b) * l.length().as_days();
        let mean = self.lines.iter().map(whole).sum::<f64>() / self.read().as_days();
        // Rounding must not put it outside.
        Some(mean.clamp(min, max))
    }

    /// How long it was under the band and how long over it, exact at the crossings.
    pub(crate) fn outside(&self, band: Band) -> (Span, Span) {
        let sum = |share: &dyn Fn(&Line) -> f64| {
            let ms: f64 = self.lines.iter().map(|l| share(l) * l.length().millis() as f64).sum();
            Span::from_millis(ms.round() as i64)
        };
        let over = |l: &Line| Line { a: -l.a, b: -l.b, ..*l }.share_under(-band.high);
        (sum(&|l| l.share_under(band.low)), sum(&over))
    }

    /// Stretches of which nothing was read.
    pub(crate) fn gaps(&self) -> Vec<Stretch> {
        let starts = [self.from].into_iter().chain(self.lines.iter().map(|l| l.to));
        let ends = self.lines.iter().map(|l| l.from).chain([self.to]);
        starts.zip(ends).filter(|(from, to)| from < to).map(|(from, to)| Stretch { from, to }).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(minutes: i64) -> Time {
        Time::from_millis(1_795_000_000_000) + Span::minutes(minutes)
    }

    fn points(all: &[(i64, f64)]) -> Vec<(Time, f64)> {
        all.iter().map(|(m, c)| (at(*m), *c)).collect()
    }

    const BAND: Band = Band { low: 25.0, high: 27.0 };

    /// By hand: 24 to 28 °C in 20 minutes crosses 25 after 5 and 27 after 15; then 20 minutes at 28.
    #[test]
    fn a_trace_that_can_be_reckoned_by_hand() {
        let trace = Trace::of(&points(&[(0, 24.0), (20, 28.0), (40, 28.0)]), at(0), at(40));
        assert_eq!((trace.min(), trace.max()), (Some(24.0), Some(28.0)));
        assert!((trace.mean().unwrap() - 27.0).abs() < 1e-12, "20 min at 26 and 20 at 28");
        assert_eq!(trace.outside(BAND), (Span::minutes(5), Span::minutes(25)));
        assert_eq!((trace.read(), trace.gaps()), (Span::minutes(40), vec![]));
    }

    /// Readings before dusk and after dawn tell what it was at dusk and at dawn.
    #[test]
    fn it_is_cut_at_its_ends() {
        let trace = Trace::of(&points(&[(-10, 24.0), (10, 26.0), (30, 30.0)]), at(0), at(20));
        assert_eq!((trace.min(), trace.max(), trace.read()), (Some(25.0), Some(28.0), Span::minutes(20)));
        // 25 to 26 in ten minutes, 26 to 28 in ten.
        assert!((trace.mean().unwrap() - 26.25).abs() < 1e-12);
        // Nothing under 25 but the one moment; over 27 the last half of ten minutes.
        assert_eq!(trace.outside(BAND), (Span::ZERO, Span::minutes(5)));
        assert_eq!(trace.part(at(10), at(15)).max(), Some(27.0));
    }

    #[test]
    fn readings_more_than_half_an_hour_apart_leave_a_gap() {
        let trace = Trace::of(&points(&[(5, 26.0), (35, 26.0), (66, 10.0), (70, 26.0)]), at(0), at(90));
        let gaps: Vec<(i64, i64)> = trace
            .gaps()
            .iter()
            .map(|g| ((g.from - at(0)).as_minutes() as i64, (g.to - at(0)).as_minutes() as i64))
            .collect();
        assert_eq!(gaps, [(0, 5), (35, 66), (70, 90)]);
        assert_eq!(trace.read(), Span::minutes(34));
        let nothing = Trace::of(&points(&[(5, 26.0)]), at(0), at(90));
        assert_eq!((nothing.mean(), nothing.outside(BAND)), (None, (Span::ZERO, Span::ZERO)));
        assert_eq!(nothing.gaps().len(), 1);
    }

    proptest! {
        /// Whatever was read: min ≤ mean ≤ max, and time outside is no longer than what was read, which with the gaps is the night.
        #[test]
        fn figures_keep_to_their_bounds(
            steps in prop::collection::vec((1_i64..2_700, -5.0_f64..45.0), 0..60),
            start in -3_000_i64..3_000,
            low in 0.0_f64..40.0,
        ) {
            let mut t = at(0) + Span::seconds(start);
            let mut all = Vec::new();
            for (step, celsius) in steps {
                all.push((t, celsius));
                t += Span::seconds(step);
            }
            let (from, to) = (at(0), at(600));
            let trace = Trace::of(&all, from, to);
            if let Some(mean) = trace.mean() {
                let (min, max) = (trace.min().unwrap(), trace.max().unwrap());
                prop_assert!(min <= mean && mean <= max, "{min} {mean} {max}");
            }
            let (below, above) = trace.outside(Band { low, high: low + 2.0 });
            prop_assert!(below >= Span::ZERO && above >= Span::ZERO);
            // Each of the two is rounded to the millisecond.
            prop_assert!(below + above <= trace.read() + Span::from_millis(1));
            let gaps = trace.gaps().iter().fold(Span::ZERO, |sum, g| sum + g.length());
            prop_assert_eq!(trace.read() + gaps, to - from);
        }
    }
}
