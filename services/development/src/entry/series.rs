//! Series of observations in a stage.

use super::single::origin;
use super::{Faults, WATER};
use crate::fit::Observation;
use crate::parse::{Reader, as_number};
use crate::series::{FEEDING, Series};
use toml::Value;
use units::Stage;

/// A series, and by how much its last printed digit could hide, in days for each observation.
pub(super) struct Written {
    pub(super) series: Series,
    pub(super) half_digit: Vec<f64>,
}

/// Shortest and longest time that a stage may take, days.
const DAYS: (f64, f64) = (0.01, 400.0);

/// Reads all series of a stage. They are used where the stage leaves its requirement to them.
pub(super) fn read(
    r: &Reader<'_>,
    (stage, after): (Stage, Option<Stage>),
    needed: bool,
    faults: &mut Faults,
) -> Vec<Written> {
    let all: Vec<Written> =
        r.list("series", faults).iter().filter_map(|s| one(s, (stage, after), needed, faults)).collect();
    if needed && !all.is_empty() && !all.iter().any(|w| w.series.used) {
        let hows: Vec<&str> = all.iter().map(|w| w.series.how.as_str()).collect();
        let cure = format!(
            "only what is {} feeds a requirement; give the stage an anchor or degree_days beside this",
            FEEDING.join(", ")
        );
        faults.push(r.fault("series", format!("({})", hows.join(", ")), cure));
    }
    all
}

fn one(
    r: &Reader<'_>,
    (stage, after): (Stage, Option<Stage>),
    needed: bool,
    faults: &mut Faults,
) -> Option<Written> {
    r.only(&["days", "hours", "source", "how", "note", "smooth"], faults);
    let pairs = pairs(r, faults);
    let origin = origin(r, faults);
    let note = r.has("note").then(|| r.text("note", faults).map(str::to_owned)).flatten();
    let smooth = r.flag("smooth", faults);
    let ((observations, half_digit), (source, how)) = (pairs?, origin?);
    let used = needed && FEEDING.contains(&how.as_str());
    let series = Series { stage, after, observations, source, how, note, smooth, used };
    Some(Written { series, half_digit })
}

type Pairs = (Vec<Observation>, Vec<f64>);

/// `days = [[celsius, days], …]`, or the same in hours.
fn pairs(r: &Reader<'_>, faults: &mut Faults) -> Option<Pairs> {
    let (name, in_a_day) = match (r.has("days"), r.has("hours")) {
        (true, false) => ("days", 1.0),
        (false, true) => ("hours", 24.0),
        (both, _) => {
            let value = if both { "(days and hours)" } else { "(missing)" };
            let cure = "give either days = [[celsius, days], …] or hours = [[celsius, hours], …]";
            faults.push(r.fault("days", value, cure));
            return None;
        }
    };
    let written = r.table.get(name);
    let rows = written.and_then(Value::as_array).filter(|rows| !rows.is_empty());
    let read = |row: &Value| pair(row, in_a_day);
    let read = rows.and_then(|rows| rows.iter().map(read).collect::<Option<Vec<_>>>());
    if read.is_none() {
        let value = written.map(Value::to_string).unwrap_or_default();
        let (low, high) = (DAYS.0 * in_a_day, DAYS.1 * in_a_day);
        let cure = format!(
            "write pairs [[celsius, {name}], …]: celsius from {} to {}, {name} from {low} to {high}",
            WATER.0, WATER.1
        );
        faults.push(r.fault(name, value, cure));
    }
    read.map(|all| all.into_iter().unzip())
}

fn pair(row: &Value, in_a_day: f64) -> Option<(Observation, f64)> {
    let [celsius, time] = row.as_array()?.as_slice() else { return None };
    let celsius = as_number(celsius).filter(|c| (WATER.0..=WATER.1).contains(c))?;
    let days = as_number(time).map(|t| t / in_a_day).filter(|d| (DAYS.0..=DAYS.1).contains(d))?;
    Some((Observation { celsius, days, sd: None }, half_digit(time) / in_a_day))
}

/// Half a unit of the last digit as it is written: 8 could be 7.5, 14.7 could be 14.65, 4.0 could be 3.95.
fn half_digit(written: &Value) -> f64 {
    let decimals = match written {
        Value::Float(x) => format!("{x:?}").split_once('.').map_or(0, |(_, d)| d.len()),
        _ => 0,
    };
    0.5 * 10.0_f64.powi(-i32::try_from(decimals).unwrap_or(i32::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_printed_digit_says_what_could_hide() {
        assert_eq!(half_digit(&Value::Integer(8)), 0.5);
        assert!((half_digit(&Value::Float(14.7)) - 0.05).abs() < 1e-12);
        assert!((half_digit(&Value::Float(4.0)) - 0.05).abs() < 1e-12);
        assert!((half_digit(&Value::Float(32.819)) - 0.0005).abs() < 1e-12);
    }
}
