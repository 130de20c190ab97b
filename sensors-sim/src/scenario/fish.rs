//! Clutches: how they would live if nothing went wrong, and what kills them.

use crate::{Lapse, Moment};
use serde::{Deserialize, Serialize};
use units::Span;

/// Eggs of one mother.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClutchPlan {
    /// Its name.
    pub name: String,
    /// The fish, in words.
    #[serde(default)]
    pub fish: String,
    /// Code of the mother.
    #[serde(default)]
    pub mother: String,
    /// When it was laid.
    pub laid: Moment,
    /// The two looks between which the keeper knows it to have been laid; without them the hour was seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub noticed: Option<[Moment; 2]>,
    /// Where it lies at first: the mother's tank, or a tumbler or jar.
    #[serde(rename = "in")]
    pub place: String,
    /// How many eggs.
    pub eggs: u32,
    /// Weight of one, mg.
    #[serde(default = "weight")]
    pub milligrams: f64,
    /// How it develops.
    #[serde(default)]
    pub law: LawPlan,
    /// Whether deaths are drawn; if not, only those die of whom an event tells.
    #[serde(default = "yes")]
    pub deaths_drawn: bool,
}

fn weight() -> f64 {
    25.0
}
fn yes() -> bool {
    true
}

/// The true law of development, which no reader of the room is told. The rate follows temperature as enzymes do
/// (Arrhenius' law below, a fall above; Sharpe & DeMichele 1977 in the form of Schoolfield et al. 1981, both from
/// memory), which is neither a straight line nor a power of the temperature.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LawPlan {
    /// Days from laying to hatch at `celsius`, as a mean over clutches.
    pub hatch_days: f64,
    /// The temperature of that figure, °C.
    pub celsius: f64,
    /// Free swimming after so many times the time to hatch.
    pub swims_at: f64,
    /// Eyes after this share of the time to hatch.
    pub eyes_at: f64,
    /// How far clutches differ: standard deviation of the time, as a share.
    pub between: f64,
    /// How far eggs of a clutch differ: standard deviation of the time, as a share.
    pub within: f64,
    /// Activation energy, eV.
    pub activation_ev: f64,
    /// How far clutches differ in it, eV.
    pub activation_between_ev: f64,
    /// Temperature at which half of the rate is lost again, °C.
    pub half_lost_celsius: f64,
}

impl Default for LawPlan {
    /// An invented rock-dweller: hatch in 7 days at 27 °C, free swimming at 17.
    fn default() -> Self {
        Self {
            hatch_days: 7.0,
            celsius: 27.0,
            swims_at: 2.4,
            eyes_at: 0.55,
            between: 0.05,
            within: 0.03,
            activation_ev: 0.75,
            activation_between_ev: 0.05,
            half_lost_celsius: 35.0,
        }
    }
}

/// What dies. Planning assumptions of this project, stated so that they can be argued with: no published table says
/// how long a mouthbrooder's eggs or young live without moving water.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Deaths {
    /// Eggs before their eyes show.
    pub egg: Lives,
    /// Eyed eggs.
    pub eyed: Lives,
    /// Wrigglers.
    pub wriggler: Lives,
    /// Free swimming in a tumbler, jar or tank.
    pub swimming: Lives,
    /// Oxygen under which they die fast, mg/L.
    pub oxygen_mg_l: f64,
    /// Half-life of those, min.
    pub oxygen_half_life_min: f64,
    /// Coldest and warmest water that they stand, °C. Published for tilapia hatchlings: 21.8 and 32.1.
    pub celsius: [f64; 2],
    /// Half-life beyond, h.
    pub celsius_half_life_h: f64,
}

/// How one stage dies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lives {
    /// Share that dies in a day although all is well.
    pub dies_a_day: f64,
    /// How long still water does nothing.
    pub still_for: Lapse,
    /// Half-life after that, min.
    pub half_life_min: f64,
}

impl Default for Deaths {
    fn default() -> Self {
        let lives = |dies_a_day, still, half_life_min| {
            let still_for = Lapse::of(Span::minutes(still));
            Lives { dies_a_day, still_for, half_life_min }
        };
        Self {
            egg: lives(0.012, 120, 480.0),
            eyed: lives(0.008, 60, 240.0),
            wriggler: lives(0.006, 20, 165.0),
            swimming: lives(0.002, 120, 480.0),
            oxygen_mg_l: 1.0,
            oxygen_half_life_min: 12.0,
            celsius: [21.8, 32.1],
            celsius_half_life_h: 24.0,
        }
    }
}
