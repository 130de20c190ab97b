//! Jumps that water cannot make.
//!
//! Eight degrees in 15 s in 60 L would need about 134 kW (computed: 60 kg × 4.19 kJ/kg/K × 8 K / 15 s). Such a reading is held until a second one agrees with
//! it: then somebody has changed the water, or the probe was moved, and both are accepted.

use super::memory::{Memory, Seen};
use units::{Span, Time};

/// How a fresh reading fits its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fit {
    /// It fits a neighbour, or has none near enough to compare with.
    Good,
    /// It jumps, and only what comes next can tell.
    Wait,
    /// It jumps, and what was measured after it does not agree.
    Bad,
}

/// Compares a fresh reading with its neighbours in time: within `within` of each other they may differ by `step`.
pub(super) fn fit(memory: &Memory, time: Time, value: f64, (step, within): (f64, Span)) -> Fit {
    let near =
        |s: Option<&Seen>| s.filter(|s| (s.time - time).abs() <= within).map(|s| agree(s.value, value, step));
    let (before, after) = memory.around(time);
    match (near(before), near(after)) {
        (Some(true), _) | (_, Some(true)) | (None, None) => Fit::Good,
        (Some(false), None) => Fit::Wait,
        (_, Some(false)) => Fit::Bad,
    }
}

/// Whether two readings lie at one level.
pub(super) fn agree(a: f64, b: f64, step: f64) -> bool {
    (a - b).abs() <= step
}
