//! Rows of what the store keeps.

use super::Cell;
use crate::room::KeptComparison;
use ledger::Entry;
use readings::Offsets;
use std::sync::Arc;
use store::{AlarmRow, ReadingRow, RefusalCount};
use units::ProbeKey;

/// Rows of the readings of one probe: what all of them share is made once.
pub(crate) fn reading(probe: &ProbeKey, offsets: &Offsets) -> impl Fn(&ReadingRow) -> [Cell; 11] {
    let vessel: Arc<str> = probe.vessel.as_str().into();
    let (quantity, unit) = (Cell::text(probe.quantity.word()), Cell::text(probe.quantity.unit().symbol()));
    let mark = Cell::or_empty(probe.mark.as_deref(), Cell::text);
    move |r| {
        [
            Cell::Time(r.time),
            Cell::Text(vessel.clone()),
            quantity.clone(),
            mark.clone(),
            Cell::Number(r.value),
            Cell::Number(offsets.corrected(&r.probe, r.time, r.value)),
            unit.clone(),
            Cell::Time(r.received),
            Cell::or_empty(r.sequence, Cell::Count),
            Cell::Flag(r.fresh),
            Cell::Count(u64::from(r.flags)),
        ]
    }
}

/// A row of an entry; `stands` unless it was withdrawn.
pub(crate) fn account(e: &Entry, stands: bool) -> Result<[Cell; 8], serde_json::Error> {
    let clutches: Vec<&str> = e.event.clutches().into_iter().map(units::ClutchId::as_str).collect();
    Ok([
        Cell::Count(e.id),
        Cell::Time(e.recorded),
        Cell::text(&*e.by),
        Cell::Time(e.event.at()),
        Cell::or_empty((!clutches.is_empty()).then(|| clutches.join(" ")), Cell::text),
        Cell::Flag(stands),
        Cell::text(e.event.words(&|t| t.to_string())),
        Cell::Json(serde_json::to_string(&e.event)?.into()),
    ])
}

/// A row of a comparison by its number.
pub(crate) fn comparison(number: u64, kept: &KeptComparison) -> [Cell; 13] {
    let (c, withdrawn) = (&kept.comparison, kept.withdrawn.as_ref());
    [
        Cell::Count(number),
        Cell::Time(kept.recorded),
        Cell::text(&*kept.by),
        Cell::text(c.probe.to_string()),
        Cell::Time(c.at),
        Cell::or_empty(c.since, Cell::Time),
        Cell::Number(c.read),
        Cell::Number(c.reference),
        Cell::Number(c.offset()),
        Cell::text(&*c.against),
        Cell::or_empty(c.accuracy, Cell::Number),
        Cell::or_empty(withdrawn, |(_, at)| Cell::Time(*at)),
        Cell::or_empty(withdrawn, |(by, _)| Cell::text(&**by)),
    ]
}

/// A row of a change of an alarm.
pub(crate) fn alarm(a: &AlarmRow) -> [Cell; 5] {
    [Cell::Time(a.at), Cell::text(&*a.key), Cell::text(&*a.from), Cell::text(&*a.to), Cell::text(&*a.text)]
}

/// A row of refusals of one place for one reason.
pub(crate) fn refusal(r: &RefusalCount) -> [Cell; 6] {
    let text = |s: &str| Cell::text(s);
    [
        text(&r.place),
        text(&r.reason),
        Cell::Count(r.count),
        Cell::Time(r.first),
        Cell::Time(r.last),
        text(&r.excerpt),
    ]
}
