//! Where the heat of a tank went.

/// Heat that a tank has taken up since it was set up, J. What went out is negative.
///
/// The sum of all parts is the change of the heat that lies in the water; a test holds it to that.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Energy {
    /// From the heater.
    pub heater: f64,
    /// Through glass, cover and base.
    pub walls: f64,
    /// By evaporation.
    pub vapour: f64,
    /// From neighbour tanks.
    pub neighbours: f64,
    /// With water that ran in and out.
    pub streams: f64,
}

impl Energy {
    /// All of it, J.
    pub fn sum(&self) -> f64 {
        self.heater + self.walls + self.vapour + self.neighbours + self.streams
    }
}
