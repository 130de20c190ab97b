//! Other water for a clutch, and why its dates moved: what is asked and what is shown.

use serde::Serialize;
use units::{Span, Stage, Time};
use utoipa::ToSchema;

/// What is tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// All of its life at this temperature, °C.
    Always(f64),
    /// As it was, then from the last reading on at this temperature, °C.
    FromNow(f64),
    /// Whatever temperature from the last reading on puts the stage at that time.
    Put {
        /// The stage.
        stage: Stage,
        /// Its wanted likeliest time.
        at: Time,
    },
}

/// What would come of it.
#[derive(Debug, Clone, PartialEq)]
pub enum Foreseen {
    /// The water and the windows that follow.
    Water(OtherWater),
    /// Water within the range of the species cannot put the stage there.
    OutOfReach(Reach),
}

/// A clutch in other water.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct OtherWater {
    /// The temperature, °C.
    pub celsius: f64,
    /// From when on; `None`: all of its life.
    pub from: Option<Time>,
    /// For a date: how closely the water would have to be held.
    pub put: Option<Put>,
    /// Stages nobody has seen yet, in order of life.
    pub stages: Vec<OtherStage>,
    /// Plain warnings, e.g. that the water lies outside what is tolerated.
    pub warnings: Vec<String>,
    /// What forcing temperature does.
    pub caution: String,
}

/// What was wanted of the water.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Put {
    /// The stage.
    pub stage: Stage,
    /// Its wanted likeliest time.
    pub at: Time,
    /// How much sooner it comes for each tenth of a degree warmer.
    pub per_tenth: Span,
    /// In words, where the temperature was looked for.
    pub range: String,
}

/// One stage in other water.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct OtherStage {
    /// The stage.
    pub stage: Stage,
    /// Likeliest time as it is projected now; `None` where there is no projection.
    pub as_is: Option<Time>,
    /// Earliest time in the other water.
    pub earliest: Time,
    /// Likeliest time.
    pub likeliest: Time,
    /// Latest time.
    pub latest: Time,
}

/// Between which times water can put a stage.
#[derive(Debug, Clone, PartialEq)]
pub struct Reach {
    /// The stage.
    pub stage: Stage,
    /// What was wanted.
    pub wanted: Time,
    /// Earliest time, and the water for it, °C.
    pub earliest: (Time, f64),
    /// Latest time, and the water for it, °C.
    pub latest: (Time, f64),
    /// In words, the range of the water.
    pub range: String,
    /// What forcing temperature does.
    pub caution: String,
}

impl Reach {
    /// In one sentence, its times written by `when`.
    pub(crate) fn words(&self, when: impl Fn(Time) -> String) -> String {
        let (from, to) = (when(self.earliest.0), when(self.latest.0));
        format!(
            "{} cannot be had: within {} {} can be put from {from} (at {:.1} °C) to {to} (at {:.1} °C); give a time \
             between them. {}",
            when(self.wanted),
            self.range,
            self.stage,
            self.earliest.1,
            self.latest.1,
            self.caution
        )
    }
}

/// What moved the dates of a clutch between two times.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Moved {
    /// What was known then.
    pub from: Time,
    /// What is known by this time.
    pub to: Time,
    /// Stages in order of life.
    pub stages: Vec<StageMoved>,
}

/// How far one stage moved, and its parts.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StageMoved {
    /// The stage.
    pub stage: Stage,
    /// Likeliest time as it was put then.
    pub before: Time,
    /// As it is put later.
    pub after: Time,
    /// How much sooner it is; negative: later. The sum of the parts, to the millisecond.
    pub gained: Span,
    /// Parts that are not zero.
    pub parts: Vec<PartMoved>,
}

/// A part of a shift.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PartMoved {
    /// What kind of cause, as a word: `day0`, `species`, `seen`, `late-readings`, `corrected-readings`, `water`,
    /// `water-to-come`.
    pub kind: String,
    /// Beginning of the stretch it is about.
    pub from: Time,
    /// Its end.
    pub to: Time,
    /// How much sooner it made the stage; negative: later.
    pub gained: Span,
    /// The cause in words, e.g. "25.4 °C instead of 27.0".
    pub cause: String,
}
