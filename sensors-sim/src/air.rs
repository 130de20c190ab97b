//! The air line: a pump, a manifold, and a valve for each outlet. All resistances are straight lines, so the pressure
//! in the manifold has a closed form.

use crate::{Fault, OutletPlan, PumpPlan};

/// Pressure under a metre of water, kPa (conventional metre of water).
pub(crate) const KPA_PER_METRE: f64 = 9.806_65;

#[derive(Debug, Clone)]
pub(crate) struct AirLine {
    outlets: Vec<Outlet>,
    /// Flow of the pump against no pressure, L/min.
    free: f64,
    /// Flow that the pump loses for each kPa.
    slope: f64,
    /// Flow through the bleed for each kPa.
    bleed: f64,
}

#[derive(Debug, Clone)]
struct Outlet {
    vessel: String,
    /// Flow for each kPa over the head of water.
    valve: f64,
    head_kpa: f64,
}

impl AirLine {
    /// A line whose outlets flow as planned while nothing is wrong.
    pub(crate) fn new(pump: &PumpPlan, plans: &[OutletPlan]) -> Self {
        let outlets: Vec<Outlet> = plans.iter().map(|o| Outlet::new(o, pump.pressure_kpa)).collect();
        let wanted: f64 =
            plans.iter().map(|o| o.litres_per_minute).sum::<f64>() + pump.bleed_litres_per_minute;
        let free = wanted / (1.0 - pump.pressure_kpa / pump.shut_off_kpa);
        let bleed = pump.bleed_litres_per_minute / pump.pressure_kpa;
        Self { outlets, free, slope: free / pump.shut_off_kpa, bleed }
    }

    /// Pressure in the manifold, kPa above the room: where the pump gives what the line takes.
    pub(crate) fn pressure(&self, active: &[Fault]) -> f64 {
        if active.contains(&Fault::PumpDead) {
            return 0.0;
        }
        let (mut given, mut taken) = (self.free, self.slope + self.bleed);
        for outlet in &self.outlets {
            match outlet.state(active) {
                State::Shut => {}
                State::Off => taken += outlet.valve,
                State::Open => {
                    taken += outlet.valve;
                    given += outlet.valve * outlet.head_kpa;
                }
            }
        }
        if taken > 0.0 { given / taken } else { 0.0 }
    }

    /// Flow through a tumbler, L/min; `None` where there is no such outlet.
    pub(crate) fn flow(&self, vessel: &str, active: &[Fault]) -> Option<f64> {
        let outlet = self.outlets.iter().find(|o| o.vessel == vessel)?;
        let over = self.pressure(active) - outlet.head_kpa;
        Some(match outlet.state(active) {
            State::Open => (outlet.valve * over).max(0.0),
            State::Shut | State::Off => 0.0,
        })
    }
}

enum State {
    Open,
    Shut,
    Off,
}

impl Outlet {
    fn new(plan: &OutletPlan, pressure_kpa: f64) -> Self {
        let head_kpa = plan.depth_m * KPA_PER_METRE;
        let valve = plan.litres_per_minute / (pressure_kpa - head_kpa);
        Self { vessel: plan.vessel.clone(), valve, head_kpa }
    }

    fn state(&self, active: &[Fault]) -> State {
        let hit = |f: &Fault| match f {
            Fault::AirStop { outlet } if *outlet == self.vessel => Some(State::Shut),
            Fault::TubeOff { outlet } if *outlet == self.vessel => Some(State::Off),
            _ => None,
        };
        active.iter().find_map(hit).unwrap_or(State::Open)
    }
}
