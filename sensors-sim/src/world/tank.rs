//! One tank: its water, what is dissolved in it, and what people are doing to it.

use super::chemistry::{self, Chemistry, Minute};
use super::hands::Change;
use super::heat::Water;
use super::power::{CircuitNo, Power};
use super::sources::Sources;
use crate::chance::Chance;
use units::Span;

/// One tank.
#[derive(Debug, Clone)]
pub(crate) struct Tank {
    pub(crate) plan: crate::TankPlan,
    pub(crate) water: Water,
    pub(crate) chemistry: Chemistry,
    pub(super) circuit: CircuitNo,
    /// Neighbours with the heat that passes for each kelvin; each pair stands at one of the two.
    pub(super) neighbours: Vec<(usize, f64)>,
    /// What people are doing to its water.
    pub(super) changes: Vec<Change>,
    pub(super) set_point: f64,
    /// New water since the last minute, L.
    fresh: f64,
    /// Oxygen that eggs and young in it take, mg/h.
    pub(crate) young_mg_h: f64,
    /// J, over that of ice water.
    pub(crate) heat_at_start: f64,
}

/// Leaves each pair of neighbours at one of the two, where both name the other.
pub(super) fn name_pairs_once(tanks: &mut [Tank]) {
    for i in 0..tanks.len() {
        let own = std::mem::take(&mut tanks[i].neighbours);
        let told = |other: usize| other < i && tanks[other].neighbours.iter().any(|(n, _)| *n == i);
        let kept: Vec<(usize, f64)> = own.into_iter().filter(|(other, _)| !told(*other)).collect();
        tanks[i].neighbours = kept;
    }
}

impl Tank {
    pub(super) fn new(
        plan: &crate::TankPlan,
        sources: &Sources<'_>,
        power: &Power,
        seed: u64,
        room: f64,
    ) -> Self {
        let water = Water::new(plan, room, &mut Chance::named(seed, "tank", &plan.vessel));
        let neighbour = |n: &crate::Neighbour| Some((sources.tank(&n.tank)?, n.w_per_k));
        Self {
            chemistry: Chemistry::new(plan, water.celsius),
            circuit: power.number(&plan.circuit),
            neighbours: plan.neighbours.iter().filter_map(neighbour).collect(),
            changes: Vec::new(),
            set_point: plan.set_point.unwrap_or(0.0),
            fresh: 0.0,
            young_mg_h: 0.0,
            heat_at_start: water.heat(),
            water,
            plan: plan.clone(),
        }
    }

    pub(super) fn settle(&mut self, span: Span, air: f64) {
        self.fresh += self.water.stream.into * span.as_minutes();
        self.water.settle(span, air);
    }

    /// Share of its water that is there.
    pub(super) fn full(&self) -> f64 {
        self.water.litres / self.plan.litres
    }

    /// A minute of chemistry; `open` is the air over it, °C and humidity, where it has no cover.
    pub(super) fn minute(&mut self, bubbles: f64, open: Option<(f64, f64)>) {
        let watts = open.map_or(0.0, |(air, humidity)| {
            self.plan.surface() * chemistry::evaporation(self.water.celsius, air, humidity)
        });
        self.water.vapour_watts = watts;
        let vapour = watts * 60.0 / 1000.0 / chemistry::latent_heat(self.water.celsius);
        self.water.lose(vapour);
        self.chemistry.minute(&Minute {
            celsius: self.water.celsius,
            litres: self.water.litres,
            bubbles,
            young_mg_h: self.young_mg_h,
            fresh: std::mem::take(&mut self.fresh),
            vapour,
        });
    }
}
