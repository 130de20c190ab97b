//! What the page shows of probes, their devices, and the topics that nobody has mapped.

use readings::{Comparison, MapEntry};
use serde::Serialize;
use units::{ProbeKey, Span, Time, Unit};
use utoipa::ToSchema;

/// Probes, devices, the map, and what is not mapped.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct ProbesView {
    /// Probes that have been heard.
    pub probes: Vec<ProbeView>,
    /// Devices that have spoken of themselves or are named in the map.
    pub devices: Vec<DeviceView>,
    /// Topics without an entry, the one heard last first.
    pub unmapped: Vec<UnmappedView>,
    /// Entries of the map: those of the configuration, then those claimed on the page.
    pub map: Vec<EntryView>,
    /// Comparisons of probes with a reference thermometer, the newest first.
    pub comparisons: Vec<ComparisonView>,
}

/// One probe and its two clocks.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ProbeView {
    /// Which.
    pub probe: ProbeKey,
    /// Its newest value, with its offset.
    pub value: Option<f64>,
    /// As the probe itself read it.
    pub raw: Option<f64>,
    /// What is added to it.
    pub offset: Option<OffsetView>,
    /// Unit of the value.
    pub unit: Unit,
    /// When a message about it last came in: its device is alive.
    pub last_message: Option<Time>,
    /// When a reading of it was last accepted: the probe itself is alive.
    pub last_accepted: Option<Time>,
    /// Time between two readings.
    pub every: Option<Span>,
    /// How that is known.
    pub every_from: RhythmFrom,
    /// How long it may be silent.
    pub silent_after: Span,
    /// Whether it is silent.
    pub silent: bool,
    /// The device that sends it, where that is known.
    pub device: Option<String>,
}

/// How the time between two readings is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RhythmFrom {
    /// Not yet.
    Unknown,
    /// The median of what came in.
    Learnt,
    /// The device or its map entry says so.
    Told,
}

/// One device.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DeviceView {
    /// Its name.
    pub name: String,
    /// Whether it says that it is connected, if it says anything.
    pub online: Option<bool>,
    /// Since when it has said so.
    pub since: Option<Time>,
    /// When a message of it last came in.
    pub last_message: Option<Time>,
    /// Its probes.
    pub probes: Vec<ProbeKey>,
}

/// One topic that nobody has mapped.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct UnmappedView {
    /// The topic.
    pub topic: String,
    /// How often it was heard.
    pub count: u64,
    /// When last.
    pub last: Time,
    /// Whether the last message had been kept by the broker.
    pub retained: bool,
    /// Beginning of the last payload as text.
    pub payload: String,
}

/// One entry of the map.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EntryView {
    /// Number of the claim; none for an entry of the configuration.
    pub claim: Option<u64>,
    /// The entry.
    pub entry: MapEntry,
    /// Who claimed it.
    pub by: Option<String>,
    /// When.
    pub at: Option<Time>,
}

/// What is added to the readings of a probe.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct OffsetView {
    /// K.
    pub by: f64,
    /// Since when.
    pub from: Time,
}

/// One comparison with a reference thermometer.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ComparisonView {
    /// Its number.
    pub number: u64,
    /// What was compared.
    #[serde(flatten)]
    pub comparison: Comparison,
    /// What follows from it, K.
    pub offset: f64,
    /// Who entered it.
    pub by: String,
    /// When it was entered.
    pub recorded: Time,
    /// Who withdrew it, and when.
    pub withdrawn: Option<(String, Time)>,
}
