//! What a window is wide for, beside the spread of the species.

/// A normal distribution holds four of five within so many standard deviations.
pub(crate) const FOUR_OF_FIVE: f64 = 1.281_551_565_544_6;

/// How far temperatures can be off. Both are standard deviations in °C; neither changes the likeliest time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Doubts {
    /// Constant error of the probe.
    pub probe: f64,
    /// How far the water to come may lie, on the whole, from what it is taken to be.
    pub to_come: f64,
}

impl Doubts {
    /// A probe as it is sold, rated ±0.5 °C: half of that as its standard deviation. The water to come to half a degree
    /// four times of five. Both are planning values.
    pub const USUAL: Self = Self { probe: 0.25, to_come: 0.4 };
    /// Compared with a reference thermometer: ±0.1 °C. A planning value.
    pub const COMPARED: Self = Self { probe: 0.1, to_come: 0.4 };
    /// Temperatures are as they are said to be.
    pub const NONE: Self = Self { probe: 0.0, to_come: 0.0 };
}

impl Default for Doubts {
    fn default() -> Self {
        Self::USUAL
    }
}
