//! One entry of the topic map as a person writes it.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::{Quantity, Unit, VesselId};

/// One entry of the topic map: which topics, what they say and how they are read. The same words stand in a
/// configuration file, in the API and in the store.
///
/// ```
/// use readings::{Format, MapEntry};
/// let entry = MapEntry {
///     topic: "rack/+/probes".into(),
///     vessel: Some("+1".into()),
///     quantity: Some(units::Quantity::Temperature),
///     format: Format::Json,
///     pointer: Some("/sensors[id=28-00b7]/c".into()),
///     ..MapEntry::default()
/// };
/// let text = serde_json::to_string(&entry).unwrap();
/// assert_eq!(serde_json::from_str::<MapEntry>(&text).unwrap(), entry);
/// assert!(serde_json::from_str::<MapEntry>(r#"{"topc": "a"}"#).is_err());
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(default, deny_unknown_fields)]
pub struct MapEntry {
    /// An exact topic, or a filter with `+` and `#`.
    pub topic: String,
    /// What its messages are about.
    #[serde(skip_serializing_if = "is_default")]
    pub says: Says,
    /// The vessel it measures: its name, or `+1` for what the first `+` of the topic stands for.
    #[serde(skip_serializing_if = "is_default")]
    pub vessel: Option<String>,
    /// What it measures.
    #[serde(skip_serializing_if = "is_default")]
    pub quantity: Option<Quantity>,
    /// Tells probes of one vessel and quantity apart: a word, or `+2` and so on.
    #[serde(skip_serializing_if = "is_default")]
    pub mark: Option<String>,
    /// The device that sends it: its name, or `+1` and so on.
    #[serde(skip_serializing_if = "is_default")]
    pub device: Option<String>,
    /// Vessels by what a `+` stands for, where devices use other names for them.
    #[serde(skip_serializing_if = "is_default")]
    pub vessels: BTreeMap<String, VesselId>,
    /// How its payload is read.
    #[serde(skip_serializing_if = "is_default")]
    pub format: Format,
    /// JSON, and words in JSON: where the value is. JSON Pointer (RFC 6901), where `name[key=value]` chooses a member
    /// of an array.
    #[serde(skip_serializing_if = "is_default")]
    pub pointer: Option<String>,
    /// JSON: where its time is, an epoch or RFC 3339 text.
    #[serde(skip_serializing_if = "is_default")]
    pub time: Option<String>,
    /// JSON: where its age is, seconds before sending.
    #[serde(skip_serializing_if = "is_default")]
    pub age: Option<String>,
    /// JSON: where its running number is.
    #[serde(skip_serializing_if = "is_default")]
    pub sequence: Option<String>,
    /// JSON: where its unit is. It goes before `unit`, which stands in when the field is missing.
    #[serde(skip_serializing_if = "is_default")]
    pub unit_at: Option<String>,
    /// JSON: where the seconds are over which the value was counted; the value is divided by them.
    #[serde(skip_serializing_if = "is_default")]
    pub window: Option<String>,
    /// SenML: the whole name of the record, base name included.
    #[serde(skip_serializing_if = "is_default")]
    pub name: Option<String>,
    /// Words: the value of each.
    #[serde(skip_serializing_if = "is_default")]
    pub words: BTreeMap<String, f64>,
    /// Words: whether `on` is the same as `ON`.
    #[serde(skip_serializing_if = "is_default")]
    pub any_case: bool,
    /// Comma list: which of its items, counted from 0.
    #[serde(skip_serializing_if = "is_default")]
    pub column: Option<usize>,
    /// Key=value: whose value.
    #[serde(skip_serializing_if = "is_default")]
    pub key: Option<String>,
    /// Unit in which the device sends; without one it is the unit of the quantity.
    #[serde(skip_serializing_if = "is_default")]
    pub unit: Option<Unit>,
    /// Factor for the number before its unit is looked at, e.g. 0.001 for thousandths of a degree.
    #[serde(skip_serializing_if = "is_default")]
    pub scale: Option<f64>,
    /// Whether `26,94` is a number here.
    #[serde(skip_serializing_if = "is_default")]
    pub decimal_comma: bool,
    /// Values so near to nothing are nothing, in our unit: the rest noise of a flow meter.
    #[serde(skip_serializing_if = "is_default")]
    pub zero_band: Option<f64>,
    /// Lowest and highest value that this probe can send, in our unit, instead of the quantity's own.
    #[serde(skip_serializing_if = "is_default")]
    pub hard_band: Option<(f64, f64)>,
    /// Furthest step between two readings within `max_step_s` that is believed at once, in our unit.
    #[serde(skip_serializing_if = "is_default")]
    pub max_step: Option<f64>,
    /// Seconds within which `max_step` holds.
    #[serde(skip_serializing_if = "is_default")]
    pub max_step_s: Option<f64>,
    /// Refuses single outliers of a noisy probe; off unless written.
    #[serde(skip_serializing_if = "is_default")]
    pub outliers: Option<Outliers>,
    /// Seconds between two readings; learnt from what comes in unless written.
    #[serde(skip_serializing_if = "is_default")]
    pub every_s: Option<f64>,
}

impl MapEntry {
    /// Every field by name, for those who read one from a form or file.
    pub const FIELDS: &[&str] = &[
        "topic",
        "says",
        "vessel",
        "quantity",
        "mark",
        "device",
        "vessels",
        "format",
        "pointer",
        "time",
        "age",
        "sequence",
        "unit_at",
        "window",
        "name",
        "words",
        "any_case",
        "column",
        "key",
        "unit",
        "scale",
        "decimal_comma",
        "zero_band",
        "hard_band",
        "max_step",
        "max_step_s",
        "outliers",
        "every_s",
    ];
}

/// What messages are about.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Says {
    /// A reading of one probe.
    #[default]
    Reading,
    /// Whether a device is connected: its birth and last will. Tells of the device only, never of air or water.
    Availability,
    /// No reading, but a sign of life of its device: signal strength, uptime and the like.
    SignOfLife,
}

/// How a payload is read.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Format {
    /// The payload is the number, perhaps in quotes, perhaps with a unit behind it.
    #[default]
    Plain,
    /// JSON (RFC 8259), fields named by pointers.
    Json,
    /// Sensor Measurement Lists (RFC 8428), as JSON or CBOR.
    Senml,
    /// A word, as the whole payload or in JSON where a `pointer` is given.
    Words,
    /// Items parted by commas; by semicolons where commas are decimal.
    List,
    /// `key=value` pairs parted by commas, semicolons, `&`, `|` or white space.
    KeyValue,
    /// Four bytes, IEEE 754 single precision, little-endian.
    #[serde(rename = "float32-le")]
    Float32Le,
}

/// A Hampel identifier over the newest values of one probe (Hampel 1974): a value further than `beyond` robust standard
/// deviations from their median is refused. It looks back only, so that an alarm is not delayed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Outliers {
    /// How many values, this one included: 5 to 99.
    pub of: usize,
    /// How many robust standard deviations: 2 to 20.
    pub beyond: f64,
}

fn is_default<T: Default + PartialEq>(x: &T) -> bool {
    *x == T::default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_of_fields_is_the_one_that_is_read() {
        let error = serde_json::from_str::<MapEntry>(r#"{"?": 1}"#).unwrap_err().to_string();
        let quoted: Vec<&str> = error.split('`').skip(3).step_by(2).collect();
        assert_eq!(quoted, MapEntry::FIELDS, "{error}");
    }
}
