//! The true law of development of one clutch.

use crate::LawPlan;
use crate::chance::Chance;

/// Boltzmann's constant, eV/K (CODATA).
const BOLTZMANN: f64 = 8.617_333_262e-5;
/// How steeply the rate falls where it is too warm, eV: planning value.
const FALL_EV: f64 = 3.0;
const KELVIN: f64 = 273.15;

/// A clutch's own law: parts of the time to hatch done in a day at a temperature.
#[derive(Debug, Clone)]
pub(crate) struct Law {
    /// Days to hatch at the temperature of reference.
    pub(crate) hatch_days: f64,
    pub(crate) activation_ev: f64,
    reference: f64,
    half_lost: f64,
    /// What makes the rate at the reference 1 over the days.
    scale: f64,
}

impl Law {
    /// Draws the law of one clutch.
    pub(crate) fn draw(plan: &LawPlan, chance: &mut Chance) -> Self {
        let slower = (1.0 + plan.between * chance.normal()).max(0.3);
        let activation_ev = (plan.activation_ev + plan.activation_between_ev * chance.normal()).max(0.1);
        let mut law = Self {
            hatch_days: plan.hatch_days * slower,
            activation_ev,
            reference: plan.celsius + KELVIN,
            half_lost: plan.half_lost_celsius + KELVIN,
            scale: 1.0,
        };
        law.scale = 1.0 / (law.hatch_days * law.shape(law.reference));
        law
    }

    fn shape(&self, kelvin: f64) -> f64 {
        let rise = libm::exp(self.activation_ev / BOLTZMANN * (1.0 / self.reference - 1.0 / kelvin));
        let fall = libm::exp(FALL_EV / BOLTZMANN * (1.0 / self.half_lost - 1.0 / kelvin));
        rise / (1.0 + fall)
    }

    /// Share of the time to hatch that passes in a day.
    pub(crate) fn per_day(&self, celsius: f64) -> f64 {
        self.scale * self.shape(celsius + KELVIN)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn law() -> Law {
        let plan = LawPlan { between: 0.0, activation_between_ev: 0.0, ..LawPlan::default() };
        Law::draw(&plan, &mut Chance::new(1, 1))
    }

    #[test]
    fn at_its_reference_it_hatches_in_its_days() {
        assert!((law().per_day(27.0) * 7.0 - 1.0).abs() < 1e-12);
    }

    /// Arrhenius' law alone would give Q10 = exp(0.75 eV / k x 10 K / (295.15 K x 305.15 K)) = 2.63 between 22 and 32
    /// °C; the fall by warmth takes some of it.
    #[test]
    fn it_rises_less_than_the_bare_law_and_falls_where_it_is_too_warm() {
        let law = law();
        let q10 = law.per_day(32.0) / law.per_day(22.0);
        assert!((1.6..2.63).contains(&q10), "{q10}");
        assert!(law.per_day(37.0) < law.per_day(33.0));
    }

    #[test]
    fn clutches_differ_as_said() {
        let days: Vec<f64> =
            (0..4000).map(|i| Law::draw(&LawPlan::default(), &mut Chance::new(3, i)).hatch_days).collect();
        let mean = days.iter().sum::<f64>() / 4000.0;
        let sd = (days.iter().map(|d| (d - mean) * (d - mean)).sum::<f64>() / 4000.0).sqrt();
        assert!((mean - 7.0).abs() < 0.03 && (sd - 0.35).abs() < 0.02, "{mean} {sd}");
    }
}
