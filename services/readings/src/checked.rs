//! An entry of the topic map that was checked, its pointers taken apart.

use crate::convert::Convert;
use crate::map_error::{Fault, fault};
use crate::place::Name;
use crate::pointer::Pointer;
use crate::reader::{JsonFields, Reader};
use crate::text_formats::Words;
use crate::{Format, MapEntry, Outliers, Rules, Says, topic};
use std::collections::BTreeMap;
use std::sync::Arc;
use units::{Band, ProbeKey, Quantity, Span, VesselId};

/// One entry, ready to be used.
#[derive(Debug)]
pub(crate) struct Entry {
    pub(crate) written: MapEntry,
    pub(crate) about: About,
    pub(crate) device: Option<Name>,
    pub(crate) reader: Reader,
}

/// What its messages are about.
#[derive(Debug)]
pub(crate) enum About {
    Probe(Box<Probe>),
    Availability,
    SignOfLife,
}

/// Whose readings they are, and what holds for them.
#[derive(Debug)]
pub(crate) struct Probe {
    pub(crate) vessel: Name,
    pub(crate) vessels: BTreeMap<String, VesselId>,
    pub(crate) quantity: Quantity,
    pub(crate) mark: Option<Name>,
    pub(crate) convert: Convert,
    pub(crate) rules: Option<Arc<Rules>>,
}

impl Entry {
    pub(crate) fn new(e: MapEntry) -> Result<Self, Fault> {
        if let Some(problem) = topic::filter_fault(&e.topic) {
            return Err(fault("topic", &e.topic, format!("write a topic or filter of MQTT: {problem}")));
        }
        let device = optional(e.device.as_deref(), |d| Name::parse("device", d, &e.topic))?;
        let about = match e.says {
            Says::Reading => About::Probe(Box::new(Probe::new(&e)?)),
            Says::Availability | Says::SignOfLife if device.is_none() => {
                let cure = "name the device that says so, e.g. \"node7\" or \"+1\"";
                return Err(fault("device", "", cure.to_owned()));
            }
            Says::Availability => About::Availability,
            Says::SignOfLife => About::SignOfLife,
        };
        let reader = reader(&e)?;
        nothing_left(&e)?;
        Ok(Self { written: e, about, device, reader })
    }
}

impl Probe {
    fn new(e: &MapEntry) -> Result<Self, Fault> {
        let needed = |field, cure: &str| fault(field, "", cure.to_owned());
        let vessel = e.vessel.as_deref().ok_or_else(|| {
            needed("vessel", "name the vessel it measures, or \"+1\" for what the first '+' stands for")
        })?;
        let quantity =
            e.quantity.ok_or_else(|| needed("quantity", "say what it measures, e.g. \"temperature\""))?;
        let vessel = Name::parse("vessel", vessel, &e.topic)?;
        let mark = optional(e.mark.as_deref(), |m| Name::parse("mark", m, &e.topic))?;
        let probe = Self {
            vessel,
            vessels: e.vessels.clone(),
            quantity,
            mark,
            convert: convert(e, quantity)?,
            rules: rules(e, quantity)?,
        };
        probe.check_names(e)?;
        Ok(probe)
    }

    fn check_names(&self, e: &MapEntry) -> Result<(), Fault> {
        let cure = "use letters, digits, '-', '_' or '.', at most 40, starting with a letter or digit";
        if let Name::Fixed(v) = &self.vessel {
            VesselId::new(v.as_str()).map_err(|_| fault("vessel", v, cure.to_owned()))?;
            if !e.vessels.is_empty() {
                let cure = "it serves a vessel that is written \"+1\"; write that, or take it out";
                return Err(fault("vessels", v, cure.to_owned()));
            }
        }
        match &self.mark {
            Some(Name::Fixed(m)) if self.key_of("V", m).is_none() => Err(fault("mark", m, cure.to_owned())),
            _ => Ok(()),
        }
    }

    fn key_of(&self, vessel: &str, mark: &str) -> Option<ProbeKey> {
        format!("{vessel}/{}/{mark}", self.quantity).parse().ok()
    }

    /// Whose reading a message on this topic is; `None` if the topic holds no name that can be one.
    pub(crate) fn key(&self, topic: &str) -> Option<ProbeKey> {
        let word = self.vessel.of(topic);
        let vessel = match self.vessels.get(word) {
            Some(vessel) => vessel.clone(),
            None => VesselId::new(word).ok()?,
        };
        match &self.mark {
            None => Some(ProbeKey::new(vessel, self.quantity)),
            Some(mark) => self.key_of(vessel.as_str(), mark.of(topic)),
        }
    }
}

fn convert(e: &MapEntry, quantity: Quantity) -> Result<Convert, Fault> {
    let ours = quantity.unit();
    if let Some(u) = e.unit {
        let counted = u == units::Unit::Count && ours == units::Unit::Hertz;
        if u.base() != ours && !counted {
            let cure = format!("{quantity} is measured in {ours}; use that or a unit of the same kind");
            return Err(fault("unit", u.symbol(), cure));
        }
    }
    let scale = number("scale", e.scale, |x| x != 0.0, "write a number other than 0, e.g. 0.001")?;
    let zero_band = number("zero_band", e.zero_band, |x| x >= 0.0, "write a number from 0 on")?;
    let hard_band = hard_band(e, quantity)?;
    let (scale, zero_band) = (scale.unwrap_or(1.0), zero_band.unwrap_or(0.0));
    Ok(Convert { quantity, unit: e.unit, scale, zero_band, hard_band })
}

fn hard_band(e: &MapEntry, quantity: Quantity) -> Result<Band, Fault> {
    let Some((low, high)) = e.hard_band else { return Ok(quantity.hard_band()) };
    Band::new(low, high).filter(|b| b.low < b.high).ok_or_else(|| {
        let cure = format!("write the lowest and the highest {} it can send", quantity.unit());
        fault("hard_band", &format!("{low}, {high}"), cure)
    })
}

/// `None` where nothing is written: then what holds for the quantity holds.
fn rules(e: &MapEntry, quantity: Quantity) -> Result<Option<Arc<Rules>>, Fault> {
    let positive = |field, x| number(field, x, |x| x > 0.0, "write a number above 0");
    let step = positive("max_step", e.max_step)?;
    let within = positive("max_step_s", e.max_step_s)?;
    let every = positive("every_s", e.every_s)?.map(span);
    outliers_fit(e.outliers)?;
    let usual = Rules::of(quantity);
    let max_step = match (step, within, usual.max_step) {
        (None, None, usual) => usual,
        (step, within, usual) => {
            let (usual_step, usual_within) = usual.unzip();
            let cure = "give max_step and max_step_s together";
            let step = step.or(usual_step).ok_or_else(|| fault("max_step", "", cure.to_owned()))?;
            let within =
                within.map(span).or(usual_within).ok_or_else(|| fault("max_step_s", "", cure.to_owned()))?;
            Some((step, within))
        }
    };
    let rules = Rules { hard_band: hard_band(e, quantity)?, max_step, outliers: e.outliers, every };
    Ok((rules != usual).then(|| Arc::new(rules)))
}

fn outliers_fit(outliers: Option<Outliers>) -> Result<(), Fault> {
    match outliers {
        Some(o) if !(5..=99).contains(&o.of) => {
            Err(fault("outliers.of", &o.of.to_string(), "write 5 to 99 values".to_owned()))
        }
        Some(o) if !(2.0..=20.0).contains(&o.beyond) => {
            Err(fault("outliers.beyond", &o.beyond.to_string(), "write 2 to 20".to_owned()))
        }
        _ => Ok(()),
    }
}

fn number(
    field: &'static str,
    x: Option<f64>,
    good: impl Fn(f64) -> bool,
    cure: &str,
) -> Result<Option<f64>, Fault> {
    match x {
        Some(x) if !x.is_finite() || !good(x) => Err(fault(field, &x.to_string(), cure.to_owned())),
        x => Ok(x),
    }
}

fn span(seconds: f64) -> Span {
    Span::from_millis((seconds * 1_000.0) as i64)
}

fn reader(e: &MapEntry) -> Result<Reader, Fault> {
    let needed = |field, cure: &str| fault(field, "", cure.to_owned());
    Ok(match e.format {
        Format::Plain => Reader::Plain,
        Format::Json => Reader::Json(Box::new(json_fields(e)?)),
        Format::Senml => {
            let cure = "write the whole name of the record, base name included";
            Reader::Senml { name: e.name.clone().ok_or_else(|| needed("name", cure))? }
        }
        Format::Words if e.words.is_empty() && e.says == Says::Reading => {
            return Err(needed("words", "write each word and its value, e.g. { ON = 1, OFF = 0 }"));
        }
        Format::Words => Reader::Words {
            words: if e.words.is_empty() { Words::availability() } else { Words::new(&e.words, e.any_case) },
            at: optional(e.pointer.as_deref(), |p| pointer("pointer", p))?,
        },
        Format::List => {
            let cure = "say which item it is, counted from 0";
            Reader::List { column: e.column.ok_or_else(|| needed("column", cure))? }
        }
        Format::KeyValue => {
            let cure = "name the key whose value it is";
            Reader::KeyValue { key: e.key.clone().ok_or_else(|| needed("key", cure))? }
        }
        Format::Float32Le => Reader::Float32Le,
    })
}

fn json_fields(e: &MapEntry) -> Result<JsonFields, Fault> {
    let cure = "point at the number (RFC 6901), e.g. \"/temperature\"";
    let value = e.pointer.as_deref().ok_or_else(|| fault("pointer", "", cure.to_owned()))?;
    let at = |field, text: &Option<String>| optional(text.as_deref(), |p| pointer(field, p));
    Ok(JsonFields {
        value: pointer("pointer", value)?,
        time: at("time", &e.time)?,
        age: at("age", &e.age)?,
        sequence: at("sequence", &e.sequence)?,
        unit: at("unit_at", &e.unit_at)?,
        window: at("window", &e.window)?,
    })
}

/// Fields that mean nothing with this format: whoever wrote one expects something of it.
fn nothing_left(e: &MapEntry) -> Result<(), Fault> {
    let (json, words) = (e.format == Format::Json, e.format == Format::Words);
    let text = |t: &Option<String>| t.clone();
    let odd = [
        ("pointer", text(&e.pointer), json || words),
        ("time", text(&e.time), json),
        ("age", text(&e.age), json),
        ("sequence", text(&e.sequence), json),
        ("unit_at", text(&e.unit_at), json),
        ("window", text(&e.window), json),
        ("name", text(&e.name), e.format == Format::Senml),
        ("words", e.words.keys().next().cloned(), words),
        ("column", e.column.map(|c| c.to_string()), e.format == Format::List),
        ("key", text(&e.key), e.format == Format::KeyValue),
    ];
    match odd.into_iter().find(|(_, value, fits)| value.is_some() && !fits) {
        Some((field, value, _)) => {
            let cure = "it means nothing with this format; take it out or change the format";
            Err(fault(field, &value.unwrap_or_default(), cure.to_owned()))
        }
        None => Ok(()),
    }
}

fn pointer(field: &'static str, text: &str) -> Result<Pointer, Fault> {
    Pointer::parse(text).map_err(|cure| fault(field, text, cure.to_owned()))
}

fn optional<'a, T>(
    text: Option<&'a str>,
    read: impl FnOnce(&'a str) -> Result<T, Fault>,
) -> Result<Option<T>, Fault> {
    text.map(read).transpose()
}
