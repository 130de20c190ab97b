//! What a probe has said lately, thinned: the first reading of each slot of time.

use std::collections::VecDeque;
use units::{Span, Time};

/// The first readings of the last slots of time, in order, 16 bytes each.
///
/// What it holds follows from the readings alone and not from their order: a late one takes its place, one that is
/// older than all slots is left out. So a restart that reads the kept span again, in order of time, finds the same.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Course {
    slot: Span,
    slots: i64,
    points: VecDeque<(Time, f64)>,
}

impl Course {
    /// Slots of so long, for so long; both positive.
    pub(crate) fn new(slot: Span, keep: Span) -> Self {
        let slot = slot.max(Span::from_millis(1));
        Self { slot, slots: (keep.millis() / slot.millis()).max(1), points: VecDeque::new() }
    }

    fn index(&self, t: Time) -> i64 {
        t.millis().div_euclid(self.slot.millis())
    }

    /// Takes a reading in; true if it is the newest and begins a slot: the moment to judge. A value that is not finite is
    /// left out.
    pub(crate) fn note(&mut self, t: Time, value: f64) -> bool {
        let slot = self.index(t);
        let newest = self.points.back().map(|(t, _)| self.index(*t));
        if !value.is_finite() || newest.is_some_and(|newest| slot <= newest - self.slots) {
            return false;
        }
        if newest.is_none_or(|newest| newest < slot) {
            self.points.push_back((t, value));
            self.forget(slot - self.slots);
            return true;
        }
        self.put(slot, (t, value));
        false
    }

    fn forget(&mut self, last: i64) {
        while self.points.front().is_some_and(|(t, _)| self.index(*t) <= last) {
            self.points.pop_front();
        }
    }

    /// Of two readings of one slot the earlier stays, of two of one moment the smaller, whichever came first.
    fn put(&mut self, slot: i64, point: (Time, f64)) {
        let place = self.points.partition_point(|(t, _)| self.index(*t) < slot);
        match self.points.get(place).copied() {
            Some(there) if self.index(there.0) == slot => {
                if (point.0, point.1) < there {
                    self.points[place] = point;
                }
            }
            _ => self.points.insert(place, point),
        }
    }

    /// The time of the newest slot's reading.
    pub(crate) fn newest(&self) -> Option<Time> {
        self.points.back().map(|(t, _)| *t)
    }

    /// How many there are.
    pub(crate) fn len(&self) -> usize {
        self.points.len()
    }

    /// All of them, from the newest back.
    pub(crate) fn newest_first(&self) -> impl Iterator<Item = (Time, f64)> {
        self.points.iter().rev().copied()
    }

    /// All of them.
    pub(crate) fn points(&self) -> Vec<(Time, f64)> {
        self.points.iter().copied().collect()
    }

    /// Those of the last `span` before the newest, that one included.
    pub(crate) fn last(&self, span: Span) -> Vec<(Time, f64)> {
        let from = self.newest().map(|newest| newest - span);
        self.points.iter().filter(|(t, _)| from.is_some_and(|from| *t > from)).copied().collect()
    }

    /// Those up to `span` before the newest.
    pub(crate) fn before(&self, span: Span) -> Vec<(Time, f64)> {
        let until = self.newest().map(|newest| newest - span);
        self.points.iter().filter(|(t, _)| until.is_some_and(|until| *t <= until)).copied().collect()
    }
}

/// The values of points.
pub(crate) fn values(points: &[(Time, f64)]) -> Vec<f64> {
    points.iter().map(|(_, value)| *value).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(second: i64) -> Time {
        Time::from_millis(second * 1_000)
    }

    #[test]
    fn any_order_gives_the_same() {
        let readings: Vec<(Time, f64)> = (0..600).map(|n| (at(n * 17), (n % 7) as f64)).collect();
        let mut sorted = Course::new(Span::minutes(1), Span::hours(1));
        readings.iter().for_each(|(t, v)| _ = sorted.note(*t, *v));
        for stride in [7, 11, 599] {
            let mut mixed = Course::new(Span::minutes(1), Span::hours(1));
            (0..600).map(|n| readings[n * stride % 600]).for_each(|(t, v)| _ = mixed.note(t, v));
            assert_eq!(mixed, sorted, "stride {stride}");
        }
        assert_eq!(sorted.points.len(), 60);
    }

    #[test]
    fn only_the_first_of_a_new_minute_is_the_moment_to_judge() {
        let mut course = Course::new(Span::minutes(1), Span::hours(1));
        let told: Vec<bool> = [60, 70, 120, 61, 0].into_iter().map(|s| course.note(at(s), 1.0)).collect();
        assert_eq!(told, [true, false, true, false, false]);
        assert!(!course.note(at(300), f64::NAN));
        assert_eq!(course.newest(), Some(at(120)));
        assert_eq!(course.points(), [(at(0), 1.0), (at(60), 1.0), (at(120), 1.0)]);
    }

    #[test]
    fn twice_the_same_moment_is_the_smaller_value() {
        for pair in [[1.0, 2.0], [2.0, 1.0]] {
            let mut course = Course::new(Span::minutes(1), Span::hours(1));
            pair.into_iter().for_each(|v| _ = course.note(at(5), v));
            assert_eq!(course.points(), [(at(5), 1.0)]);
        }
    }
}
