//! One entry of the topic map: which topics, how to read them, and whose readings they are.

use crate::body::Body;
use crate::map_error::{Fault, fault};
use crate::number::{self, Amount};
use crate::pointer::Pointer;
use crate::{OwnTime, Raw, Reason, json, plausible, topic};
use units::{ProbeKey, Quantity, Unit};

/// One entry of the topic map, as the installer writes it.
#[derive(Debug, Clone, PartialEq)]
pub struct MapEntry {
    /// An exact topic, or a filter with `+` and `#`.
    pub filter: String,
    /// Whose readings come under it.
    pub probe: ProbeKey,
    /// How its payload is read.
    pub format: Format,
    /// Unit in which the device sends; `None` means the unit of the probe's quantity.
    pub unit: Option<Unit>,
    /// Factor for the number before its unit is looked at, e.g. 0.001 for thousandths of a degree.
    pub scale: Option<f64>,
    /// Whether `26,94` is a number here.
    pub decimal_comma: bool,
}

/// How a payload is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Format {
    /// The payload is the number, perhaps in quotes, perhaps with a unit behind it.
    Plain,
    /// JSON. Fields are named by JSON Pointer (RFC 6901), where `name[key=value]` chooses a member of an array.
    Json {
        /// Where the number is.
        pointer: String,
        /// Where its time is: an epoch or RFC 3339 text.
        time: Option<String>,
        /// Where its running number is.
        sequence: Option<String>,
        /// Where its unit is. It goes before the entry's own unit, which stands in when the field is missing.
        unit: Option<String>,
    },
}

/// An entry that was checked, its pointers taken apart.
#[derive(Debug)]
pub(crate) struct Entry {
    pub(crate) filter: String,
    pub(crate) probe: ProbeKey,
    /// The probe's name, for refusals.
    pub(crate) place: String,
    reader: Reader,
    unit: Option<Unit>,
    scale: Option<f64>,
    decimal_comma: bool,
}

#[derive(Debug)]
enum Reader {
    Plain,
    Json { pointer: Pointer, time: Option<Pointer>, sequence: Option<Pointer>, unit: Option<Pointer> },
}

impl Entry {
    pub(crate) fn new(e: MapEntry) -> Result<Self, Fault> {
        if let Some(problem) = topic::filter_fault(&e.filter) {
            return Err(fault("topic", &e.filter, format!("write a topic or filter of MQTT: {problem}")));
        }
        let place = e.probe.to_string();
        if place.parse::<ProbeKey>().is_err() {
            let cure = "use letters, digits, '-', '_' or '.', at most 40, starting with a letter or digit";
            return Err(fault("mark", e.probe.mark.as_deref().unwrap_or_default(), cure.to_owned()));
        }
        check_unit(&e)?;
        check_scale(&e)?;
        let MapEntry { filter, probe, format, unit, scale, decimal_comma } = e;
        Ok(Self { filter, probe, place, reader: Reader::new(&format)?, unit, scale, decimal_comma })
    }

    pub(crate) fn read(&self, body: &Body<'_>) -> Result<Raw, Reason> {
        match &self.reader {
            Reader::Plain => {
                let amount = number::payload(body.text, self.decimal_comma)?;
                self.raw(amount, None, None, None)
            }
            Reader::Json { pointer, time, sequence, unit } => {
                let whole = body.json()?;
                let at = |p: &Option<Pointer>| p.as_ref().and_then(|p| p.follow(whole));
                let found = pointer.follow(whole).ok_or(Reason::MissingField)?;
                let amount = json::amount(found, self.decimal_comma)?;
                let stated = self.stated(unit.is_some(), at(unit).map(json::unit).transpose()?)?;
                self.raw(amount, stated, json::time(at(time)), at(sequence).and_then(json::sequence))
            }
        }
    }

    /// The unit from its own field. Where the map relies on that field alone, it must be there.
    fn stated(&self, wanted: bool, found: Option<Unit>) -> Result<Option<Unit>, Reason> {
        if wanted && found.is_none() && self.unit.is_none() {
            return Err(Reason::MissingField);
        }
        Ok(found)
    }

    fn raw(
        &self,
        amount: Amount,
        stated: Option<Unit>,
        own_time: Option<OwnTime>,
        sequence: Option<u64>,
    ) -> Result<Raw, Reason> {
        let value = in_our_unit(self.probe.quantity, amount, stated, self.unit, self.scale)?;
        Ok(Raw { probe: self.probe.clone(), value, own_time, sequence })
    }
}

impl Reader {
    fn new(format: &Format) -> Result<Self, Fault> {
        match format {
            Format::Plain => Ok(Self::Plain),
            Format::Json { pointer, time, sequence, unit } => Ok(Self::Json {
                pointer: parse("pointer", pointer)?,
                time: optional("time", time.as_deref())?,
                sequence: optional("sequence", sequence.as_deref())?,
                unit: optional("unit_at", unit.as_deref())?,
            }),
        }
    }
}

fn parse(field: &'static str, text: &str) -> Result<Pointer, Fault> {
    Pointer::parse(text).map_err(|cure| fault(field, text, cure.to_owned()))
}

fn optional(field: &'static str, text: Option<&str>) -> Result<Option<Pointer>, Fault> {
    text.map(|t| parse(field, t)).transpose()
}

fn check_unit(e: &MapEntry) -> Result<(), Fault> {
    let ours = e.probe.quantity.unit();
    match e.unit {
        Some(u) if u.base() != ours => {
            let cure =
                format!("{} is measured in {ours}; use that or a unit of the same kind", e.probe.quantity);
            Err(fault("unit", u.symbol(), cure))
        }
        _ => Ok(()),
    }
}

fn check_scale(e: &MapEntry) -> Result<(), Fault> {
    match e.scale {
        Some(x) if !x.is_finite() || x == 0.0 => {
            Err(fault("scale", &x.to_string(), "write a number other than 0, e.g. 0.001".to_owned()))
        }
        _ => Ok(()),
    }
}

/// A number in the unit of its quantity, if a working probe can send it.
///
/// The unit is the one in a field of its own (`stated`), else the one behind the number, else the map's, else ours.
/// Two that contradict each other are refused: one of them is wrong, and which one is not ours to guess.
pub(crate) fn in_our_unit(
    quantity: Quantity,
    amount: Amount,
    stated: Option<Unit>,
    mapped: Option<Unit>,
    scale: Option<f64>,
) -> Result<f64, Reason> {
    let against = stated.or(mapped);
    let unit = match (amount.unit, against) {
        (Some(a), Some(b)) if a != b => return Err(Reason::UnknownUnit),
        (a, b) => a.or(b).unwrap_or(quantity.unit()),
    };
    if unit.base() != quantity.unit() {
        return Err(Reason::UnknownUnit);
    }
    plausible::check(quantity, unit.to_base(amount.value * scale.unwrap_or(1.0)))
}
