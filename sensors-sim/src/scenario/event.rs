//! What happens when: events, and what people do day by day.

use super::act::Act;
use super::fault::Fault;
use crate::when::HourOfDay;
use crate::{Lapse, Moment};
use serde::{Deserialize, Serialize};

/// Something that happens at a time: a fault or an act.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Event {
    /// When.
    pub at: Moment,
    /// Until a fault is mended; without it, never.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lasts: Option<Lapse>,
    /// What goes wrong.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fault: Option<Fault>,
    /// What somebody does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub act: Option<Act>,
    /// How a person would tell it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What somebody does day by day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Routine {
    /// What.
    pub act: Act,
    /// At which hours.
    pub at: Vec<HourOfDay>,
    /// Every how many days.
    #[serde(default = "one")]
    pub every_days: u32,
    /// On which day it begins.
    #[serde(default = "one")]
    pub from_day: u32,
    /// Share of times that it is forgotten.
    #[serde(default)]
    pub forgets: f64,
    /// How late it may be, at most.
    #[serde(default = "super::amounts::no_time")]
    pub late: Lapse,
}

fn one() -> u32 {
    1
}
