//! What people do.

use super::air::Role;
use super::amounts::{outside, percent};
use super::names::Place;
use crate::Lapse;
use serde::{Deserialize, Serialize};
use std::fmt;
use units::Span;

/// Something that somebody does; it is done at once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", rename_all_fields = "snake_case", deny_unknown_fields)]
pub enum Act {
    /// Food goes into a tank.
    Feed {
        /// Which.
        tank: String,
        /// How much, g.
        grams: f64,
        /// Share of protein in it.
        #[serde(default = "half")]
        protein: f64,
    },
    /// Water is let out, and as much filled in.
    WaterChange {
        /// Of which tank.
        tank: String,
        /// Share of the water.
        part: f64,
        /// Temperature of the new water, °C.
        celsius: f64,
        /// How long it takes.
        #[serde(default = "a_while")]
        takes: Lapse,
    },
    /// Evaporated water is filled up, at the temperature of the tank.
    TopUp(String),
    /// Somebody looks at a vessel.
    Look(String),
    /// The thermostat of a tank is set.
    SetPoint {
        /// Of which tank.
        tank: String,
        /// To what, °C.
        celsius: f64,
    },
    /// A pump that waits for a hand is started.
    StartPump(String),
    /// It is stopped again.
    StopPump(String),
    /// A pump is given another role.
    PumpRole {
        /// Which.
        pump: String,
        /// What it is to be.
        role: Role,
    },
    /// A clutch is taken or moved to another vessel, or spat there.
    Move {
        /// Which.
        clutch: String,
        /// Where.
        to: String,
    },
    /// Some of a clutch die.
    Dies {
        /// Which.
        clutch: String,
        /// How many.
        count: u32,
        /// Of what.
        why: String,
    },
    /// Some of a clutch leave it alive: escaped, culled, handed on.
    Leaves {
        /// Which.
        clutch: String,
        /// How many.
        count: u32,
        /// How.
        why: String,
    },
    /// Fish come into a tank, or with a minus leave it.
    Fish {
        /// Which.
        tank: String,
        /// Weight of all of them, g.
        grams: f64,
    },
    /// A device starts anew.
    Restart(String),
    /// Something that no instrument notices.
    Note(String),
}

fn half() -> f64 {
    0.5
}
fn a_while() -> Lapse {
    Lapse::of(Span::minutes(12))
}

impl Act {
    /// What it is done to.
    pub(crate) fn places(&self) -> Vec<Place<'_>> {
        match self {
            Self::Feed { tank, .. } | Self::WaterChange { tank, .. } | Self::Fish { tank, .. } => {
                vec![Place::Tank(tank)]
            }
            Self::TopUp(tank) => vec![Place::Tank(tank)],
            Self::SetPoint { tank, .. } => vec![Place::Heater(tank)],
            Self::Look(vessel) => vec![Place::Vessel(vessel)],
            Self::StartPump(pump) | Self::StopPump(pump) | Self::PumpRole { pump, .. } => {
                vec![Place::Pump(pump)]
            }
            Self::Move { clutch, to } => vec![Place::Clutch(clutch), Place::Vessel(to)],
            Self::Dies { clutch, .. } | Self::Leaves { clutch, .. } => vec![Place::Clutch(clutch)],
            Self::Restart(device) => vec![Place::Device(device)],
            Self::Note(_) => vec![],
        }
    }

    /// An amount that makes no sense: what is wrong.
    pub(crate) fn flaw(&self) -> Option<String> {
        match self {
            Self::Feed { grams, protein, .. } => outside("grams", *grams, 0.0, 100_000.0, "g")
                .or_else(|| outside("protein", *protein, 0.0, 1.0, "")),
            Self::WaterChange { part, celsius, .. } => outside("part", *part, 0.0, 0.95, "")
                .or_else(|| outside("celsius", *celsius, -2.0, 60.0, "°C")),
            Self::SetPoint { celsius, .. } => outside("celsius", *celsius, 0.0, 60.0, "°C"),
            Self::Fish { grams, .. } => outside("grams", *grams, -1e6, 1e6, "g"),
            _ => None,
        }
    }
}

impl fmt::Display for Act {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Feed { tank, grams, .. } => write!(f, "{tank} is fed {grams} g"),
            Self::WaterChange { tank, part, celsius, .. } => {
                write!(f, "{} of the water of {tank} is changed for {celsius} °C", percent(*part))
            }
            Self::TopUp(tank) => write!(f, "{tank} is topped up"),
            Self::Look(vessel) => write!(f, "somebody looks at {vessel}"),
            Self::SetPoint { tank, celsius } => write!(f, "{tank} is set to {celsius} °C"),
            Self::StartPump(pump) => write!(f, "pump {pump} is started by hand"),
            Self::StopPump(pump) => write!(f, "pump {pump} is stopped by hand"),
            Self::PumpRole { pump, role } => write!(f, "pump {pump} is put on {role}"),
            Self::Move { clutch, to } => write!(f, "{clutch} goes into {to}"),
            Self::Dies { clutch, count, why } => write!(f, "{count} of {clutch} die: {why}"),
            Self::Leaves { clutch, count, why } => write!(f, "{count} leave {clutch}: {why}"),
            Self::Fish { tank, grams } => write!(f, "{grams:+} g of fish in {tank}"),
            Self::Restart(device) => write!(f, "device {device} restarts"),
            Self::Note(text) => f.write_str(text),
        }
    }
}
