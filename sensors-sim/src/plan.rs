//! What stands in the room: the plan, as TOML.

use crate::Fault;
use serde::{Deserialize, Serialize};
use units::ProbeKey;

/// Everything in a room and what will go wrong in it. Unknown keys are refused.
///
/// ```
/// use sensors_sim::Plan;
/// let plan = Plan::from_toml(r#"
///     room = "cellar"
///     [[tank]]
///     vessel = "V1"
///     litres = 90.0
///     set_point = 27.0
///     heater_watts = 150.0
///     loss_w_per_k = 7.5
///     [[device]]
///     name = "b1"
///     interval_s = 10.0
///     probes = [{ probe = "V1/temperature" }]
/// "#).unwrap();
/// assert_eq!(plan.tanks[0].hysteresis, 0.5);
/// assert!(Plan::from_toml("room = 'cellar'\nrooms = 2").unwrap_err().to_string().contains("rooms"));
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// One line for people.
    #[serde(default)]
    pub about: String,
    /// Name of the room: the second level of its topics.
    pub room: String,
    /// The air around the tanks.
    #[serde(default)]
    pub room_air: RoomAirPlan,
    /// The air pump and its manifold.
    #[serde(default)]
    pub pump: PumpPlan,
    /// Bodies of water.
    #[serde(default, rename = "tank")]
    pub tanks: Vec<TankPlan>,
    /// Tumblers and jars on the air line.
    #[serde(default, rename = "outlet")]
    pub outlets: Vec<OutletPlan>,
    /// Publishers.
    #[serde(default, rename = "device")]
    pub devices: Vec<DevicePlan>,
    /// What goes wrong by itself.
    #[serde(default, rename = "event")]
    pub events: Vec<Event>,
}

/// The air of the room: a daily wave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct RoomAirPlan {
    /// Mean over a day, °C.
    pub mean_celsius: f64,
    /// How far the warmest and coldest moment lie from the mean, K.
    pub swing_celsius: f64,
    /// Hour of the day in UTC at which it is warmest.
    pub warmest_hour: f64,
}

impl Default for RoomAirPlan {
    fn default() -> Self {
        Self { mean_celsius: 20.0, swing_celsius: 0.0, warmest_hour: 16.0 }
    }
}

/// The pump: its flow falls in a straight line from free flow to nothing at the shut-off pressure. The free flow
/// follows from the outlets and the bleed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PumpPlan {
    /// Pressure in the manifold while nothing is wrong, kPa above the room.
    pub pressure_kpa: f64,
    /// Pressure with every outlet shut, kPa above the room.
    pub shut_off_kpa: f64,
    /// Air let off at the manifold, L/min at the usual pressure; the more, the less the outlets mind each other.
    pub bleed_litres_per_minute: f64,
}

impl Default for PumpPlan {
    fn default() -> Self {
        Self { pressure_kpa: 8.0, shut_off_kpa: 20.0, bleed_litres_per_minute: 4.0 }
    }
}

/// A tank with its heater.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TankPlan {
    /// Its name.
    pub vessel: String,
    /// Water in it, L.
    pub litres: f64,
    /// What the thermostat holds, °C.
    pub set_point: f64,
    /// From switching on to switching off, K.
    #[serde(default = "half_a_kelvin")]
    pub hysteresis: f64,
    /// Power of the heater, W; 0 for none.
    pub heater_watts: f64,
    /// Heat lost for each kelvin above the room, W/K.
    pub loss_w_per_k: f64,
    /// Water temperature at the start, °C; without it, by chance within the hysteresis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start_celsius: Option<f64>,
}

fn half_a_kelvin() -> f64 {
    0.5
}

/// One outlet of the air line, set by its valve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OutletPlan {
    /// The tumbler or jar.
    pub vessel: String,
    /// Flow while nothing is wrong, L/min.
    pub litres_per_minute: f64,
    /// Water over the end of the tube, m.
    #[serde(default = "a_foot")]
    pub depth_m: f64,
}

fn a_foot() -> f64 {
    0.3
}

/// How a device writes a reading.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shape {
    /// `{"v":26.94,"t":1931221050.123,"n":4411}`; without `t` when the device has no clock.
    #[default]
    Json,
    /// `26.94`
    Plain,
}

/// A device: one publisher that carries probes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DevicePlan {
    /// Its name.
    pub name: String,
    /// Seconds between two readings of a probe, 0.1 to 86,400.
    pub interval_s: f64,
    /// What it measures, in the order in which it publishes.
    pub probes: Vec<ProbePlan>,
    /// How it writes a reading.
    #[serde(default)]
    pub shape: Shape,
    /// Whether it has a clock that it trusts.
    #[serde(default = "yes")]
    pub clock: bool,
    /// How far its clock is ahead, s.
    #[serde(default)]
    pub clock_ahead_s: f64,
}

fn yes() -> bool {
    true
}

/// One probe of a device.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProbePlan {
    /// Which: `V1/temperature`, `TU1/air-flow`, `V1/power`, or at any vessel `…/room-temperature`, `…/line-pressure`.
    pub probe: ProbeKey,
    /// What it reads too much, in the unit of the quantity.
    #[serde(default)]
    pub offset: f64,
    /// Standard deviation of one reading: K, kPa or W; for air flow, where it is the pulsation, a fraction of the flow.
    /// Without it 0.03 K in water, 0.1 K in air, 0.03 of the flow, 0.05 kPa, 0.5 W.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub noise: Option<f64>,
}

/// A fault at a time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Event {
    /// When, in seconds after the start.
    pub at: f64,
    /// Whether `at` counts from the start itself or from the midnight (UTC) before it.
    #[serde(default)]
    pub counted_from: CountedFrom,
    /// Seconds until it is mended; without it, never.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lasts: Option<f64>,
    /// What goes wrong.
    pub fault: Fault,
}

/// From where the time of an event counts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CountedFrom {
    /// From the start of the room.
    #[default]
    Start,
    /// From the midnight (UTC) at or before the start, so that it falls at a known hour of the day.
    Midnight,
}

/// A plan that cannot be run.
#[derive(Debug, thiserror::Error)]
pub enum PlanError {
    /// Not TOML, a key missing, or one that no plan has.
    #[error("the plan cannot be read: {0}")]
    Toml(#[from] toml::de::Error),
    /// Values that make no room; all of them, each with field, value and cure.
    #[error("the plan will not do:\n  {}", .0.join("\n  "))]
    Flaws(Vec<String>),
}

impl Plan {
    /// Reads and checks a plan.
    ///
    /// # Errors
    /// [`PlanError`], with every fault that was found.
    pub fn from_toml(text: &str) -> Result<Self, PlanError> {
        let plan: Self = toml::from_str(text)?;
        plan.check()?;
        Ok(plan)
    }

    /// Two tanks of the Undercroft: V1 90 L at 27.0 °C with tumblers TU1 to TU3, V2 120 L at 28.5 °C with TU4, one
    /// pump, devices b1 and b2 with six probes between them, and two nights with the heater of V1 off.
    pub fn undercroft_cut() -> Self {
        // A shipped plan parses: a test reads every one. Should it not, an empty room is what is left.
        Self::from_toml(crate::shipped::UNDERCROFT_CUT).unwrap_or_default()
    }
}
