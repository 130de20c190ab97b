//! Which hours of the water moved a projection.

use crate::cause::Cause;
use crate::course::Course;
use crate::projection::Projection;
use units::{Span, Time};

/// Hours are told to this, and begin and end on it.
const SLOT: Span = Span::minutes(10);
/// How much of the past shows what is usual; longer than any fall worth an alarm, so that its median is not moved by one.
const USUAL_OVER: Span = Span::hours(48);
/// A slot is off when it is off by this much, K. A planning value: about what a heater's own switching swings water by.
const OFF: f64 = 0.3;
/// A change of the water to come that is worth its own words, K.
const WORTH: f64 = 0.05;

/// What the water did between two projections that made it later (or sooner).
pub(crate) fn find(before: &Projection, after: &Projection, course: &Course, later: bool) -> Cause {
    let end = after.read_until.unwrap_or(after.day0.earliest);
    let since = before.read_until.unwrap_or(before.day0.earliest);
    let (usual, slots) = usual(after, course, end);
    let sign = if later { -1.0 } else { 1.0 };
    if let Some(cause) = usual.and_then(|usual| run(&slots, usual, sign, since)) {
        return cause;
    }
    let changed = after.water_to_come - before.water_to_come;
    if changed * sign >= WORTH {
        return Cause::ToCome { before: before.water_to_come, after: after.water_to_come };
    }
    let by = course.mean(since, end).map_or(0.0, |mean| mean - before.water_to_come);
    Cause::Expected { from: since, to: end, by }
}

/// Mean of every slot of the last two days that was read, by the slot's beginning, and what is usual: the set-point,
/// else their median.
fn usual(after: &Projection, course: &Course, end: Time) -> (Option<f64>, Vec<(Time, f64)>) {
    let ms = SLOT.millis();
    let first = (end - USUAL_OVER).millis().div_euclid(ms);
    let last = (end.millis() + ms - 1).div_euclid(ms);
    let slots: Vec<(Time, f64)> = (first..last)
        .filter_map(|n| {
            let start = Time::from_millis(n * ms);
            Some((start, course.mean(start, (start + SLOT).min(end))?))
        })
        .collect();
    let mut heights: Vec<f64> = slots.iter().map(|s| s.1).collect();
    heights.sort_by(f64::total_cmp);
    (after.set_point.or_else(|| heights.get(heights.len() / 2).copied()), slots)
}

/// The longest, deepest run of slots that were off to the side of `sign` and reach past `since`: a run that had begun
/// before is told from its beginning.
fn run(slots: &[(Time, f64)], usual: f64, sign: f64, since: Time) -> Option<Cause> {
    let (mut best, mut weight): (Option<(Time, Time, f64)>, f64) = (None, 0.0);
    let mut current: Option<(Time, Time, f64, f64)> = None;
    for &(start, celsius) in slots {
        let by = celsius - usual;
        let end = start + SLOT;
        current = match current {
            _ if by * sign < OFF => None,
            Some((from, to, sum, n)) if to == start => Some((from, end, sum + by, n + 1.0)),
            _ => Some((start, end, by, 1.0)),
        };
        if let Some((from, to, sum, n)) = current
            && to > since
            && sum.abs() > weight
        {
            (best, weight) = (Some((from, to, sum / n)), sum.abs());
        }
    }
    best.map(|(from, to, by)| Cause::Water { from, to, by })
}
