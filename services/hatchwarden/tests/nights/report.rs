//! The table of faults: kind, number, missed, median and worst delay.

use crate::fault::Told;
use crate::kinds;
use std::fmt::Write;
use units::Span;

pub(crate) fn table(all: &[Told]) -> String {
    let head = format!("{:<32} {:>6} {:>6} {:>12} {:>12}", "fault", "number", "missed", "median", "worst");
    let mut out = format!("{head}\n");
    for kind in kinds::all() {
        let of: Vec<&Told> = all.iter().filter(|t| t.kind == kind.name).collect();
        let mut delays: Vec<Span> = of.iter().filter_map(|t| t.delay()).collect();
        delays.sort_unstable();
        let missed = of.iter().filter(|t| t.missed()).count();
        let (median, worst) = (delays.get(delays.len() / 2), delays.last());
        let (n, median, worst) = (of.len(), seconds(median), seconds(worst));
        writeln!(out, "{:<32} {n:>6} {missed:>6} {median:>12} {worst:>12}", kind.name).unwrap();
    }
    out
}

/// A delay before nought is a warning that came early.
fn seconds(delay: Option<&Span>) -> String {
    delay.map_or_else(|| "-".to_owned(), |d| format!("{:.0} s", d.as_seconds()))
}

/// Everything about one that was missed.
pub(crate) fn whole(t: &Told) -> String {
    let said =
        t.answer.as_ref().map_or("nothing fitting".to_owned(), |row| format!("{} at {}", row.key, row.at));
    let truth = t.truth.map_or("never".to_owned(), |at| at.to_string());
    let within = seconds(Some(&t.within));
    format!("{}: {}; true at {truth}, allowed {within}; said {said}; besides {:?}", t.kind, t.about, t.others)
}
