//! Amounts in faults and acts: those that are left out, make no sense, or are told.

use crate::Lapse;
use units::Span;

pub(super) fn no_time() -> Lapse {
    Lapse::of(Span::ZERO)
}

/// Says that an amount makes no sense, and what would.
pub(super) fn outside(field: &str, value: f64, low: f64, high: f64, unit: &str) -> Option<String> {
    let text =
        || format!("{field} = {value} makes no sense; write {low} to {high} {unit}").trim_end().to_owned();
    (!(low..=high).contains(&value)).then(text)
}

pub(super) fn percent(part: f64) -> String {
    format!("{:.0} %", part * 100.0)
}
