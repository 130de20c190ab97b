//! Figures of an entry that stand by themselves.

use super::{Faults, WATER};
use crate::parse::{Reader, as_number};
use crate::species::{BaseTemperature, Figure, Spread};
use toml::Value;
use units::Band;

/// Words that may stand under `how`.
const HOW: [&str; 9] = [
    "read",
    "read (secondary)",
    "abstract",
    "memory",
    "computed",
    "observed",
    "hobby page",
    "common practice",
    "planning value",
];

/// Source and how of a table.
pub(super) fn origin(r: &Reader<'_>, faults: &mut Faults) -> Option<(String, String)> {
    let source = r.text("source", faults);
    let how = r.text("how", faults);
    if let Some(how) = how.filter(|h| !HOW.contains(h)) {
        faults.push(r.fault("how", format!("{how:?}"), format!("use one of {}", HOW.join(", "))));
    }
    Some((source?.to_owned(), how?.to_owned()))
}

/// The figure in this table, with its source and how.
pub(super) fn figure(
    r: &Reader<'_>,
    name: impl Into<String>,
    value: String,
    faults: &mut Faults,
) -> Option<Figure> {
    let (source, how) = origin(r, faults)?;
    Some(Figure { name: name.into(), value, source, how })
}

pub(super) fn base(
    r: &Reader<'_>,
    figures: &mut Vec<Figure>,
    faults: &mut Faults,
) -> Option<BaseTemperature> {
    let b = r.inner("base", faults)?;
    b.only(&["low", "likely", "high", "source", "how"], faults);
    let [low, likely, high] = ["low", "likely", "high"].map(|n| b.number(n, WATER.0, WATER.1, faults));
    let (low, likely, high) = (low?, likely?, high?);
    if !(low <= likely && likely <= high) {
        faults.push(b.fault("likely", likely, format!("it must lie between low ({low}) and high ({high})")));
        return None;
    }
    let value =
        if low < high { format!("{likely} °C ({low} to {high} °C)") } else { format!("{likely} °C") };
    figures.extend(figure(&b, "base temperature", value, faults));
    Some(BaseTemperature { low, likely, high })
}

pub(super) fn band(
    r: &Reader<'_>,
    name: &str,
    figures: &mut Vec<Figure>,
    faults: &mut Faults,
) -> Option<Band> {
    let b = r.inner(name, faults)?;
    b.only(&["low", "high", "source", "how"], faults);
    let [low, high] = ["low", "high"].map(|n| b.number(n, WATER.0, WATER.1, faults));
    let (low, high) = (low?, high?);
    figures.extend(figure(&b, format!("{name} range"), format!("{low} to {high} °C"), faults));
    let band = Band::new(low, high).filter(|_| low < high);
    if band.is_none() {
        faults.push(b.fault("high", high, format!("it must lie above low ({low})")));
    }
    band
}

/// One temperature by itself: `cap` or `upper`.
pub(super) fn celsius(
    r: &Reader<'_>,
    name: &str,
    figures: &mut Vec<Figure>,
    faults: &mut Faults,
) -> Option<f64> {
    let c = r.inner(name, faults)?;
    c.only(&["celsius", "source", "how"], faults);
    let celsius = c.number("celsius", WATER.0, WATER.1, faults)?;
    figures.extend(figure(&c, name, format!("{celsius} °C"), faults));
    Some(celsius)
}

/// A spread with a source of its own.
pub(super) fn spread_table(
    r: &Reader<'_>,
    name: &str,
    called: &str,
    figures: &mut Vec<Figure>,
    faults: &mut Faults,
) -> Option<Spread> {
    let s = r.inner(name, faults)?;
    s.only(&["percent", "source", "how"], faults);
    let spread = percent(&s, "percent", faults)?;
    figures.extend(figure(&s, called, format!("−{} % +{} %", spread.early, spread.late), faults));
    Some(spread)
}

/// One percentage for both sides or two.
pub(super) fn percent(r: &Reader<'_>, name: &str, faults: &mut Faults) -> Option<Spread> {
    let percent = |v: &Value| as_number(v).filter(|p| (0.0..=90.0).contains(p));
    let read = match r.table.get(name) {
        Some(Value::Array(two)) if two.len() == 2 => percent(&two[0]).zip(percent(&two[1])),
        Some(one) => percent(one).map(|p| (p, p)),
        None => None,
    };
    if let Some((early, late)) = read {
        return Some(Spread { early, late });
    }
    let value = r.table.get(name).map_or("(missing)".to_owned(), Value::to_string);
    faults.push(r.fault(name, value, "write a percentage from 0 to 90, or two: [before, after]"));
    None
}
