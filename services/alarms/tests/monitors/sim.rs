//! Seeded water and air.

/// SplitMix64 (Steele, Lea & Flood 2014) and Box & Muller 1958.
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    pub(crate) fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub(crate) fn normal(&mut self) -> f64 {
        let (u, v) = (1.0 - self.uniform(), self.uniform());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}

pub(crate) fn rounded(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

/// Water of a tank, minute by minute: a room with its day and its weather, a door that is left open now and then, a heater
/// that switches at ±0.3 K or none, and a probe of 1/16 K with noise.
pub(crate) struct Tank {
    chance: Chance,
    minute: i64,
    pub(crate) celsius: f64,
    weather: f64,
    door_until: i64,
    heating: bool,
    /// `None` for a tank that follows the room.
    pub(crate) set_point: Option<f64>,
    /// What the probe adds, K.
    pub(crate) off: f64,
    /// Whether a quarter of the water is changed every third evening.
    pub(crate) changed: bool,
}

/// 90 L in W·h/K (4.17 kJ/K a litre), its loss in W/K, its heater in W: from the project's notes on water.
const CAPACITY: f64 = 90.0 * 4_170.0 / 3_600.0;
const LOSS: f64 = 8.0;
const HEATER: f64 = 200.0;

impl Tank {
    pub(crate) fn heated(seed: u64) -> Self {
        Self { set_point: Some(26.0), ..Self::following(seed) }
    }

    pub(crate) fn changed(seed: u64) -> Self {
        Self { changed: true, ..Self::heated(seed) }
    }

    pub(crate) fn following(seed: u64) -> Self {
        let chance = Chance(seed);
        Self {
            chance,
            minute: 0,
            celsius: 26.0,
            weather: 0.0,
            door_until: 0,
            heating: false,
            set_point: None,
            off: 0.0,
            changed: false,
        }
    }

    /// The room, °C: a day of ±1 K, and weather of 0.5 K that lasts a day.
    fn room(&mut self) -> f64 {
        let rest = (1.0 - (-2.0_f64 / 1_440.0).exp()).sqrt();
        self.weather += -self.weather / 1_440.0 + 0.5 * rest * self.chance.normal();
        let base = if self.set_point.is_some() { 20.0 } else { 26.0 };
        base + (self.minute as f64 / 1_440.0 * std::f64::consts::TAU).sin() + self.weather
    }

    /// A minute later: what the probe says, °C.
    pub(crate) fn step(&mut self) -> f64 {
        self.minute += 1;
        let mut outside = self.room();
        if self.chance.uniform() < 1.0 / 1_440.0 {
            self.door_until = self.minute + 20 + (60.0 * self.chance.uniform()) as i64;
        }
        if self.minute < self.door_until {
            outside -= 5.0;
        }
        if self.changed && self.minute % (3 * 1_440) == 1_080 + 7 * (self.minute / 1_440 % 9) {
            self.celsius -= 1.5; // a quarter at 20 °C
        }
        if let Some(set) = self.set_point {
            self.heating = self.celsius < set - 0.3 || (self.heating && self.celsius < set + 0.3);
        }
        let heat = if self.heating { HEATER } else { 0.0 };
        self.celsius += (heat - LOSS * (self.celsius - outside)) / CAPACITY / 60.0;
        rounded(self.celsius + self.off + 0.03 * self.chance.normal(), 0.0625)
    }
}

/// A line of outlets: a pump whose flow falls to nought at 20 kPa, outlets that take in proportion to what the pressure
/// has beyond a head of 3 kPa, a check valve. All straight lines, as in the simulator.
pub(crate) struct AirLine {
    pub(crate) chance: Chance,
    /// Part of the pump that gives air.
    pub(crate) pump: f64,
    pub(crate) watts: f64,
    /// How far each outlet is open, L/min for each kPa.
    pub(crate) open: Vec<f64>,
    /// Outlets that have lost their head with their hose.
    pub(crate) off: Option<usize>,
    /// Holds the pressure when the pump gives nothing.
    pub(crate) valve: bool,
    free: f64,
}

impl AirLine {
    /// Each outlet takes 0.8 L/min at 8 kPa.
    pub(crate) fn new(outlets: usize, seed: u64) -> Self {
        let free = 0.8 * outlets as f64 / 0.6;
        let open = vec![0.16; outlets];
        Self { chance: Chance(seed), pump: 1.0, watts: 3.8, open, off: None, valve: false, free }
    }

    fn head(&self, outlet: usize) -> f64 {
        if self.off == Some(outlet) { 0.0 } else { 3.0 }
    }

    /// Power, pressure and flows, with the noise of their probes.
    pub(crate) fn read(&mut self) -> (f64, f64, Vec<f64>) {
        let outlets = 0..self.open.len();
        let slope: f64 = self.open.iter().sum::<f64>() + self.free * self.pump / 20.0;
        let heads: f64 = outlets.clone().map(|o| self.open[o] * self.head(o)).sum();
        let pressure = (self.free * self.pump + heads) / slope;
        let gives = self.pump > 0.0;
        let flows = outlets.map(|o| {
            let flow = if gives { self.open[o] * (pressure - self.head(o)).max(0.0) } else { 0.0 };
            if flow > 0.0 { rounded(flow * (1.0 + 0.02 * self.chance.normal()), 0.01) } else { 0.0 }
        });
        let flows: Vec<f64> = flows.collect();
        let shown = match (gives, self.valve) {
            (true, _) => pressure,
            (false, true) => 8.0,
            (false, false) => 0.0,
        };
        let noisy = |x: f64, chance: &mut Chance| rounded(x * (1.0 + 0.005 * chance.normal()), 0.02);
        (
            rounded(self.watts + 0.05 * self.chance.normal(), 0.1).max(0.0),
            noisy(shown, &mut self.chance),
            flows,
        )
    }
}
