//! Jars fed by running water from a header tank.

use crate::Lapse;
use serde::{Deserialize, Serialize};

/// A loop: a pump lifts water from a tank through a strainer into a header tank, from which it runs through the jars
/// back into the tank.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LoopPlan {
    /// Its name, also that of its header tank.
    pub name: String,
    /// The tank that the water comes from; the first if none is named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<String>,
    /// Water in the full header tank, L.
    #[serde(default = "header")]
    pub header_litres: f64,
    /// The water pump, and its plug.
    #[serde(default = "first_pump")]
    pub pump: String,
    /// Flow of the pump, as a share of what the jars take from a full header; the rest runs over.
    #[serde(default = "plenty")]
    pub surplus: f64,
    /// Power of the pump, W.
    #[serde(default = "watts")]
    pub watts: f64,
    /// Circuit of the pump.
    #[serde(default = "super::power::mains")]
    pub circuit: String,
    /// A standby that starts by itself this long after the pump stands still; without it there is none. It draws through
    /// the same strainer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standby_after: Option<Lapse>,
    /// Circuit of the standby: one of its own helps in more cases.
    #[serde(default = "super::power::mains")]
    pub standby_circuit: String,
}

fn header() -> f64 {
    60.0
}
fn first_pump() -> String {
    "W1".to_owned()
}
fn plenty() -> f64 {
    1.3
}
fn watts() -> f64 {
    25.0
}

/// A jar, or a bank of them on one pipe.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JarPlan {
    /// Its name.
    pub vessel: String,
    /// Its loop; the first if none is named.
    #[serde(default, rename = "loop", skip_serializing_if = "Option::is_none")]
    pub jar_loop: Option<String>,
    /// Flow from a full header, L/min. Published for a round bottle of 4 L: 2.7 L/min.
    #[serde(default = "bottle_flow")]
    pub litres_per_minute: f64,
    /// Water in it, L.
    #[serde(default = "bottle")]
    pub litres: f64,
    /// Level of the header, 0 to 1, at which it runs dry: the further down the line, the higher.
    #[serde(default = "low")]
    pub dry_at: f64,
}

fn bottle_flow() -> f64 {
    2.7
}
fn bottle() -> f64 {
    4.0
}
fn low() -> f64 {
    0.1
}
