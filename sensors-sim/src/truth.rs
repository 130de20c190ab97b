//! What really happened, beside what the devices say.

use crate::{Act, Fault};
use serde::Serialize;
use units::{Stage, Time};

/// How many of a clutch have reached a stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Share {
    /// The first of them.
    First,
    /// Half of them.
    Half,
    /// The last of them.
    Last,
}

/// One line of the truth.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// When.
    pub at: Time,
    /// What.
    #[serde(flatten)]
    pub what: Known,
}

/// What is known to the room and not to its devices.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "what", rename_all = "kebab-case", rename_all_fields = "snake_case")]
pub enum Known {
    /// A clutch and its own law.
    Clutch {
        /// Which.
        clutch: String,
        /// When it was laid.
        laid: Time,
        /// Where it lies.
        place: String,
        /// How many eggs.
        eggs: u32,
        /// Its days to hatch at its temperature of reference.
        hatch_days: f64,
        /// That temperature, °C.
        celsius: f64,
        /// Its activation energy, eV.
        activation_ev: f64,
    },
    /// Something goes wrong.
    Begins {
        /// What.
        fault: Fault,
        /// In words.
        says: String,
    },
    /// It is mended.
    Ends {
        /// What.
        fault: Fault,
        /// In words.
        says: String,
    },
    /// Somebody does something.
    Act {
        /// What.
        act: Act,
        /// In words.
        says: String,
    },
    /// Somebody forgets something.
    Forgotten {
        /// What.
        act: Act,
        /// In words.
        says: String,
    },
    /// A clutch reaches a stage.
    Reached {
        /// Which.
        clutch: String,
        /// What.
        stage: Stage,
        /// How many of it.
        share: Share,
    },
    /// Some of a clutch die, or leave it alive.
    Fewer {
        /// Which.
        clutch: String,
        /// How many less.
        count: u32,
        /// How many are left.
        alive: u32,
        /// Why.
        why: String,
    },
    /// The water round a clutch stops moving.
    Still {
        /// Which.
        clutch: String,
        /// Where.
        place: String,
    },
    /// It moves again.
    Turning {
        /// Which.
        clutch: String,
        /// Where.
        place: String,
    },
    /// A device cannot be heard any more.
    Away {
        /// Which.
        device: String,
        /// Why.
        why: String,
    },
    /// It can be heard again.
    Back {
        /// Which.
        device: String,
    },
    /// Every hour: the water of a tank.
    Water {
        /// Which.
        tank: String,
        /// °C.
        celsius: f64,
        /// Dissolved oxygen, mg/L.
        oxygen: f64,
        /// Total ammonia nitrogen, mg/L.
        tan: f64,
        /// pH.
        ph: f64,
    },
}

impl Known {
    /// Whether it is the hourly state of something rather than news.
    pub fn is_state(&self) -> bool {
        matches!(self, Self::Water { .. })
    }
}

impl std::fmt::Display for Known {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Clutch { clutch, eggs, place, .. } => write!(f, "{clutch}: {eggs} eggs in {place}"),
            Self::Begins { says, .. } | Self::Act { says, .. } => f.write_str(says),
            Self::Ends { says, .. } => write!(f, "mended: {says}"),
            Self::Forgotten { says, .. } => write!(f, "forgotten: {says}"),
            Self::Reached { clutch, stage, share } => match share {
                Share::First => write!(f, "{clutch}: first {stage}"),
                Share::Half => write!(f, "{clutch}: half {stage}"),
                Share::Last => write!(f, "{clutch}: last {stage}"),
            },
            Self::Fewer { clutch, count, alive, why } => {
                write!(f, "{clutch}: {count} fewer ({why}), {alive} left")
            }
            Self::Still { clutch, place } => write!(f, "{clutch} lies still in {place}"),
            Self::Turning { clutch, place } => write!(f, "{clutch} turns again in {place}"),
            Self::Away { device, why } => write!(f, "device {device} cannot be heard: {why}"),
            Self::Back { device } => write!(f, "device {device} is back"),
            Self::Water { tank, celsius, .. } => write!(f, "{tank} {celsius:.2} °C"),
        }
    }
}
