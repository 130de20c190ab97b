//! Devices: what they measure, how they write it, and what is wrong with them.

use super::GasState;
use crate::Lapse;
use serde::{Deserialize, Serialize};
use units::{ProbeKey, Span};

/// How a device writes what it has measured.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shape {
    /// A topic for each probe: `{"v":26.94,"t":1931221050.123,"n":4411}`; without `t` when the device has no clock.
    #[default]
    Json,
    /// A topic for each probe: `26.94`.
    Plain,
    /// One message for the device: `{"V1.temperature":26.94,"TU1.air-flow":0.42,"n":4411,"ts":1931221050.123}`.
    FlatJson,
    /// One message for the device: `{"probes":[{"id":"V1.temperature","value":26.94}],"n":4411}`.
    ListJson,
    /// One message for the device, a SenML pack (RFC 8428) as JSON.
    Senml,
    /// One message for the device: `V1.temperature=26.94 TU1.air-flow=0.42`.
    KeyValue,
    /// One message for the device: `26.94,0.42`.
    CommaList,
    /// A topic for each probe: four bytes, a float, least significant byte first.
    Float32Le,
}

impl Shape {
    /// Whether all probes of a device stand in one message.
    pub fn is_whole(self) -> bool {
        matches!(self, Self::FlatJson | Self::ListJson | Self::Senml | Self::KeyValue | Self::CommaList)
    }
}

/// What a device knows of the time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClockPlan {
    /// It is right, but for `clock_ahead` and what happens to it.
    #[default]
    Right,
    /// None: no time is sent.
    Absent,
    /// Never set: it counts seconds from its start as if that had been 1970.
    Unset,
    /// Right, but written as local time of one hour east and without a zone.
    NoZone,
}

/// Shares of readings that are spoilt, 0 to 1.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Glitches {
    /// 85.0, the value in a digital probe's register at power-on (maker's data sheet: 0550h).
    pub power_on: f64,
    /// -127, a driver's word for a probe that does not answer. It strikes all temperature probes of the device at once.
    pub no_probe: f64,
    /// -0.0625, all bits set on the line.
    pub all_ones: f64,
    /// `nan`, bare: it spoils a JSON message as a whole.
    pub nan: f64,
    /// `null`, or nothing at all where the shape knows none.
    pub null: f64,
    /// The word `unavailable`.
    pub word: f64,
    /// The message, or this part of it, is not sent.
    pub missing: f64,
}

/// How a device loses its Wi-Fi by itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wifi {
    /// Mean time from the end of one loss to the next.
    pub lost_every: Lapse,
    /// Mean length of a loss.
    pub lasts: Lapse,
}

/// A device: one publisher that carries probes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DevicePlan {
    /// Its name, and that of its plug.
    pub name: String,
    /// From one measurement to the next, 0.1 s to a day.
    #[serde(default = "ten_seconds")]
    pub every: Lapse,
    /// Standard deviation of that time, as a share of it.
    #[serde(default)]
    pub jitter: f64,
    /// What it measures, in the order in which it publishes.
    pub probes: Vec<ProbePlan>,
    /// How it writes a reading.
    #[serde(default)]
    pub shape: Shape,
    /// Topic of a shape that puts all probes into one message; `<room>/<device>/probes` if none is named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub topic: Option<String>,
    /// Quality of service, 0 or 1.
    #[serde(default = "at_least_once")]
    pub qos: u8,
    /// Whether the broker is asked to keep its readings.
    #[serde(default)]
    pub retain: bool,
    /// Whether it says `online` and has a will `offline`.
    #[serde(default = "yes")]
    pub will: bool,
    /// Whether its readings carry a running number.
    #[serde(default = "yes")]
    pub numbers: bool,
    /// What it knows of the time.
    #[serde(default)]
    pub clock: ClockPlan,
    /// How far its clock is ahead, s; may be negative.
    #[serde(default)]
    pub clock_ahead_s: f64,
    /// How fast its clock gains, s a day.
    #[serde(default)]
    pub clock_gains_s: f64,
    /// Messages that it keeps while the network is away; the oldest go first. 0: it keeps none.
    #[serde(default)]
    pub keeps: usize,
    /// Share of messages that are sent twice.
    #[serde(default)]
    pub twice: f64,
    /// What spoils single readings.
    #[serde(default)]
    pub glitches: Glitches,
    /// How it loses its Wi-Fi by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wifi: Option<Wifi>,
    /// Its circuit.
    #[serde(default = "super::power::mains")]
    pub circuit: String,
    /// How long it runs on a battery without its circuit.
    #[serde(default = "none")]
    pub battery: Lapse,
    /// From power to its first measurement.
    #[serde(default = "boots")]
    pub boots: Lapse,
    /// First readings of a digital temperature probe after a start that are 85.0.
    #[serde(default)]
    pub wrong_after_start: u32,
}

fn ten_seconds() -> Lapse {
    Lapse::of(Span::seconds(10))
}
fn at_least_once() -> u8 {
    1
}
fn yes() -> bool {
    true
}
fn none() -> Lapse {
    Lapse::of(Span::ZERO)
}
fn boots() -> Lapse {
    Lapse::of(Span::seconds(8))
}

/// One probe of a device; in TOML its key alone will do: `"V1/temperature"`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(from = "Written")]
pub struct ProbePlan {
    /// Which: `V1/temperature`, `TU1/air-flow`, `V1/power/p1`.
    pub probe: ProbeKey,
    /// The thing that it measures where that is not the vessel: a pump, an air line, a header tank, a circuit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of: Option<String>,
    /// What it reads too much, in the unit of the quantity.
    pub offset: f64,
    /// Standard deviation of one reading in the unit of the quantity; for flows, where it is the pulsation, a share of
    /// the flow. Without it, what is usual for the quantity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub noise: Option<f64>,
    /// The steps in which it reads; without it, what is usual for the quantity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step: Option<f64>,
    /// Time in which a change of the water comes to 63 % in the probe.
    pub lag: Lapse,
    /// An air flow probe that tells litres at this state instead of those of the scenario.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standard_at: Option<GasState>,
}

/// A probe as it is written.
#[derive(Deserialize)]
#[serde(untagged)]
enum Written {
    Key(ProbeKey),
    Whole(Whole),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Whole {
    probe: ProbeKey,
    of: Option<String>,
    #[serde(default)]
    offset: f64,
    noise: Option<f64>,
    step: Option<f64>,
    #[serde(default = "none")]
    lag: Lapse,
    standard_at: Option<GasState>,
}

impl From<Written> for ProbePlan {
    fn from(written: Written) -> Self {
        match written {
            Written::Key(probe) => {
                Self { probe, of: None, offset: 0.0, noise: None, step: None, lag: none(), standard_at: None }
            }
            Written::Whole(Whole { probe, of, offset, noise, step, lag, standard_at }) => {
                Self { probe, of, offset, noise, step, lag, standard_at }
            }
        }
    }
}
