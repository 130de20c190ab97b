//! A record of readings and events, a JSON object in a line.

use alarms::AlarmKey;
use ledger::Event;
use readings::Comparison;
use serde_json::{Map, Value};
use std::path::Path;
use units::{ProbeKey, Quantity, Time, VesselId};

/// One line.
#[derive(Debug)]
pub(super) struct Line {
    /// Its number in the file, from 1.
    pub(super) number: usize,
    /// When it came in.
    pub(super) arrived: Time,
    /// What it says.
    pub(super) what: What,
}

/// What a line says.
#[derive(Debug)]
pub(super) enum What {
    /// A reading. Of a vessel's further probes, which bear a mark, no alarm and no date goes by.
    Reading { probe: ProbeKey, time: Time, value: f64 },
    /// A device came or went.
    Availability { vessel: VesselId, online: bool },
    /// Something was written into the account.
    Event { event: Box<Event>, by: String },
    /// A thermometer was compared with a better one.
    Compare { comparison: Comparison, by: String },
    /// A comparison, by its number from 1, was a mistake.
    WithdrawComparison { number: u64, by: String },
    /// Somebody took an alarm on.
    Acknowledge { alarm: AlarmKey, by: String },
}

/// Reads a file; its lines in the order in which they came in. Empty lines and those that begin with # say nothing.
pub(super) fn read(file: &Path) -> Result<Vec<Line>, String> {
    let name = file.display();
    let text = std::fs::read_to_string(file)
        .map_err(|e| format!("{name}: cannot be read: {e}; check the path, and that it is text in UTF-8"))?;
    let said = |line: &(usize, &str)| !line.1.trim().is_empty() && !line.1.trim_start().starts_with('#');
    let mut lines = (1..)
        .zip(text.lines())
        .filter(said)
        .map(|(number, text)| line(number, text).map_err(|e| format!("{name}, line {number}: {e}")))
        .collect::<Result<Vec<_>, _>>()?;
    if lines.is_empty() {
        return Err(format!("{name}: there is no line in it; write readings such as {EXAMPLE}"));
    }
    lines.sort_by_key(|l| l.arrived); // of one moment in the order of the file
    Ok(lines)
}

const EXAMPLE: &str = r#"{"t":"2031-03-14T02:10:00Z","vessel":"V1","quantity":"temperature","value":26.9}"#;

fn line(number: usize, text: &str) -> Result<Line, String> {
    let object: Map<String, Value> = serde_json::from_str(text)
        .map_err(|e| format!("{e}; write one JSON object in a line, e.g. {EXAMPLE}"))?;
    let fields = Fields(&object);
    let time = fields.time("t")?.ok_or_else(|| missing("t", "when it was"))?;
    let arrived = fields.time("received")?.unwrap_or(time);
    Ok(Line { number, arrived, what: what(&fields, time)? })
}

fn what(fields: &Fields<'_>, time: Time) -> Result<What, String> {
    if let Some(event) = fields.0.get("event") {
        let event = serde_json::from_value(event.clone())
            .map_err(|e| format!("event: {e}; write it as the account keeps it"))?;
        return Ok(What::Event { event: Box::new(event), by: fields.by()? });
    }
    if let Some(comparison) = fields.0.get("comparison") {
        let comparison = serde_json::from_value(comparison.clone())
            .map_err(|e| format!("comparison: {e}; write probe, at, read, reference and against"))?;
        return Ok(What::Compare { comparison, by: fields.by()? });
    }
    if let Some(number) = fields.0.get("withdrawn_comparison") {
        let number = number
            .as_u64()
            .ok_or_else(|| format!("withdrawn_comparison is {number}; write its number, 1 for the first"))?;
        return Ok(What::WithdrawComparison { number, by: fields.by()? });
    }
    if let Some(alarm) = fields.text("acknowledge")? {
        let alarm = alarm.parse().map_err(|e| format!("acknowledge: {e}"))?;
        return Ok(What::Acknowledge { alarm, by: fields.by()? });
    }
    let vessel: VesselId = fields.parsed("vessel", "the vessel it was in")?;
    match fields.text("availability")? {
        Some("online") => return Ok(What::Availability { vessel, online: true }),
        Some("offline") => return Ok(What::Availability { vessel, online: false }),
        Some(odd) => return Err(format!("availability is {odd:?}; write online or offline")),
        None => {}
    }
    let quantity: Quantity = fields.parsed("quantity", "what was measured, e.g. temperature or air-flow")?;
    let value = fields.0.get("value").ok_or_else(|| missing("value", "what was read"))?;
    let value = value
        .as_f64()
        .filter(|v| v.is_finite())
        .ok_or_else(|| format!("value is {value}; write a number in the unit of {quantity}"))?;
    let probe = ProbeKey { mark: fields.text("mark")?.map(str::to_owned), ..ProbeKey::new(vessel, quantity) };
    Ok(What::Reading { probe, time, value })
}

fn missing(field: &str, what: &str) -> String {
    format!("{field} is missing; write {what}")
}

/// The fields of a line. Others than those asked for are passed over, so that a fuller export can be played.
struct Fields<'a>(&'a Map<String, Value>);

impl Fields<'_> {
    fn text(&self, field: &str) -> Result<Option<&str>, String> {
        let text = |v: &'_ Value| format!("{field} is {v}; write it in quotes");
        self.0.get(field).map(|v| v.as_str().ok_or_else(|| text(v))).transpose()
    }

    fn parsed<T: std::str::FromStr<Err: std::fmt::Display>>(
        &self,
        field: &str,
        what: &str,
    ) -> Result<T, String> {
        let text = self.text(field)?.ok_or_else(|| missing(field, what))?;
        text.parse().map_err(|e| format!("{field}: {e}"))
    }

    /// RFC 3339, or seconds since 1970.
    fn time(&self, field: &str) -> Result<Option<Time>, String> {
        let odd = |v: &Value| {
            format!("{field} is {v}; write a time such as \"2031-03-14T02:10:00Z\", or seconds since 1970")
        };
        let read = |v: &Value| match v {
            Value::String(text) => Time::parse_rfc3339(text).ok(),
            number => number.as_f64().and_then(Time::from_seconds),
        };
        self.0.get(field).map(|v| read(v).ok_or_else(|| odd(v))).transpose()
    }

    fn by(&self) -> Result<String, String> {
        Ok(self.text("by")?.unwrap_or("replay").to_owned())
    }
}
