//! Limits, deadbands and delays, and where their defaults come from.

use serde::{Deserialize, Serialize};
use units::Span;

/// Which way a condition looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Raised at or above the limit.
    High,
    /// Raised at or below the limit.
    Low,
    /// Raised when nothing has been heard for the on-delay.
    Silence,
    /// Told from outside.
    Told,
}

/// When an alarm is raised and cleared.
///
/// Raised at or beyond `limit` after `on_delay`; cleared strictly inside `limit` less `deadband` (more, for a low limit)
/// after `off_delay`. Limit and deadband are in the unit of the quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// Which way.
    pub side: Side,
    /// Where it begins.
    pub limit: f64,
    /// How far it must come back.
    pub deadband: f64,
    /// How long it must hold before it is raised.
    pub on_delay: Span,
    /// How long it must be gone before it is cleared.
    pub off_delay: Span,
    /// Held until reset.
    pub latching: bool,
    /// Somebody must acknowledge it.
    pub ack_required: bool,
}

impl Settings {
    const fn new(side: Side, limit: f64, deadband: f64, on_delay: Span, off_delay: Span) -> Self {
        Self { side, limit, deadband, on_delay, off_delay, latching: false, ack_required: true }
    }

    /// Air stopped at `limit` L/min. On-delay 20 s, off-delay 30 s, deadband 0.02 L/min: planning values; the on-delay is the
    /// longest harmless gap, near the 15 s for flow in ISA-18.2-2009 (from memory, unverified).
    pub fn air_stopped(limit: f64) -> Self {
        Self::new(Side::Low, limit, 0.02, Span::seconds(20), Span::seconds(30))
    }

    /// Too warm at `limit` °C. Both delays 60 s as for temperature in ISA-18.2-2009 (from memory, unverified); deadband 0.2 K:
    /// a planning value, three steps of a 1/16 K probe.
    pub fn too_warm(limit: f64) -> Self {
        Self::new(Side::High, limit, 0.2, Span::seconds(60), Span::seconds(60))
    }

    /// Too cold at `limit` °C; delays and deadband as [`Settings::too_warm`].
    pub fn too_cold(limit: f64) -> Self {
        Self { side: Side::Low, ..Self::too_warm(limit) }
    }

    /// Nothing heard for `patience`; over at the next reading.
    pub fn silent(patience: Span) -> Self {
        Self::new(Side::Silence, 0.0, 0.0, patience, Span::ZERO)
    }

    /// Told from outside, at once.
    pub fn told() -> Self {
        Self::new(Side::Told, 0.0, 0.0, Span::ZERO, Span::ZERO)
    }
}
