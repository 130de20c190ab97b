//! When a sum will be reached, or was.

use crate::course::Course;
use crate::law::{LIKELY, Sums};
use units::{Span, Time};

/// No date is given beyond this after counting begins; water at or under the base temperature would take for ever.
pub(crate) const HORIZON: Span = Span::days(400);

/// A course up to one reading and the water taken from there on.
pub(crate) struct Ahead<'a> {
    course: &'a Course,
    /// The last reading that counts: its index, time and the sums up to it.
    end: Option<(usize, Time, Sums)>,
    /// Water to come, °C.
    pub(crate) water: f64,
    /// Sums of a day in it.
    day: Sums,
}

impl<'a> Ahead<'a> {
    /// `end` is the index of the last point that counts.
    pub(crate) fn new(course: &'a Course, end: Option<usize>, water: f64) -> Self {
        let end = end.and_then(|i| Some((i, course.points().get(i)?.0, course.sums_to_point(i))));
        Self { course, end, water, day: course.pace.day_at(water) }
    }

    /// Sums from `start` to the last reading that counts; nothing when it lies before `start`.
    pub(crate) fn so_far(&self, start: Time) -> Sums {
        match &self.end {
            Some((_, last, sums)) if *last > start => sums.minus(&self.course.sums_at(start)),
            _ => Sums::default(),
        }
    }

    /// Where the water to come begins for a count that begins at `start`.
    fn turn(&self, start: Time) -> Time {
        self.end.as_ref().map_or(start, |(_, last, _)| (*last).max(start))
    }

    /// Sums up to a time, counted from anywhere: only differences mean something. Days of the water to come beside it.
    pub(crate) fn upto(&self, t: Time) -> (Sums, f64) {
        match &self.end {
            Some((_, last, sums)) if t > *last => {
                let days = (t - *last).as_days();
                (sums.plus(&self.day.times(days)), days)
            }
            Some(_) => (self.course.sums_at(t), 0.0),
            None => {
                let days = t.millis() as f64 / Span::days(1).millis() as f64;
                (self.day.times(days), days)
            }
        }
    }

    /// Sums of a day of the water to come.
    pub(crate) fn day(&self) -> &Sums {
        &self.day
    }

    /// Degree-days (°C·d) above the likely base between two times, the second of which may lie in the water to come.
    pub(crate) fn between(&self, start: Time, to: Time) -> f64 {
        if to <= start { 0.0 } else { self.upto(to).0.minus(&self.upto(start).0).degree_days(LIKELY) }
    }

    /// When `need` °C·d have been added since `start`; `None` beyond the [`HORIZON`].
    pub(crate) fn reach(&self, start: Time, need: f64) -> Option<Time> {
        let had = self.so_far(start).degree_days(LIKELY);
        if need <= 0.0 {
            return Some(start);
        }
        if had >= need {
            return Some(self.in_the_past(start, need));
        }
        let speed = self.day.degree_days(LIKELY);
        let days = (need - had) / speed;
        let at = self.turn(start) + Span::from_days(days.min(HORIZON.as_days() * 2.0));
        (speed > 0.0 && at - start <= HORIZON).then_some(at)
    }

    /// The sums reach `need` between two readings: finds the two, then the millisecond.
    fn in_the_past(&self, start: Time, need: f64) -> Time {
        let measure = |s: &Sums| s.degree_days(LIKELY);
        let enough = measure(&self.course.sums_at(start)) + need;
        let points = self.course.points();
        let Some(&(first, _)) = points.first() else { return start };
        if enough <= 0.0 {
            return first_at(start, first, |t| measure(&self.course.sums_at(t)) >= enough);
        }
        let (mut i, mut sums) = self.course.block_before(enough, measure);
        while let Some(&(next, _)) = points.get(i + 1) {
            let after = sums.plus(&self.course.stretch(i, next));
            if measure(&after) >= enough {
                let reached = |t| measure(&sums.plus(&self.course.stretch(i, t))) >= enough;
                return first_at(points[i].0, next, reached);
            }
            (i, sums) = (i + 1, after);
        }
        // Rounding left the sum a hair short of the last reading.
        self.end.as_ref().map_or(start, |(_, last, _)| *last)
    }
}

/// The first millisecond after `from` and up to `to` at which `reached` holds; it holds at `to`.
pub(crate) fn first_at(from: Time, to: Time, reached: impl Fn(Time) -> bool) -> Time {
    let (mut no, mut yes) = (from.millis(), to.millis());
    while yes - no > 1 {
        let middle = no + (yes - no) / 2;
        if reached(Time::from_millis(middle)) { yes = middle } else { no = middle }
    }
    Time::from_millis(yes)
}
