//! A step of an alarm, for whoever announces, logs and keeps it.

use crate::{AlarmKey, Flag, Shown, State, Trigger};
use serde::Serialize;
use units::Time;

/// What moved an alarm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// The condition has come or gone.
    Condition,
    /// A person acknowledged or reset it.
    Person,
    /// Nobody has taken it on: it calls again. From and to are both unacknowledged.
    Again,
    /// This flag was set or renewed.
    Flagged(Flag),
    /// This flag has ended, by a person or by itself.
    Unflagged(Flag),
    /// It is not watched any more.
    Unwatched,
}

impl Cause {
    pub(crate) fn of(trigger: Trigger) -> Self {
        match trigger {
            Trigger::ConditionTrue | Trigger::ConditionFalse => Cause::Condition,
            Trigger::Acknowledge | Trigger::Reset => Cause::Person,
            Trigger::ReAlarm => Cause::Again,
        }
    }
}

/// A step of an alarm in its life cycle.
///
/// Somebody is to be called when `announce` says so and at no other step: under a flag the main states go on without a
/// call. An announced step is either a fresh alarm ([`Cause::Condition`], or [`Cause::Unflagged`] when it comes back from
/// under a flag) or one that calls again ([`Cause::Again`]).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Transition {
    /// Which alarm.
    pub key: AlarmKey,
    /// When.
    pub at: Time,
    /// From this main state.
    pub from: State,
    /// To this one; the same when it calls again, and when a flag is set.
    pub to: State,
    /// Whether somebody is to be called.
    pub announce: bool,
    /// When the condition began.
    pub since: Time,
    /// Value of the probe then.
    pub value: Option<f64>,
    /// What moved it.
    pub cause: Cause,
    /// The flag it is shown under after the step.
    pub flag: Option<Flag>,
}

impl Transition {
    /// What it is shown as after the step.
    pub fn shown(&self) -> Shown {
        Shown::of(self.to, self.flag)
    }
}
