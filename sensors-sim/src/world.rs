//! The room without its devices: what is true, whatever the probes say.

use crate::air::AirLine;
use crate::chance::Chance;
use crate::maths::cos_turns;
use crate::tank::{Around, JOULES_PER_LITRE_KELVIN, Tank};
use crate::{Fault, Plan, RoomAirPlan, Wish};
use units::{Quantity, Span, Time};

/// How often the thermostats look at the water. Between two looks the water follows its closed form.
pub(crate) const TICK: Span = Span::seconds(10);

#[derive(Debug, Clone)]
pub(crate) struct World {
    /// The moment for which the tanks are worked out.
    at: Time,
    air: RoomAirPlan,
    tanks: Vec<Tank>,
    line: AirLine,
    active: Vec<Fault>,
}

impl World {
    pub(crate) fn new(plan: &Plan, seed: u64, start: Time) -> Self {
        let mut chance = Chance::new(seed, 0);
        Self {
            at: start,
            air: plan.room_air.clone(),
            tanks: plan.tanks.iter().map(|t| Tank::new(t.clone(), &mut chance)).collect(),
            line: AirLine::new(&plan.pump, &plan.outlets),
            active: Vec::new(),
        }
    }

    /// Works the water out up to a moment.
    pub(crate) fn settle(&mut self, to: Time) {
        for i in 0..self.tanks.len() {
            let around = self.around(&self.tanks[i], to);
            self.tanks[i].settle(to - self.at, &around);
        }
        self.at = to;
    }

    /// Every thermostat looks at its water.
    pub(crate) fn switch(&mut self) {
        for tank in &mut self.tanks {
            tank.switch();
        }
    }

    /// Breaks or mends something; the water must be worked out up to that moment.
    pub(crate) fn change(&mut self, wish: Wish) {
        let (Wish::Inject(fault) | Wish::Mend(fault)) = &wish;
        self.active.retain(|f| !f.same_as(fault));
        if let Wish::Inject(fault) = wish {
            self.active.push(fault);
        }
    }

    pub(crate) fn suffers(&self, fault: &Fault) -> bool {
        self.active.iter().any(|f| f.same_as(fault))
    }

    /// What a perfect probe would read; `None` where the room has no such thing.
    pub(crate) fn truth(&self, vessel: &str, quantity: Quantity, at: Time) -> Option<f64> {
        match quantity {
            Quantity::Temperature => self.temperature(vessel, at),
            Quantity::AirFlow => self.line.flow(vessel, &self.active),
            Quantity::LinePressure => Some(self.line_pressure()),
            Quantity::RoomTemperature => Some(self.room_temperature(at)),
            Quantity::Power => self.tank(vessel).map(|t| t.watts(self.heater_works(vessel))),
            _ => None,
        }
    }

    pub(crate) fn line_pressure(&self) -> f64 {
        self.line.pressure(&self.active)
    }

    pub(crate) fn room_temperature(&self, at: Time) -> f64 {
        let day = Span::days(1).millis();
        let hour = at.millis().rem_euclid(day) as f64 / 3_600_000.0;
        self.air.mean_celsius + self.air.swing_celsius * cos_turns((hour - self.air.warmest_hour) / 24.0)
    }

    fn temperature(&self, vessel: &str, at: Time) -> Option<f64> {
        let tank = self.tank(vessel)?;
        Some(tank.after(at - self.at, &self.around(tank, at)))
    }

    fn tank(&self, vessel: &str) -> Option<&Tank> {
        self.tanks.iter().find(|t| t.plan.vessel == vessel)
    }

    fn heater_works(&self, vessel: &str) -> bool {
        !self.active.iter().any(|f| matches!(f, Fault::HeaterDead { tank } if tank == vessel))
    }

    /// What acts on a tank until `to`; the air is taken at the middle of that time.
    fn around(&self, tank: &Tank, to: Time) -> Around {
        let vessel = tank.plan.vessel.as_str();
        let middle = self.at + Span::from_millis((to - self.at).millis() / 2);
        let mut around = Around {
            air: self.room_temperature(middle),
            heater_works: self.heater_works(vessel),
            inflow_w_per_k: 0.0,
            inflow_w: 0.0,
        };
        for fault in &self.active {
            if let Fault::ColdInflow { tank, litres_per_minute, celsius } = fault
                && tank == vessel
            {
                let w_per_k = litres_per_minute / 60.0 * JOULES_PER_LITRE_KELVIN;
                around.inflow_w_per_k += w_per_k;
                around.inflow_w += w_per_k * celsius;
            }
        }
        around
    }
}
