//! A temperature record as CSV.

use crate::csv_file::{self, Shape};
use serde::Deserialize;
use std::path::Path;
use units::Time;

/// A line as it should be.
pub(super) const EXAMPLE: &str = "2031-03-14T02:15:00Z,26.9";

/// No water with eggs in it is colder or warmer, °C: wide enough to refuse only what cannot be.
const WATER: std::ops::RangeInclusive<f64> = -2.0..=50.0;

const SHAPE: Shape = Shape {
    columns: ["time", "celsius"],
    headers: "time,celsius",
    cure: "write lines such as 2031-03-14T02:15:00Z,26.9",
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Columns {
    time: String,
    celsius: String,
}

/// Readings in order of time, °C.
pub(super) fn read(file: &Path) -> Result<Vec<(Time, f64)>, String> {
    let mut readings: Vec<(Time, f64)> = Vec::new();
    for (line, columns) in csv_file::rows(file, &SHAPE)? {
        let last = readings.last().map(|r| r.0);
        let reading =
            one(&columns, last).map_err(|said| format!("{}, line {line}: {said}", file.display()))?;
        readings.push(reading);
    }
    Ok(readings)
}

fn one(columns: &Columns, last: Option<Time>) -> Result<(Time, f64), String> {
    let t = Time::parse_rfc3339(&columns.time).map_err(|e| format!("time {e}"))?;
    let celsius = celsius(&columns.celsius)?;
    match last {
        Some(last) if t == last => Err(format!("time {t} stands in the file already; leave one line of it")),
        Some(last) if t < last => {
            Err(format!("time {t} lies before the line above ({last}); sort the file by time"))
        }
        _ => Ok((t, celsius)),
    }
}

fn celsius(text: &str) -> Result<f64, String> {
    let value = text.parse().ok().filter(|c| WATER.contains(c));
    value.ok_or_else(|| {
        let (low, high) = (WATER.start(), WATER.end());
        format!(
            "celsius {text:?} is no water temperature; write °C from {low} to {high} with a point, such as 26.9, or \
             leave out the line"
        )
    })
}
