//! At which temperature and pressure a litre of air is meant.

use serde::{Deserialize, Serialize};

/// Temperature and pressure at which a volume of air is meant. Makers' "standard" and "normal" litres differ by up to a
/// tenth, so the conditions are always said.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GasState {
    /// °C.
    pub celsius: f64,
    /// Absolute pressure, kPa.
    pub kpa: f64,
}

impl GasState {
    /// The litres of a scenario: 20 °C and one standard atmosphere, wherever in the line they are counted.
    pub const SCENARIO: Self = Self { celsius: 20.0, kpa: 101.325 };

    /// Litres at this state that a litre at `from` is: the ideal gas law for the same amount of air.
    ///
    /// ```
    /// use sensors_sim::GasState;
    /// let since_1982 = GasState { celsius: 0.0, kpa: 100.0 };
    /// assert!((GasState::SCENARIO.litres_of(since_1982) - 1.05919).abs() < 0.0002);
    /// ```
    pub fn litres_of(self, from: Self) -> f64 {
        let kelvin = |s: Self| s.celsius + 273.15;
        kelvin(self) / kelvin(from) * from.kpa / self.kpa
    }
}
