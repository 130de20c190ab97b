//! Mains, and the way of the messages.

use crate::Lapse;
use serde::{Deserialize, Serialize};
use units::Span;

/// The circuit that is always there.
pub(crate) const MAINS: &str = "mains";

pub(super) fn mains() -> String {
    MAINS.to_owned()
}

/// A circuit of the mains.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CircuitPlan {
    /// Its name.
    pub name: String,
    /// The fault-current switch that it lies behind.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub behind: Option<String>,
}

/// The router between the devices and the broker.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct NetworkPlan {
    /// Circuit of the router.
    pub circuit: String,
    /// How long the router runs on its battery.
    pub battery: Lapse,
}

impl Default for NetworkPlan {
    fn default() -> Self {
        Self { circuit: mains(), battery: Lapse::of(Span::ZERO) }
    }
}
