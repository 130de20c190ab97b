//! The water of one tank: heat in, heat out.

use crate::TankPlan;
use crate::chance::Chance;
use crate::maths::decay;
use units::Span;

/// Heat that warms a litre of water by a kelvin, J: 0.99705 kg at 4.182 kJ/(kg K), fresh water at 25 °C (IAPWS).
pub(crate) const JOULES_PER_LITRE_KELVIN: f64 = 4170.0;

/// What acts on a tank from outside.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Around {
    /// Air of the room, °C.
    pub(crate) air: f64,
    pub(crate) heater_works: bool,
    /// Heat that the inflow takes up for each kelvin, W/K.
    pub(crate) inflow_w_per_k: f64,
    /// The same times the temperature of the inflow, W.
    pub(crate) inflow_w: f64,
}

/// One tank: perfectly mixed, with a thermostat of two steps.
#[derive(Debug, Clone)]
pub(crate) struct Tank {
    pub(crate) plan: TankPlan,
    celsius: f64,
    /// Whether the thermostat calls for heat.
    calls: bool,
}

impl Tank {
    pub(crate) fn new(plan: TankPlan, chance: &mut Chance) -> Self {
        let within = (chance.unit() - 0.5) * plan.hysteresis;
        let celsius = plan.start_celsius.unwrap_or(plan.set_point + within);
        let calls = celsius < plan.set_point;
        Self { plan, celsius, calls }
    }

    /// Power of the heater as it stands, W.
    pub(crate) fn watts(&self, works: bool) -> f64 {
        if works && self.calls { self.plan.heater_watts } else { 0.0 }
    }

    /// Temperature after a span in which nothing outside changes, °C: Newton's law of cooling, solved exactly.
    pub(crate) fn after(&self, span: Span, around: &Around) -> f64 {
        let seconds = span.as_seconds();
        let store = self.plan.litres * JOULES_PER_LITRE_KELVIN;
        let power = self.watts(around.heater_works);
        let pull = self.plan.loss_w_per_k + around.inflow_w_per_k;
        if pull <= 0.0 {
            return self.celsius + power * seconds / store;
        }
        let end = (power + self.plan.loss_w_per_k * around.air + around.inflow_w) / pull;
        end + (self.celsius - end) * decay(pull * seconds / store)
    }

    pub(crate) fn settle(&mut self, span: Span, around: &Around) {
        self.celsius = self.after(span, around);
    }

    /// The thermostat looks at the water.
    pub(crate) fn switch(&mut self) {
        let half = self.plan.hysteresis / 2.0;
        if self.celsius <= self.plan.set_point - half {
            self.calls = true;
        } else if self.celsius >= self.plan.set_point + half {
            self.calls = false;
        }
    }
}
