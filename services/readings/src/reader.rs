//! Reading one payload by one entry.

use crate::body::Body;
use crate::convert::Convert;
use crate::number::{self, Amount};
use crate::pointer::Pointer;
use crate::text_formats::{self, Words};
use crate::{OwnTime, Reason, json, senml};
use serde_json::value::RawValue;
use units::{Span, Unit};

/// How the payloads of one entry are taken apart; its pointers are checked.
#[derive(Debug)]
pub(crate) enum Reader {
    Plain,
    Json(Box<JsonFields>),
    Senml { name: String },
    Words { words: Words, at: Option<Pointer> },
    List { column: usize },
    KeyValue { key: String },
    Float32Le,
}

/// Where everything is in a JSON payload.
#[derive(Debug)]
pub(crate) struct JsonFields {
    pub(crate) value: Pointer,
    pub(crate) time: Option<Pointer>,
    pub(crate) age: Option<Pointer>,
    pub(crate) sequence: Option<Pointer>,
    pub(crate) unit: Option<Pointer>,
    pub(crate) window: Option<Pointer>,
}

/// One value out of a payload, in our unit.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Found {
    pub(crate) value: f64,
    pub(crate) own_time: Option<OwnTime>,
    pub(crate) sequence: Option<u64>,
    pub(crate) within: Option<Span>,
}

impl Reader {
    /// The values of one payload: one, but for SenML, which may carry a series.
    pub(crate) fn read(
        &self,
        body: &Body<'_>,
        convert: &Convert,
        decimal_comma: bool,
    ) -> Result<Vec<Found>, Reason> {
        if body.bytes.is_empty() {
            return Err(Reason::Empty);
        }
        if let Self::Senml { name } = self {
            return series(body.pack()?, name, convert);
        }
        let one = match self {
            Self::Json(fields) => fields.read(body.json()?, convert, decimal_comma)?,
            Self::Words { words, at } => Found {
                value: convert.apply(bare(word(words, at.as_ref(), body)?), None)?,
                ..Found::default()
            },
            _ => Found { value: convert.apply(self.amount(body, decimal_comma)?, None)?, ..Found::default() },
        };
        Ok(vec![one])
    }

    fn amount(&self, body: &Body<'_>, comma: bool) -> Result<Amount, Reason> {
        match self {
            Self::List { column } => text_formats::item(body.text()?, *column, comma),
            Self::KeyValue { key } => text_formats::value_of(body.text()?, key, comma),
            Self::Float32Le => float(body.bytes),
            _ => number::payload(body.text()?, comma),
        }
    }

    /// What a word of this payload stands for.
    pub(crate) fn word(&self, body: &Body<'_>) -> Result<f64, Reason> {
        match self {
            Self::Words { words, at } => word(words, at.as_ref(), body),
            _ => Words::availability().payload(body.text()?),
        }
    }
}

fn bare(value: f64) -> Amount {
    Amount { value, unit: None }
}

fn word(words: &Words, at: Option<&Pointer>, body: &Body<'_>) -> Result<f64, Reason> {
    match at {
        None => words.payload(body.text()?),
        Some(at) => words.field(at.follow(body.json()?).ok_or(Reason::MissingField)?),
    }
}

fn float(bytes: &[u8]) -> Result<Amount, Reason> {
    let bytes: [u8; 4] = bytes.try_into().map_err(|_| Reason::WrongType)?;
    let value = f64::from(f32::from_le_bytes(bytes));
    if value.is_finite() { Ok(bare(value)) } else { Err(Reason::NotANumber) }
}

impl JsonFields {
    fn read(&self, whole: &RawValue, convert: &Convert, comma: bool) -> Result<Found, Reason> {
        let at = |p: &Option<Pointer>| p.as_ref().and_then(|p| p.follow(whole));
        let mut amount = json::amount(self.value.follow(whole).ok_or(Reason::MissingField)?, comma)?;
        if self.window.is_some() {
            amount.value /= seconds(at(&self.window))?;
        }
        let stated = self.stated(at(&self.unit), convert.unit)?;
        let own_time = match json::time(at(&self.time)) {
            None => at(&self.age).and_then(age),
            said => said,
        };
        let sequence = at(&self.sequence).and_then(json::sequence);
        Ok(Found { value: convert.apply(amount, stated)?, own_time, sequence, within: None })
    }

    /// The unit from its own field. Where the map relies on that field alone, it must be there.
    fn stated(&self, found: Option<&RawValue>, mapped: Option<Unit>) -> Result<Option<Unit>, Reason> {
        match found {
            Some(raw) => json::unit(raw).map(Some),
            None if self.unit.is_some() && mapped.is_none() => Err(Reason::MissingField),
            None => Ok(None),
        }
    }
}

/// The seconds over which something was counted.
fn seconds(raw: Option<&RawValue>) -> Result<f64, Reason> {
    let window = json::amount(raw.ok_or(Reason::MissingField)?, false)?;
    if window.value > 0.0 { Ok(window.value) } else { Err(Reason::NotANumber) }
}

/// An age in seconds. Devices write it with and without a sign, and none measures ahead.
fn age(raw: &RawValue) -> Option<OwnTime> {
    if raw.get() == "null" {
        return None;
    }
    let seconds = json::amount(raw, false).ok().map(|a| a.value.abs()).filter(|s| *s <= 1e9);
    Some(seconds.map_or(OwnTime::Unreadable, |s| OwnTime::Ago(Span::from_millis((s * 1e3).round() as i64))))
}

fn series(pack: &[senml::Record], name: &str, convert: &Convert) -> Result<Vec<Found>, Reason> {
    let mut found: Vec<Found> =
        pack.iter().filter(|r| r.name == name).map(|r| record(r, convert)).collect::<Result<_, _>>()?;
    if found.is_empty() {
        return Err(Reason::MissingField);
    }
    // Packs should be in order of time (RFC 8428 section 4.6) and are not always.
    found.sort_by_key(|f| match f.own_time {
        Some(OwnTime::At(t)) => (1, t.millis()),
        Some(OwnTime::Ago(ago)) => (0, -ago.millis()),
        _ => (0, 0),
    });
    Ok(found)
}

fn record(record: &senml::Record, convert: &Convert) -> Result<Found, Reason> {
    let number = match record.value {
        senml::Value::Number(x) => x,
        senml::Value::Truth(b) if convert.quantity.unit() == Unit::State => f64::from(u8::from(b)),
        _ => return Err(Reason::WrongType),
    };
    let amount = match &record.unit {
        None => bare(number),
        // A switch may well be sent as a part of one: `/` is the registered unit for it.
        Some(unit) if unit == "/" && convert.quantity.unit() == Unit::State => bare(number),
        Some(unit) => {
            let (value, unit) = senml::amount(number, unit).ok_or(Reason::UnknownUnit)?;
            Amount { value, unit: Some(unit) }
        }
    };
    let value = convert.apply(amount, None)?;
    Ok(Found { value, own_time: record.time, sequence: None, within: record.update })
}
