//! Air lines: pumps, manifold, outlets.

use crate::Lapse;
use serde::{Deserialize, Serialize};
use units::Span;

/// An air line: one manifold that pumps push into and outlets draw from. Flow and pressure are straight lines of each
/// other everywhere; the free flow of the pumps follows from what the outlets take at the usual pressure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LinePlan {
    /// Its name.
    pub name: String,
    /// Pressure in the manifold while nothing is wrong, kPa above the room.
    pub pressure_kpa: f64,
    /// Pressure with every outlet shut, kPa above the room.
    pub shut_off_kpa: f64,
    /// Air let off at the pump, L/min at the usual pressure; the more, the less the outlets mind each other.
    pub bleed_litres_per_minute: f64,
    /// Whether a check valve keeps the air in the line when the pump stops: then the pressure of the shallowest outlet
    /// stays in it and leaks away slowly, though nothing moves.
    pub check_valve: bool,
    /// Time in which held pressure falls to 37 %.
    pub leaks: Lapse,
}

impl Default for LinePlan {
    fn default() -> Self {
        Self {
            name: "air".to_owned(),
            pressure_kpa: 8.0,
            shut_off_kpa: 20.0,
            bleed_litres_per_minute: 4.0,
            check_valve: true,
            leaks: Lapse::of(Span::minutes(40)),
        }
    }
}

/// When a pump runs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// All the time.
    #[default]
    Main,
    /// Starts by itself a while after the main pumps give no air.
    Automatic,
    /// When a person starts it.
    ByHand,
    /// Runs on its battery while its circuit has no power.
    Battery,
}

/// An air pump.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PumpPlan {
    /// Its name, and that of its plug.
    pub name: String,
    /// The line that it feeds; the first if none is named.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<String>,
    /// When it runs.
    pub role: Role,
    /// Its flow, as a share of what all main pumps of the line give together.
    pub strength: f64,
    /// Power that it draws, W.
    pub watts: f64,
    /// Its circuit.
    pub circuit: String,
    /// How long a battery pump runs.
    pub battery: Lapse,
    /// How long a standby waits before it starts by itself.
    pub starts_after: Lapse,
    /// The outlets that it feeds through a branch of its own; all of the line if none is named.
    pub feeds: Vec<String>,
}

impl Default for PumpPlan {
    fn default() -> Self {
        Self {
            name: "P1".to_owned(),
            line: None,
            role: Role::Main,
            strength: 1.0,
            watts: 3.8,
            circuit: super::power::mains(),
            battery: Lapse::of(Span::hours(10)),
            starts_after: Lapse::of(Span::seconds(20)),
            feeds: Vec::new(),
        }
    }
}

/// What hangs on an outlet.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OutletKind {
    /// A chamber in which air turns eggs.
    #[default]
    Tumbler,
    /// A filter or stone that stirs and airs the tank.
    Filter,
}

/// One outlet of an air line, set by its valve.
///
/// Flows are litres at [`crate::GasState::SCENARIO`], 20 °C and 101.325 kPa: then what the pumps give is what the
/// outlets take, whatever the pressure in the line, and a thermal flow probe counts so. A probe may be told to count
/// other litres (`standard_at` of its plan). At the tube's end, under 30 cm of water at 26 °C, such a litre fills 0.99 L.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OutletPlan {
    /// The tumbler, or a name for the filter.
    pub vessel: String,
    /// What hangs on it.
    #[serde(default)]
    pub kind: OutletKind,
    /// The tank in which it hangs; the first if none is named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<String>,
    /// Its line; the first if none is named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<String>,
    /// Flow while nothing is wrong, L/min.
    #[serde(default = "gently")]
    pub litres_per_minute: f64,
    /// Water over the end of the tube, m.
    #[serde(default = "a_foot")]
    pub depth_m: f64,
    /// Pressure that the stone takes at that flow, kPa; the valve takes the rest.
    #[serde(default = "one")]
    pub stone_kpa: f64,
    /// Water in the chamber, L.
    #[serde(default = "chamber")]
    pub chamber_litres: f64,
}

/// No source gives the air flow of a mouthbrooder's tumbler: planning value.
fn gently() -> f64 {
    0.45
}
fn a_foot() -> f64 {
    0.3
}
fn one() -> f64 {
    1.0
}
fn chamber() -> f64 {
    0.3
}

impl std::fmt::Display for Role {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Main => "main",
            Self::Automatic => "automatic",
            Self::ByHand => "by-hand",
            Self::Battery => "battery",
        })
    }
}
