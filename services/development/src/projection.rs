//! What a projection says.

use crate::project::PROBABILITY;
use serde::{Deserialize, Serialize};
use units::{Day0, Span, Stage, Time};

/// When one stage is due, or when it was seen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct StageWindow {
    /// The stage.
    pub stage: Stage,
    /// Earliest time: see [`project`](crate::project) for what the window holds.
    pub earliest: Time,
    /// Likeliest time.
    pub likeliest: Time,
    /// Latest time.
    pub latest: Time,
    /// Chance that it lies between earliest and latest; 1 where the keeper knows.
    #[serde(default = "usual")]
    pub probability: f64,
    /// °C·d above the likely base temperature from the middle of day 0 to the likeliest time. A stage that was seen
    /// moves it: what was had by then, and what later stages still need from there.
    pub required: f64,
    /// °C·d of that up to the last reading.
    pub so_far: f64,
    /// Share of the way, 0 to 1.
    pub fraction: f64,
    /// When the keeper had seen it. Watched as it happened, the three times are this one; else they are what is known.
    pub seen: Option<Time>,
    /// When the first of the clutch hatch, by what is usual within one clutch; for a hatch not seen yet.
    #[serde(default)]
    pub first: Option<Time>,
    /// When the last of the clutch hatch.
    #[serde(default)]
    pub last: Option<Time>,
}

/// Windows of every stage of one clutch, from what was known at one reading.
///
/// Numbers are rounded to a millionth, so that a projection written as JSON reads back the same.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Projection {
    /// Key of the species entry.
    pub species: String,
    /// Day 0 as it was known.
    pub day0: Day0,
    /// Time of the last reading it knows; `None` when there was none.
    pub read_until: Option<Time>,
    /// The set-point it was given, °C.
    pub set_point: Option<f64>,
    /// What the water is taken to be after the last reading, °C.
    pub water_to_come: f64,
    /// How long since the earliest day 0 there was no reading, counting only stretches over half an hour.
    pub unread: Span,
    /// Stages in order of life.
    pub stages: Vec<StageWindow>,
    /// What the keeper should know about these windows, in sentences.
    pub warnings: Vec<String>,
}

impl Projection {
    /// The window of a stage; `None` if the entry says nothing of it and nobody saw it.
    pub fn stage(&self, stage: Stage) -> Option<&StageWindow> {
        self.stages.iter().find(|w| w.stage == stage)
    }

    /// How far the clutch has come at `t` by its likeliest times.
    pub fn stage_now_at(&self, t: Time) -> Stage {
        self.stages.iter().filter(|w| w.likeliest <= t).map(|w| w.stage).max().unwrap_or(Stage::Egg)
    }
}

/// What a window holds that was stored before it said so.
fn usual() -> f64 {
    PROBABILITY
}

/// To a millionth.
pub(crate) fn rounded(x: f64) -> f64 {
    (x * 1e6).round() / 1e6
}
