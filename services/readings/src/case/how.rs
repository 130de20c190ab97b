//! How a case is read, in the words of its file, and the map entry that it stands for.

use crate::{Format, MapEntry, Says};
use serde::Deserialize;
use std::collections::BTreeMap;
use units::{Quantity, Unit};

/// How a payload is read. Further fields are passed over.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub struct HowToRead {
    /// What is measured; nothing if the topic is not mapped.
    pub channel: Option<String>,
    /// `plain`, `json`, `senml`, `word`, `json_word`, `csv`, `keyvalue` or `f32le`.
    pub format: String,
    /// JSON Pointer, with `name[key=value]` to choose a member of an array.
    pub pointer: Option<String>,
    /// Unit as sent; `auto` takes it from the payload.
    pub unit_in: Option<String>,
    /// Unit of the outcome.
    pub unit_out: Option<String>,
    /// Where the unit is.
    pub unit_pointer: Option<String>,
    /// Factor before the unit.
    pub scale: Option<f64>,
    /// Whether a comma is decimal.
    pub decimal_comma: bool,
    /// Where the time is.
    pub time_pointer: Option<String>,
    /// Where the age is, seconds before sending.
    pub age_pointer: Option<String>,
    /// Where the running number is.
    pub seq_pointer: Option<String>,
    /// Where the seconds are over which it was counted.
    pub window_pointer: Option<String>,
    /// What is so small is nothing.
    pub zero_band: Option<f64>,
    /// Furthest step believed at once.
    pub max_step: Option<f64>,
    /// Seconds within which it counts.
    pub max_step_s: Option<f64>,
    /// Value of each word.
    pub map: BTreeMap<String, f64>,
    /// `ignore` makes `on` the same as `ON`.
    pub case: Option<String>,
    /// Item of a comma list, from 0.
    pub column: Option<usize>,
    /// Key of a key=value pair.
    pub key: Option<String>,
    /// Name of a SenML record.
    pub name: Option<String>,
    /// A sign of life, no reading.
    pub liveness_only: bool,
}

impl HowToRead {
    /// The unit of the outcome, if we know it.
    pub(super) fn unit_out(&self) -> Option<Unit> {
        self.unit_out.as_deref().and_then(|u| u.parse().ok())
    }

    /// The map entry; none if the topic is not mapped. The error is a field and its cure.
    pub(super) fn entry(&self, topic: &str) -> Result<Option<MapEntry>, (&'static str, String)> {
        let says = match self.channel.as_deref() {
            _ if self.liveness_only => Says::SignOfLife,
            None => return Ok(None),
            Some("availability") => Says::Availability,
            Some(_) => Says::Reading,
        };
        let entry = MapEntry { topic: topic.to_owned(), says, ..self.format()? };
        Ok(Some(match says {
            Says::Reading => self.reading(entry)?,
            _ => MapEntry { device: Some("device".to_owned()), ..entry },
        }))
    }

    fn format(&self) -> Result<MapEntry, (&'static str, String)> {
        let format = match self.format.as_str() {
            "plain" => Format::Plain,
            "json" => Format::Json,
            "senml" => Format::Senml,
            "word" | "json_word" => Format::Words,
            "csv" => Format::List,
            "keyvalue" => Format::KeyValue,
            "f32le" => Format::Float32Le,
            other => return Err(("how_to_read.format", format!("{other:?} is no format"))),
        };
        let (json, words) = (format == Format::Json, format == Format::Words);
        let only = |when: bool, text: &Option<String>| text.clone().filter(|_| when);
        Ok(MapEntry {
            pointer: only(json || words, &self.pointer),
            time: only(json, &self.time_pointer),
            age: only(json, &self.age_pointer),
            sequence: only(json, &self.seq_pointer),
            unit_at: only(json, &self.unit_pointer),
            window: only(json, &self.window_pointer),
            name: only(format == Format::Senml, &self.name),
            words: if words { self.map.clone() } else { BTreeMap::new() },
            any_case: self.case.as_deref() == Some("ignore"),
            column: self.column.filter(|_| format == Format::List),
            // A pair is named by its key; a file may call that a pointer.
            key: only(format == Format::KeyValue, &self.key.clone().or_else(|| self.pointer_name())),
            format,
            ..MapEntry::default()
        })
    }

    fn pointer_name(&self) -> Option<String> {
        self.pointer.as_deref().map(|p| p.trim_start_matches('/').to_owned())
    }

    fn reading(&self, entry: MapEntry) -> Result<MapEntry, (&'static str, String)> {
        let quantity = self.quantity().ok_or_else(|| {
            let cure = "name a channel that is measured in a unit we know".to_owned();
            ("how_to_read.channel", cure)
        })?;
        Ok(MapEntry {
            vessel: Some("V1".to_owned()),
            quantity: Some(quantity),
            unit: self.unit(quantity),
            scale: self.scale,
            decimal_comma: self.decimal_comma,
            zero_band: self.zero_band,
            max_step: self.max_step,
            max_step_s: self.max_step_s,
            ..entry
        })
    }

    fn quantity(&self) -> Option<Quantity> {
        Some(match self.channel.as_deref()? {
            "temperature" => Quantity::Temperature,
            "air_flow" => Quantity::AirFlow,
            "water_flow" => Quantity::WaterFlow,
            "air_pressure" | "pressure" => Quantity::LinePressure,
            "pump_power" | "power" => Quantity::Power,
            "ph" => Quantity::Ph,
            "conductivity" => Quantity::Conductivity,
            "dissolved_oxygen" => Quantity::DissolvedOxygen,
            "humidity" => Quantity::Humidity,
            "level" => Quantity::Level,
            "room_temperature" => Quantity::RoomTemperature,
            "bubble_rate" => Quantity::BubbleRate,
            "air_ok" => Quantity::AirSwitch,
            "level_ok" => Quantity::LevelSwitch,
            // A channel that we have no word for is judged by what its unit measures.
            _ => {
                let unit = self.unit_out()?.base();
                Quantity::ALL.into_iter().find(|q| q.unit() == unit)?
            }
        })
    }

    /// Whether the unit as sent is one that we know, or none, or made ours by the scale ("mC", "1/16 C").
    pub(super) fn knows_unit_in(&self) -> bool {
        self.scale.is_some() || self.unit_word().is_none_or(|word| word.parse::<Unit>().is_ok())
    }

    fn unit_word(&self) -> Option<&str> {
        self.unit_in.as_deref().filter(|word| !matches!(*word, "" | "auto"))
    }

    fn unit(&self, quantity: Quantity) -> Option<Unit> {
        self.unit_word().map(|word| word.parse().unwrap_or(quantity.unit()))
    }
}
