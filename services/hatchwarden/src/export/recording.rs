//! A recording: several tables in one, as JSON lines that `hatchwarden replay` takes.

use super::tables::kept_comparisons;
use super::{Choice, Trouble, each_reading, flushed};
use serde_json::{Value, json};
use std::io::Write;
use store::{AlarmRow, EntryRow, Reader, ReadingRow};
use units::Time;

/// Writes entries of the account and comparisons of thermometers, whole up to the end, as clutches and offsets need what came
/// before; alarms that were taken on; then the readings of each probe, oldest first. Says how many lines.
pub(super) fn write(reader: &Reader, choice: &Choice, out: &mut dyn Write) -> Result<u64, Trouble> {
    let mut lines = 0;
    let mut put = |line: Value| {
        lines += 1;
        writeln!(out, "{line}").map_err(Trouble::Write)
    };
    let to = choice.to;
    for e in reader.entries()?.into_iter().filter(|e| e.recorded <= to) {
        put(entry(&e)?)?;
    }
    compared(reader, to)?.into_iter().try_for_each(&mut put)?;
    for a in reader.alarm_log_between(choice.from, to)?.into_iter().filter(|a| a.to == "acknowledged") {
        put(acknowledged(&a))?;
    }
    for probe in &choice.probes {
        each_reading(reader, probe, choice, |row| put(reading(row)))?;
    }
    flushed(out)?;
    Ok(lines)
}

/// What thermometers were compared with, whole as the account: an offset holds for readings before it was entered too.
fn compared(reader: &Reader, to: Time) -> Result<Vec<Value>, Trouble> {
    let mut lines = Vec::new();
    for (number, k) in (1..).zip(kept_comparisons(reader)?).filter(|(_, k)| k.recorded <= to) {
        lines.push(json!({ "t": k.recorded, "by": k.by, "comparison": k.comparison }));
        if let Some((by, at)) = k.withdrawn.filter(|(_, at)| *at <= to) {
            lines.push(json!({ "t": at, "by": by, "withdrawn_comparison": number }));
        }
    }
    Ok(lines)
}

fn entry(e: &EntryRow) -> Result<Value, Trouble> {
    let event: Value = serde_json::from_str(&e.json)
        .map_err(|fault| Trouble::Record(format!("account entry {}", e.id), fault))?;
    Ok(json!({ "t": e.recorded, "by": e.by, "event": event }))
}

fn acknowledged(a: &AlarmRow) -> Value {
    json!({ "t": a.at, "acknowledge": a.key })
}

fn reading(r: &ReadingRow) -> Value {
    let (vessel, quantity) = (&r.probe.vessel, r.probe.quantity);
    let mut line = json!({
        "t": r.time, "received": r.received, "vessel": vessel, "quantity": quantity, "value": r.value,
        "unit": quantity.unit().symbol(),
    });
    if let Some(mark) = &r.probe.mark {
        line["mark"] = json!(mark);
    }
    line
}
