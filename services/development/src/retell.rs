//! What a course tells: degree-days, means, pieces for a ribbon, gaps.

use crate::course::Course;
use crate::fill::GAP_AFTER;
use crate::law::{HIGH, LIKELY, LOW};
use units::{Span, Time};

/// Degree-days (°C·d) above each of the three base temperatures of a species.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThreeSums {
    /// Above the lowest base temperature (the largest sum).
    pub low: f64,
    /// Above the likely base temperature.
    pub likely: f64,
    /// Above the highest base temperature (the smallest sum).
    pub high: f64,
}

/// One piece of the past.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Its beginning.
    pub from: Time,
    /// Its end.
    pub to: Time,
    /// Mean of what was read, °C; `None` where nothing was.
    pub celsius: Option<f64>,
    /// Speed of development, °C·d per day above the likely base temperature, gaps filled.
    pub speed: f64,
}

/// A stretch of more than half an hour without a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// The last reading before, or the beginning of what was asked for.
    pub from: Time,
    /// The first reading after, or the end of what was asked for.
    pub to: Time,
    /// What the water is taken to have been, °C; `None` where there is no reading at all.
    pub filled: Option<f64>,
}

impl Gap {
    /// How long.
    pub fn length(&self) -> Span {
        self.to - self.from
    }
}

impl Course {
    /// Degree-days (°C·d) between two times, gaps filled; after the last reading the last hour's mean goes on. Without
    /// any point all three are 0.
    pub fn degree_days(&self, from: Time, to: Time) -> ThreeSums {
        let sums = self.sums(from, to);
        let of = |base| sums.degree_days(base);
        ThreeSums { low: of(LOW), likely: of(LIKELY), high: of(HIGH) }
    }

    /// Mean temperature (°C) between two times over what was read; `None` where nothing was.
    pub fn mean(&self, from: Time, to: Time) -> Option<f64> {
        self.sums(from, to).mean()
    }

    /// The past between two times in pieces of the length `len`, the last one as long as is left. Nothing for a length
    /// of zero or less, or without points.
    pub fn pieces(&self, len: Span, from: Time, to: Time) -> Vec<Piece> {
        let mut pieces = Vec::new();
        let mut start = from;
        while start < to && len > Span::ZERO && !self.points().is_empty() {
            let end = (start + len).min(to);
            let sums = self.sums(start, end);
            let speed = sums.degree_days(LIKELY) / (end - start).as_days();
            pieces.push(Piece { from: start, to: end, celsius: sums.mean(), speed });
            start = end;
        }
        pieces
    }

    /// Stretches of more than half an hour without a reading between two times, oldest first, cut at those times. The
    /// stretch before the first reading counts from `from`, the one after the last up to `to`.
    pub fn gaps(&self, from: Time, to: Time) -> Vec<Gap> {
        let points = self.points();
        let (Some(&(first, celsius)), Some(&(last, _))) = (points.first(), points.last()) else {
            return gap(from, to, None).into_iter().collect();
        };
        let mut gaps: Vec<Gap> = gap(from, first.min(to), Some(celsius)).into_iter().collect();
        let begin = self.index_at(from).unwrap_or(0);
        for i in begin..points.len() - 1 {
            let (a, b) = (points[i].0, points[i + 1].0);
            if a >= to {
                break;
            }
            if b - a > GAP_AFTER {
                // Cut at the ends asked for: even a short rest of a gap is a gap.
                let cut = Gap { from: a.max(from), to: b.min(to), filled: Some(self.fill_after(i)) };
                gaps.extend((cut.from < cut.to).then_some(cut));
            }
        }
        gaps.extend(gap(last.max(from), to, Some(self.fill_after(points.len() - 1))));
        gaps
    }

    /// The course as a trace with every gap filled, from `from` to the last reading: what the sums are of. A filled gap
    /// begins and ends with a step: two points at one time.
    pub fn filled(&self, from: Time) -> Vec<(Time, f64)> {
        let points = self.points();
        let Some(&(first, celsius)) = points.first() else { return Vec::new() };
        let mut trace = Vec::with_capacity(points.len() + 2);
        if from < first {
            trace.push((from, celsius));
        }
        for (i, &point) in points.iter().enumerate() {
            trace.push(point);
            match points.get(i + 1) {
                Some(&(next, _)) if next - point.0 > GAP_AFTER => {
                    let celsius = self.fill_after(i);
                    trace.extend([(point.0, celsius), (next, celsius)]);
                }
                _ => {}
            }
        }
        trace
    }
}

fn gap(from: Time, to: Time, filled: Option<f64>) -> Option<Gap> {
    (to - from > GAP_AFTER).then_some(Gap { from, to, filled })
}
