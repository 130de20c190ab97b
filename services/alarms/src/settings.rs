//! Limits, deadbands and delays, and where their defaults come from.

use serde::{Deserialize, Serialize};
use units::Span;

/// How long an alarm may be shelved where nothing else is said: a working day. A planning value.
const SHELVING: Span = Span::hours(8);

/// How long a highly managed alarm may be shelved at most. A planning value: eggs without moving water have little more.
const SHELVING_HIGHLY_MANAGED: Span = Span::minutes(30);

fn usual_shelving() -> Span {
    SHELVING
}

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
    /// While it stands and nobody has taken it on, it calls again so long after it has called last. `None`: it calls once.
    /// One that was acknowledged does not come back by itself, though OPC 10000-9 (B.1.5) and [`crate::step`] have that
    /// arrow: somebody is on it, and a second call would only teach people to ignore calls.
    #[serde(default)]
    pub again_after: Option<Span>,
    /// It guards lives: it cannot be put away for long. The class of OPC 10000-9, 3.1.
    #[serde(default)]
    pub highly_managed: bool,
    /// How long it may be shelved at most. See [`Settings::may_be_shelved_for`].
    #[serde(default = "usual_shelving")]
    pub longest_shelving: Span,
}

impl Settings {
    const fn new(side: Side, limit: f64, deadband: f64, on_delay: Span, off_delay: Span) -> Self {
        Self {
            side,
            limit,
            deadband,
            on_delay,
            off_delay,
            latching: false,
            ack_required: true,
            again_after: None,
            highly_managed: false,
            longest_shelving: SHELVING,
        }
    }

    /// The same, calling once.
    #[must_use]
    pub const fn calling_once(self) -> Self {
        Self { again_after: None, ..self }
    }

    const fn calling_again(self, after: Span) -> Self {
        Self { again_after: Some(after), ..self }
    }

    /// How long it may be shelved: `longest_shelving`, and 30 min (a planning value) at most if it is highly managed.
    pub fn may_be_shelved_for(&self) -> Span {
        if self.highly_managed {
            self.longest_shelving.min(SHELVING_HIGHLY_MANAGED)
        } else {
            self.longest_shelving
        }
    }

    /// Whether both find the same of every value, whatever their delays.
    pub(crate) fn judges_as(&self, other: &Self) -> bool {
        (self.side, self.limit, self.deadband) == (other.side, other.limit, other.deadband)
    }

    /// Air stopped at `limit` L/min. On-delay 20 s, off-delay 30 s, deadband 0.02 L/min: planning values; the on-delay is the
    /// longest harmless gap, near the 15 s for flow in ISA-18.2-2009 (from memory, unverified). Highly managed, and calls
    /// again every 5 min: a planning value, four calls in the 20 min that hatching young have ([`crate::Deadlines`]).
    pub fn air_stopped(limit: f64) -> Self {
        let settings = Self::new(Side::Low, limit, 0.02, Span::seconds(20), Span::seconds(30));
        Self { highly_managed: true, ..settings.calling_again(Span::minutes(5)) }
    }

    /// Air stopped in all tumblers of a line, told by what is found of each: as [`Settings::air_stopped`].
    pub fn line_stopped() -> Self {
        Self { side: Side::Told, limit: 0.0, deadband: 0.0, on_delay: Span::ZERO, ..Self::air_stopped(0.0) }
    }

    /// The mains are gone, by a switch that says 0. On-delay 10 s, off-delay 60 s: planning values, longer than the dips that
    /// pumps ride through. Highly managed and calling again as air, which hangs on it.
    pub fn power_cut() -> Self {
        let settings = Self::new(Side::Low, 0.5, 0.1, Span::seconds(10), Span::seconds(60));
        Self { highly_managed: true, ..settings.calling_again(Span::minutes(5)) }
    }

    /// Water on the floor, by a strip that says 0 (dry is 1). On-delay 10 s, off-delay 5 min: planning values. Calls again every 15 min.
    pub fn leak() -> Self {
        let settings = Self::new(Side::Low, 0.5, 0.1, Span::seconds(10), Span::minutes(5));
        settings.calling_again(Span::minutes(15))
    }

    /// Too warm at `limit` °C. Both delays 60 s as for temperature in ISA-18.2-2009 (from memory, unverified); deadband 0.2 K:
    /// a planning value, three steps of a 1/16 K probe. Calls again every 15 min: a planning value, water turns slowly.
    pub fn too_warm(limit: f64) -> Self {
        let settings = Self::new(Side::High, limit, 0.2, Span::seconds(60), Span::seconds(60));
        settings.calling_again(Span::minutes(15))
    }

    /// Too cold at `limit` °C; all else as [`Settings::too_warm`].
    pub fn too_cold(limit: f64) -> Self {
        Self { side: Side::Low, ..Self::too_warm(limit) }
    }

    /// The hours that water stays in its band, if it goes on so, are 1.5 or fewer for 10 min; over when they have been more than
    /// 2.5 for 20 min. Planning values: time to get up and look, and longer than a heater's cycle.
    pub fn leaving_band() -> Self {
        Self::new(Side::Low, 1.5, 1.0, Span::minutes(10), Span::minutes(20))
    }

    /// Nothing heard for `patience`; over at the next reading.
    pub fn silent(patience: Span) -> Self {
        Self::new(Side::Silence, 0.0, 0.0, patience, Span::ZERO)
    }

    /// The part of the messages' queue that is full is half or more for 2 min; over when it has been under a quarter for 1 min.
    /// Planning values: what a broker has kept while the service was away is taken in within seconds.
    pub fn falling_behind() -> Self {
        Self::new(Side::High, 0.5, 0.25, Span::minutes(2), Span::minutes(1))
    }

    /// Told from outside, at once.
    pub fn told() -> Self {
        Self::new(Side::Told, 0.0, 0.0, Span::ZERO, Span::ZERO)
    }
}
