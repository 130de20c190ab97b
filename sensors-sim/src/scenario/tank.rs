//! Tanks and the air around them.

use crate::Lapse;
use crate::when::HourOfDay;
use serde::{Deserialize, Serialize};
use units::Span;

/// The air of the room: a yearly and a daily wave, some unrest, and what mains and windows do to it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct RoomAirPlan {
    /// Mean over a year, °C.
    pub mean_celsius: f64,
    /// How far the warmest and coldest moment of a day lie from the day's mean, K.
    pub swing_celsius: f64,
    /// When it is warmest.
    pub warmest: HourOfDay,
    /// How far midsummer and midwinter lie from the mean, K.
    pub season_celsius: f64,
    /// Day of the scenario on which the year is coldest.
    pub coldest_day: f64,
    /// Standard deviation of slow random changes, K.
    pub unrest_celsius: f64,
    /// Relative humidity, 0 to 1.
    pub humidity: f64,
    /// How far the room would fall in the end without mains, since its own heating stops, K.
    pub falls_without_mains: f64,
    /// Time in which a change of the room comes to 63 %.
    pub settles: Lapse,
}

impl Default for RoomAirPlan {
    fn default() -> Self {
        Self {
            mean_celsius: 20.0,
            swing_celsius: 1.0,
            warmest: HourOfDay::at(16),
            season_celsius: 0.0,
            coldest_day: 1.0,
            unrest_celsius: 0.0,
            humidity: 0.5,
            falls_without_mains: 3.0,
            settles: Lapse::of(Span::hours(6)),
        }
    }
}

/// Whether something lies over the water.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cover {
    /// A cover keeps vapour in; it is the whole loss that the tank's W/K counts.
    #[default]
    Covered,
    /// Open water: it evaporates, and that cools it besides.
    Open,
}

/// A tank that shares a wall with another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Neighbour {
    /// The other.
    pub tank: String,
    /// Heat that passes for each kelvin between them, W/K. It is counted once, whichever of the two names it.
    pub w_per_k: f64,
}

/// A tank with its heater.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TankPlan {
    /// Its name.
    pub vessel: String,
    /// Water in it, L.
    pub litres: f64,
    /// Length, width and depth of the water, m; without it, as tanks of that volume usually are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size_m: Option<[f64; 3]>,
    /// Whether it is covered.
    #[serde(default)]
    pub cover: Cover,
    /// Heat lost for each kelvin above the room, W/K; without it, from glass, cover and base.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loss_w_per_k: Option<f64>,
    /// What the thermostat holds, °C; without it there is no heater.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_point: Option<f64>,
    /// How much warmer the thermostat switches than its dial says, K.
    #[serde(default)]
    pub dial_error: f64,
    /// From switching on to switching off, K.
    #[serde(default = "half_a_kelvin")]
    pub hysteresis: f64,
    /// Power of the heater, W; without it, three times what holds the water 8 K over the room (planning value).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heater_watts: Option<f64>,
    /// Water temperature at the start, °C; without it, by chance within the hysteresis, or that of the room.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start_celsius: Option<f64>,
    /// Circuit of the heater.
    #[serde(default = "super::power::mains")]
    pub circuit: String,
    /// Tanks that share a wall with it.
    #[serde(default, rename = "neighbour")]
    pub neighbours: Vec<Neighbour>,
    /// Fish that live in it, g in all; they breathe and foul the water.
    #[serde(default)]
    pub fish_grams: f64,
    /// Ammonia nitrogen that its filter can take up, mg an hour; without it, 0.5 for each litre (planning value).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub filter_mg_per_h: Option<f64>,
    /// pH over the day's mean.
    #[serde(default = "rift_lake")]
    pub ph: f64,
    /// How far pH goes up in the light and down in the dark.
    #[serde(default = "a_little")]
    pub ph_swing: f64,
    /// Conductivity at 25 °C, µS/cm.
    #[serde(default = "tap")]
    pub conductivity: f64,
}

fn half_a_kelvin() -> f64 {
    0.5
}
fn rift_lake() -> f64 {
    8.2
}
fn a_little() -> f64 {
    0.08
}
fn tap() -> f64 {
    550.0
}

/// Heat that passes a square metre for each kelvin, W/(m² K): glass sides, covered top, base on foam. Computed for
/// glass of 5 to 10 mm (free convection on a vertical plate and radiation give 6.8 to 7.9 for the sides); no measured
/// value for an aquarium was found, so a real tank may lie 30 % off.
const SIDES: f64 = 7.4;
const TOP: f64 = 5.0;
const BASE: f64 = 2.5;

impl TankPlan {
    /// Length, width and depth of the water, m. A tank without them is twice as long as it is wide and deep.
    pub fn size(&self) -> [f64; 3] {
        self.size_m.unwrap_or_else(|| {
            let side = libm::cbrt(self.litres / 1000.0 / 2.0);
            [2.0 * side, side, side]
        })
    }

    /// Surface of the water, m².
    pub fn surface(&self) -> f64 {
        let [length, width, _] = self.size();
        length * width
    }

    /// Heat lost for each kelvin above the room, W/K.
    ///
    /// ```
    /// # use sensors_sim::TankPlan;
    /// let tank: TankPlan = toml::from_str("vessel = 'G1'\nlitres = 115\nsize_m = [0.80, 0.36, 0.40]").unwrap();
    /// assert!((tank.loss() - 9.03).abs() < 0.01); // computed example, sides 7.4, top 5, base 2.5 W/(m² K)
    /// ```
    pub fn loss(&self) -> f64 {
        let [length, width, depth] = self.size();
        let walls = 2.0 * (length + width) * depth;
        self.loss_w_per_k.unwrap_or(SIDES * walls + (TOP + BASE) * length * width)
    }

    /// Power of the heater, W.
    pub fn watts(&self) -> f64 {
        self.heater_watts.unwrap_or(if self.set_point.is_some() { 3.0 * 8.0 * self.loss() } else { 0.0 })
    }
}
