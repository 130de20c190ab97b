//! From the fields of a pack to records that stand alone (RFC 8428 section 4.6).

use super::fields::Fields;
use crate::{OwnTime, Reason};
use units::{Span, Time};

/// The newest version of SenML that we understand (section 4.4).
const VERSION: f64 = 10.0;
/// Times below are counted from now, the others from 1970 (section 4.5.3).
const RELATIVE_BELOW: f64 = 268_435_456.0;

/// One record, resolved.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Record {
    pub(crate) name: String,
    pub(crate) unit: Option<String>,
    /// `None` is the moment of arrival.
    pub(crate) time: Option<OwnTime>,
    pub(crate) value: Value,
    /// The next record of this name comes within so many seconds.
    pub(crate) update: Option<Span>,
}

/// What a record carries.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    Number(f64),
    Truth(bool),
    Text(String),
    /// Data, or a sum without a value: nothing that we read.
    Other,
}

pub(super) fn resolve(pack: &[Fields]) -> Result<Vec<Record>, Reason> {
    let mut base = Fields::default();
    let mut records = Vec::with_capacity(pack.len());
    for fields in pack {
        check(fields, &mut base)?;
        take_bases(fields, &mut base);
        if let Some(record) = record(fields, &base)? {
            records.push(record);
        }
    }
    Ok(records)
}

fn check(fields: &Fields, base: &mut Fields) -> Result<(), Reason> {
    let version = fields.version.or(base.version);
    let differs = fields.version.zip(base.version).is_some_and(|(a, b)| a != b);
    if fields.values() > 1 || differs || version.is_some_and(|v| v > VERSION) {
        return Err(Reason::BadSenml);
    }
    base.version = version;
    Ok(())
}

/// Base fields hold for their own record and those after it, until they are given again.
fn take_bases(fields: &Fields, base: &mut Fields) {
    fn take<T: Clone>(from: &Option<T>, to: &mut Option<T>) {
        if from.is_some() {
            to.clone_from(from);
        }
    }
    take(&fields.base_name, &mut base.base_name);
    take(&fields.base_time, &mut base.base_time);
    take(&fields.base_unit, &mut base.base_unit);
    take(&fields.base_value, &mut base.base_value);
}

fn record(fields: &Fields, base: &Fields) -> Result<Option<Record>, Reason> {
    if fields.values() == 0 && fields.sum.is_none() {
        return Ok(None); // it carries base fields alone
    }
    let name = [&base.base_name, &fields.name].map(|n| n.as_deref().unwrap_or_default()).concat();
    if !good_name(&name) {
        return Err(Reason::BadSenml);
    }
    let time = base.base_time.unwrap_or(0.0) + fields.time.unwrap_or(0.0);
    Ok(Some(Record {
        name,
        unit: fields.unit.clone().or_else(|| base.base_unit.clone()),
        time: own_time(time),
        value: value(fields, base),
        update: fields.update.and_then(seconds),
    }))
}

fn value(fields: &Fields, base: &Fields) -> Value {
    match fields {
        Fields { value: Some(x), .. } => Value::Number(x + base.base_value.unwrap_or(0.0)),
        Fields { truth: Some(b), .. } => Value::Truth(*b),
        Fields { text: Some(t), .. } => Value::Text(t.clone()),
        _ => Value::Other,
    }
}

fn own_time(t: f64) -> Option<OwnTime> {
    if t == 0.0 {
        return None;
    }
    if t < RELATIVE_BELOW {
        return Some(seconds(-t).map_or(OwnTime::Unreadable, OwnTime::Ago));
    }
    Some(Time::from_seconds(t).map_or(OwnTime::Unreadable, OwnTime::At))
}

/// A span that fits, to the millisecond.
fn seconds(s: f64) -> Option<Span> {
    (s.abs() <= 1e11).then(|| Span::from_millis((s * 1_000.0).round() as i64))
}

/// Section 4.5.1: letters, digits and `-:./_`, beginning with a letter or digit.
fn good_name(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_alphanumeric())
        && name.bytes().all(|b| b.is_ascii_alphanumeric() || b"-:./_".contains(&b))
}
