//! The air of the room.

use crate::RoomAirPlan;
use crate::chance::Chance;
use units::{Span, Time};

const HOUR: Span = Span::hours(1);
/// How much of the unrest of one hour is left in the next: it forgets in about six hours.
const KEEPS: f64 = 0.85;

#[derive(Debug, Clone)]
pub(crate) struct RoomAir {
    plan: RoomAirPlan,
    start: Time,
    chance: Chance,
    /// Unrest at the full hour before and after, K.
    unrest: [f64; 2],
    hour: Time,
    /// How far mains and windows have brought it down, K (negative).
    shift: f64,
    /// Where that is going.
    pub(crate) target: f64,
}

impl RoomAir {
    pub(crate) fn new(plan: &RoomAirPlan, seed: u64, start: Time) -> Self {
        let mut chance = Chance::named(seed, "room", "air");
        let first = plan.unrest_celsius * chance.normal();
        let mut air = Self {
            plan: plan.clone(),
            start,
            chance,
            unrest: [first; 2],
            hour: start,
            shift: 0.0,
            target: 0.0,
        };
        air.unrest[1] = air.next_unrest();
        air
    }

    fn next_unrest(&mut self) -> f64 {
        let fresh = self.plan.unrest_celsius * libm::sqrt(1.0 - KEEPS * KEEPS);
        KEEPS * self.unrest[1] + fresh * self.chance.normal()
    }

    pub(crate) fn humidity(&self) -> f64 {
        self.plan.humidity
    }

    /// How far it falls in the end without mains, K.
    pub(crate) fn falls(&self) -> f64 {
        self.plan.falls_without_mains
    }

    /// Lets a span pass that ends at `to`.
    pub(crate) fn settle(&mut self, span: Span, to: Time) {
        let left = libm::exp(-span.as_seconds() / self.plan.settles.seconds());
        self.shift = self.target + (self.shift - self.target) * left;
        while to >= self.hour + HOUR {
            self.hour += HOUR;
            self.unrest = [self.unrest[1], self.next_unrest()];
        }
    }

    /// Temperature, °C.
    pub(crate) fn celsius(&self, at: Time) -> f64 {
        let p = &self.plan;
        let wave = |turns: f64| libm::cos(std::f64::consts::TAU * turns);
        let days = (at - self.start).as_days();
        let within = (at - self.hour).as_hours();
        p.mean_celsius + self.shift + p.swing_celsius * wave(days - p.warmest.turns())
            - p.season_celsius * wave((days + 1.0 - p.coldest_day) / 365.25)
            + self.unrest[0]
            + (self.unrest[1] - self.unrest[0]) * within
    }
}
