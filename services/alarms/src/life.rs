//! The life cycle of one alarm: the six main states of ISA-18.2 and the arrows between them.

use serde::{Deserialize, Serialize};

/// A main state of ANSI/ISA-18.2-2016 (IEC 62682), letters A to F there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// A: nothing wrong.
    Normal,
    /// B: stands, nobody has taken it on.
    Unacknowledged,
    /// C: stands, somebody is on it.
    Acknowledged,
    /// D: gone before anybody saw it.
    ReturnedUnacknowledged,
    /// E: gone, unseen, and held until reset.
    LatchedUnacknowledged,
    /// F: gone, seen, and held until reset.
    LatchedAcknowledged,
}

impl State {
    /// The state in words.
    pub fn word(self) -> &'static str {
        match self {
            State::Normal => "normal",
            State::Unacknowledged => "unacknowledged",
            State::Acknowledged => "acknowledged",
            State::ReturnedUnacknowledged => "returned unacknowledged",
            State::LatchedUnacknowledged => "latched unacknowledged",
            State::LatchedAcknowledged => "latched acknowledged",
        }
    }

    /// Whether the condition holds.
    pub fn standing(self) -> bool {
        matches!(self, State::Unacknowledged | State::Acknowledged)
    }
}

/// What can move an alarm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Trigger {
    /// The condition has come.
    ConditionTrue,
    /// The condition has gone.
    ConditionFalse,
    /// A person takes it on.
    Acknowledge,
    /// A person ends a latched alarm.
    Reset,
    /// It has stood too long unseen and is announced again.
    ReAlarm,
}

/// How an alarm is to behave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rules {
    /// Held after the condition has gone, until reset.
    pub latching: bool,
    /// Somebody must acknowledge it.
    pub ack_required: bool,
}

/// The state that follows, and whether it is announced. A trigger that has no arrow changes nothing.
///
/// This is the whole table of the six main states. [`crate::Panel`] pulls [`Trigger::ReAlarm`] only while an alarm is
/// unacknowledged, so an acknowledged one does not come back by itself there.
///
/// ```
/// use alarms::{Rules, State, Trigger, step};
/// let rules = Rules { latching: false, ack_required: true };
/// assert_eq!(step(State::Normal, Trigger::ConditionTrue, rules), (State::Unacknowledged, true));
/// assert_eq!(step(State::Normal, Trigger::Acknowledge, rules), (State::Normal, false));
/// ```
pub fn step(state: State, trigger: Trigger, rules: Rules) -> (State, bool) {
    use State::{
        Acknowledged, LatchedAcknowledged, LatchedUnacknowledged, Normal, ReturnedUnacknowledged,
        Unacknowledged,
    };
    use Trigger::{Acknowledge, ConditionFalse, ConditionTrue, ReAlarm, Reset};
    match (state, trigger) {
        (Normal, ConditionTrue) if !rules.ack_required => (Acknowledged, false),
        (Normal | ReturnedUnacknowledged | LatchedUnacknowledged | LatchedAcknowledged, ConditionTrue) => {
            (Unacknowledged, true)
        }
        (Unacknowledged, ConditionFalse) if rules.latching => (LatchedUnacknowledged, false),
        (Unacknowledged, ConditionFalse) => (ReturnedUnacknowledged, false),
        (Acknowledged, ConditionFalse) if rules.latching => (LatchedAcknowledged, false),
        (Acknowledged, ConditionFalse) => (Normal, false),
        (Unacknowledged, Acknowledge) => (Acknowledged, false),
        (ReturnedUnacknowledged, Acknowledge) => (Normal, false),
        (LatchedUnacknowledged, Acknowledge) => (LatchedAcknowledged, false),
        (LatchedAcknowledged, Reset) => (Normal, false),
        (Unacknowledged | Acknowledged, ReAlarm) => (Unacknowledged, true),
        (same, _) => (same, false),
    }
}
