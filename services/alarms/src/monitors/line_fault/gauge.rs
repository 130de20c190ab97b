//! One figure of a line: what it says now, and what it usually says.

use super::Level;
use crate::monitors::course::{Course, values};
use crate::monitors::grid;
use crate::statistics::{mad, median};
use std::collections::VecDeque;
use units::{Span, Time};

/// Days over which the usual is learnt: a stone clogs over days. A planning value.
pub(super) const LEARNS: Span = Span::days(3);
/// What may be a fault already is not learnt from. A planning value.
const NOT_YET: Span = Span::hours(1);
/// A reading stands for a quarter of an hour; eight of them are the least that is a usual. Planning values.
const SLOT: Span = Span::minutes(15);
const LEAST: usize = 8;
/// Older than this nothing is known: a plug says its power every 5 to 60 s, boards every 10 to 60 s. A planning value.
const FRESH: Span = Span::minutes(5);
/// The newest readings that are taken together, and how far they may lie apart. Planning values.
const NEWEST: usize = 5;
const TOGETHER: Span = Span::minutes(2);
/// What is nought, as a part of the usual. A planning value.
const NOUGHT: f64 = 0.1;
/// How many robust spreads something must be off. A planning value.
const SPREADS: f64 = 4.0;
/// No figure is steadier than this part of itself. A planning value.
const STEADIEST: f64 = 0.005;

/// From which part of the usual a figure is low, and from which it is high.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    pub(super) low: f64,
    pub(super) high: f64,
}

#[derive(Debug, Clone)]
pub(super) struct Gauge {
    newest: VecDeque<(Time, f64)>,
    course: Course,
}

impl Gauge {
    pub(super) fn new() -> Self {
        Self { newest: VecDeque::new(), course: Course::new(SLOT, LEARNS) }
    }

    pub(super) fn note(&mut self, t: Time, value: f64) {
        if !value.is_finite() {
            return;
        }
        self.course.note(t, value);
        let place = self.newest.partition_point(|there| *there < (t, value));
        if self.newest.get(place) != Some(&(t, value)) {
            self.newest.insert(place, (t, value));
        }
        if self.newest.len() > NEWEST {
            self.newest.pop_front();
        }
    }

    /// What it says now, and its usual, learnt from readings since `learns_from`.
    pub(super) fn against(&self, now: Time, learns_from: Option<Time>) -> Option<Against> {
        let latest = self.newest.back().map(|(t, _)| *t).filter(|t| now - *t <= FRESH)?;
        let value = median(self.newest.iter().filter(|(t, _)| latest - *t <= TOGETHER).map(|(_, v)| *v))?;
        let mut past = self.course.before(NOT_YET);
        past.retain(|(t, _)| learns_from.is_none_or(|from| *t >= from));
        let past = values(&past);
        if past.len() < LEAST {
            return None;
        }
        let usual = mad(&past)?;
        let step = grid::step_of(past).unwrap_or(0.0).max(STEADIEST * usual.median);
        (usual.median > 0.0).then_some(Against { value, usual: usual.median, spread: usual.floored(step) })
    }
}

/// A figure against its usual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Against {
    pub(super) value: f64,
    pub(super) usual: f64,
    pub(super) spread: f64,
}

impl Against {
    pub(super) fn part(self) -> f64 {
        self.value / self.usual
    }

    pub(super) fn level(self, bounds: Bounds) -> Level {
        let spreads = (self.value - self.usual) / self.spread;
        match self.part() {
            part if part <= NOUGHT => Level::Nought,
            part if part <= bounds.low && spreads <= -SPREADS => Level::Low,
            part if part >= bounds.high && spreads >= SPREADS => Level::High,
            _ => Level::Usual,
        }
    }
}
