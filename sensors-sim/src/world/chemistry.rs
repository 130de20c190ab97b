//! What is dissolved in a tank: oxygen, ammonia, salts, and what pH follows.

use crate::TankPlan;

/// Oxygen in fresh water in balance with air at 1 atm, mg/L: Benson & Krause 1984 (Limnol. Oceanogr. 29:620-632,
/// equation 32), valid from 0 to 40 °C.
pub(crate) fn saturation(celsius: f64) -> f64 {
    let t = celsius.clamp(0.0, 40.0) + 273.15;
    let (a, b) = (1.575_701e5 / t, 6.642_308e7 / (t * t));
    let (c, d) = (1.243_800e10 / (t * t * t), 8.621_949e11 / (t * t * t * t));
    libm::exp(-139.344_11 + a - b + c - d)
}

/// Vapour pressure over water, kPa: Magnus' form with the coefficients of Alduchov & Eskridge 1996 (from memory).
pub(crate) fn vapour_pressure(celsius: f64) -> f64 {
    0.610_94 * libm::exp(17.625 * celsius / (243.04 + celsius))
}

/// Heat that a kilogram of water takes to evaporate, kJ: 2,441.7 at 25 °C, 2,434.6 at 28 °C (IAPWS).
pub(crate) fn latent_heat(celsius: f64) -> f64 {
    2501.0 - 2.372 * celsius
}

/// Heat taken by evaporation from open water in still air, W/m²: the form of Carrier and ASHRAE,
/// 0.089 (pw - pa) kW/m² with pressures in kPa. Measurements of undisturbed pools lie under it by about a quarter.
pub(crate) fn evaporation(water: f64, air: f64, humidity: f64) -> f64 {
    let short = vapour_pressure(water) - humidity * vapour_pressure(air);
    89.0 * short.max(0.0)
}

/// What acts on a tank's water for a minute.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Minute {
    pub(crate) celsius: f64,
    pub(crate) litres: f64,
    /// Air that bubbles through it, L/min.
    pub(crate) bubbles: f64,
    /// Oxygen that eggs and young take, mg/h.
    pub(crate) young_mg_h: f64,
    /// New water that has run in, L.
    pub(crate) fresh: f64,
    /// Water that has evaporated, L.
    pub(crate) vapour: f64,
}

#[derive(Debug, Clone)]
pub(crate) struct Chemistry {
    /// mg/L.
    pub(crate) oxygen: f64,
    /// Total ammonia nitrogen, mg/L.
    pub(crate) tan: f64,
    /// µS/cm.
    pub(crate) conductivity: f64,
    /// Ammonia nitrogen in food that is still to come out, mg.
    to_come: f64,
    pub(crate) fish_grams: f64,
    filter_mg_h: f64,
    surface: f64,
    tap: f64,
}

// Planning values, but for those with a source.
/// Oxygen velocity through a still surface, m/h, and what stirring adds.
const STILL: f64 = 0.03;
const STIRRED: f64 = 0.06;
/// Re-aeration by bubbles, 1/h for each L/min of air in a litre of water.
const BUBBLING: f64 = 40.0;
/// Oxygen that a gram of fish takes at 26 °C, mg/h: 0.738 M^0.75 mL/h at 37 °C with Q10 1.72, for fish of 10 g
/// (Franklin et al. 1995, abstract; carried down to 26 °C it is a guess).
const BREATH: f64 = 0.33;
const BREATH_Q10: f64 = 1.72;
/// Ammonia nitrogen that a gram of fish gives off without food, mg/h.
const FASTING: f64 = 0.004;
/// Share of the protein's weight that comes out as ammonia nitrogen (Timmons & Ebeling, from memory).
const TAN_OF_PROTEIN: f64 = 0.092;
/// Time in which 63 % of it comes out, h.
const DIGESTION_H: f64 = 5.0;
/// Ammonia at which a filter works at half speed, mg/L.
const HALF_SPEED: f64 = 0.4;
/// Oxygen that a filter takes for each mg of ammonia nitrogen, mg (4.57 by the reaction's own balance).
const NITRIFICATION: f64 = 4.57;
const MINUTE_H: f64 = 1.0 / 60.0;

impl Chemistry {
    pub(crate) fn new(plan: &TankPlan, celsius: f64) -> Self {
        Self {
            oxygen: 0.97 * saturation(celsius),
            tan: 0.02,
            conductivity: plan.conductivity,
            to_come: 0.0,
            fish_grams: plan.fish_grams,
            filter_mg_h: plan.filter_mg_per_h.unwrap_or(0.5 * plan.litres),
            surface: plan.surface(),
            tap: plan.conductivity,
        }
    }

    pub(crate) fn feed(&mut self, grams: f64, protein: f64) {
        self.to_come += grams * 1000.0 * protein * TAN_OF_PROTEIN;
    }

    pub(crate) fn minute(&mut self, m: &Minute) {
        let uptake = self.ammonia(m);
        self.breathe(m, uptake);
        let new = (m.fresh / m.litres).clamp(0.0, 1.0);
        self.tan *= 1.0 - new;
        self.oxygen += new * (saturation(m.celsius) - self.oxygen);
        self.conductivity += new * (self.tap - self.conductivity);
        self.conductivity *= 1.0 + m.vapour / m.litres;
    }

    /// Returns what the filter takes up, mg/h.
    fn ammonia(&mut self, m: &Minute) -> f64 {
        let out = self.to_come * (1.0 - libm::exp(-MINUTE_H / DIGESTION_H));
        self.to_come -= out;
        let works = if m.bubbles > 0.0 { 1.0 } else { 0.1 };
        let uptake = works * self.filter_mg_h * self.tan / (self.tan + HALF_SPEED);
        let made = out + FASTING * self.fish_grams * MINUTE_H;
        self.tan = (self.tan + (made - uptake * MINUTE_H) / m.litres).max(0.0);
        uptake
    }

    fn breathe(&mut self, m: &Minute, uptake: f64) {
        let q10 = libm::pow(BREATH_Q10, (m.celsius - 26.0) / 10.0);
        let taken = BREATH * q10 * self.fish_grams + m.young_mg_h + NITRIFICATION * uptake;
        let stir = if m.bubbles > 0.0 { STIRRED } else { 0.0 };
        let rate = (STILL + stir) * self.surface * 1000.0 / m.litres + BUBBLING * m.bubbles / m.litres;
        let far = saturation(m.celsius) - taken / (m.litres * rate);
        self.oxygen = (far + (self.oxygen - far) * libm::exp(-rate * MINUTE_H)).max(0.0);
    }

    /// pH at an hour of the day (in turns): highest in the afternoon; less where breath has used the oxygen up.
    pub(crate) fn ph(&self, plan: &TankPlan, celsius: f64, turns: f64) -> f64 {
        let light = libm::cos(std::f64::consts::TAU * (turns - 15.0 / 24.0));
        let short = (1.0 - self.oxygen / saturation(celsius)).max(0.0);
        plan.ph + plan.ph_swing * light - 0.4 * short
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "{got} is not {want}");
    }

    /// EN 25814 (= ISO 5814), saturation at 1013.25 hPa, as reprinted in a maker's manual (read), to its last digit; and
    /// the Standard Methods table (from memory) to 0.002.
    #[test]
    fn saturation_is_that_of_the_tables() {
        for (celsius, want) in [(18.0, 9.47), (27.0, 7.97), (29.0, 7.69), (30.0, 7.56)] {
            near(saturation(celsius), want, 0.007);
        }
        near(saturation(5.0), 12.77, 0.002);
        near(saturation(15.0), 10.084, 0.002);
    }

    /// PsychroLib 2.5.0 and iapws 1.5.5 with the same form: 0.2881 and 0.3605 kg/m² an hour, 2 %.
    #[test]
    fn open_water_evaporates_as_computed_elsewhere() {
        for (water, air, humidity, want) in [(26.0, 20.0, 0.5, 0.2881), (27.0, 18.0, 0.4, 0.3605)] {
            let kg = evaporation(water, air, humidity) * 3.6 / latent_heat(water);
            near(kg, want, want * 0.02);
        }
    }

    /// IAPWS-95 by iapws 1.5.5, within 3 kJ/kg.
    #[test]
    fn vapour_takes_its_latent_heat() {
        near(latent_heat(25.0), 2441.7, 3.0);
        near(latent_heat(28.0), 2434.6, 3.0);
    }

    fn tank(filter: f64) -> Chemistry {
        let plan = format!("vessel = 'G1'\nlitres = 40\nfilter_mg_per_h = {filter:?}");
        let mut c = Chemistry::new(&toml::from_str(&plan).unwrap(), 26.0);
        c.tan = 0.0;
        c
    }

    fn minute(bubbles: f64) -> Minute {
        Minute { celsius: 26.0, litres: 40.0, bubbles, young_mg_h: 0.0, fresh: 0.0, vapour: 0.0 }
    }

    /// Balance of a tank without a filter: 1 g of food with half protein gives 46 mg of ammonia nitrogen
    /// (0.092 of the protein; worked example 1.15 mg/L in 40 L).
    #[test]
    fn food_comes_out_as_ammonia() {
        let mut c = tank(0.0);
        c.feed(1.0, 0.5);
        (0..60 * 60).for_each(|_| c.minute(&minute(1.0)));
        near(c.tan, 1.15, 0.002);
    }

    #[test]
    fn a_filter_takes_it_up_while_air_moves_and_hardly_without() {
        let after = |bubbles| {
            let mut c = tank(20.0);
            c.feed(1.0, 0.5);
            (0..24 * 60).for_each(|_| c.minute(&minute(bubbles)));
            c.tan
        };
        assert!(after(1.0) < 0.05 && after(0.0) > 0.3, "{} {}", after(1.0), after(0.0));
    }

    #[test]
    fn oxygen_falls_when_the_air_of_a_full_tank_stops() {
        let mut c = tank(20.0);
        c.fish_grams = 120.0;
        (0..600).for_each(|_| c.minute(&minute(1.0)));
        assert!(c.oxygen > 6.5, "{}", c.oxygen);
        (0..180).for_each(|_| c.minute(&minute(0.0)));
        assert!(c.oxygen < 5.0, "{}", c.oxygen);
    }

    #[test]
    fn a_change_dilutes_and_evaporation_thickens() {
        let mut c = tank(0.0);
        c.tan = 1.0;
        c.minute(&Minute { fresh: 10.0, ..minute(1.0) });
        near(c.tan, 0.75, 0.001);
        c.minute(&Minute { vapour: 4.0, ..minute(1.0) });
        near(c.conductivity, 550.0 * 1.1, 0.5);
    }
}
