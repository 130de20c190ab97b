//! All clutches of a room, and the oxygen in what they lie in.

use super::clutch::{Clutch, Step};
use crate::scenario::Deaths;
use crate::truth::Known;
use crate::world::{Sources, Spot, World};
use crate::{Act, Scenario};
use units::Time;

/// Exchange of a chamber with the water around it, 1/h, while air or water moves through it and while none does:
/// planning values.
const MOVING: f64 = 60.0;
const STILL: f64 = 0.1;

#[derive(Debug, Clone)]
pub(crate) struct Brood {
    clutches: Vec<Clutch>,
    deaths: Deaths,
}

impl Brood {
    pub(crate) fn new(scenario: &Scenario, world: &World, seed: u64, start: Time) -> Self {
        let sources = Sources::new(scenario);
        let clutch = |plan: &crate::ClutchPlan| {
            let place = sources.spot(&plan.place).unwrap_or(Spot::Tank(0));
            let water = world.tanks.get(world.water_of(place)).map_or(26.0, |t| t.water.celsius);
            Clutch::new(plan, place, seed, start, water)
        };
        Self { clutches: scenario.clutches.iter().map(clutch).collect(), deaths: scenario.deaths.clone() }
    }

    /// What the truth says of those that have been laid and were not told of before.
    pub(crate) fn introductions(&mut self, at: Time, scenario: &Scenario) -> Vec<Known> {
        let say = |c: &Clutch| Known::Clutch {
            clutch: c.plan.name.clone(),
            laid: c.laid,
            place: spot_name(scenario, c.place),
            eggs: c.plan.eggs,
            hatch_days: c.law.hatch_days,
            celsius: c.plan.law.celsius,
            activation_ev: c.law.activation_ev,
        };
        let new = self.clutches.iter_mut().filter(|c| c.laid <= at && !c.introduced);
        new.map(|c| {
            c.introduced = true;
            say(c)
        })
        .collect()
    }

    pub(crate) fn get(&self, name: &str) -> Option<&Clutch> {
        self.clutches.iter().find(|c| c.plan.name == name)
    }

    /// Does what somebody does to a clutch.
    pub(crate) fn act(&mut self, at: Time, act: &Act, scenario: &Scenario) -> Option<Known> {
        let (Act::Move { clutch, .. } | Act::Dies { clutch, .. } | Act::Leaves { clutch, .. }) = act else {
            return None;
        };
        let found = self.clutches.iter_mut().find(|c| c.plan.name == *clutch)?;
        match act {
            Act::Move { to, .. } => {
                found.place = Sources::new(scenario).spot(to)?;
                None
            }
            // Nobody dies who has not been laid.
            Act::Dies { .. } | Act::Leaves { .. } if at < found.laid => None,
            Act::Dies { count, why, .. } => fewer(found, *count, why, false),
            Act::Leaves { count, why, .. } => fewer(found, *count, why, true),
            _ => None,
        }
    }

    /// Lets a minute pass.
    pub(crate) fn minute(&mut self, at: Time, world: &mut World, scenario: &Scenario) -> Vec<Known> {
        self.breathe(world);
        let mut news = self.introductions(at, scenario);
        for clutch in &mut self.clutches {
            let celsius = world.tanks.get(world.water_of(clutch.place)).map_or(26.0, |t| t.water.celsius);
            let oxygen = oxygen(world, clutch.place);
            let steps = clutch.minute(at, (celsius, oxygen), world.turns(clutch.place), &self.deaths);
            news.extend(steps.into_iter().map(|step| known(clutch, step, scenario)));
        }
        news
    }

    fn breathe(&self, world: &mut World) {
        let (mut tanks, mut outlets, mut jars) =
            (vec![0.0; world.tanks.len()], vec![0.0; world.outlets.len()], vec![0.0; world.jars.len()]);
        for clutch in self.clutches.iter().filter(|c| c.laid <= world.at()) {
            let tank = world.water_of(clutch.place);
            let taken = clutch.breath(world.tanks.get(tank).map_or(26.0, |t| t.water.celsius));
            tanks[tank] += taken;
            match clutch.place {
                Spot::Tank(_) => {}
                Spot::Outlet(o) => outlets[o] += taken,
                Spot::Jar(j) => jars[j] += taken,
            }
        }
        for (tank, taken) in world.tanks.iter_mut().zip(tanks) {
            tank.young_mg_h = taken;
        }
        for (o, taken) in outlets.into_iter().enumerate() {
            let (litres, spot) = (world.outlets[o].plan.chamber_litres, Spot::Outlet(o));
            world.outlet_oxygen[o] = chamber(world, spot, world.outlet_oxygen[o], litres, taken);
        }
        for (j, taken) in jars.into_iter().enumerate() {
            let (litres, spot) = (world.jars[j].plan.litres, Spot::Jar(j));
            world.jar_oxygen[j] = chamber(world, spot, world.jar_oxygen[j], litres, taken);
        }
    }
}

/// Oxygen in a chamber after a minute, mg/L.
fn chamber(world: &World, spot: Spot, now: f64, litres: f64, taken: f64) -> f64 {
    let around = world.tanks.get(world.water_of(spot)).map_or(8.0, |t| t.chemistry.oxygen);
    let exchange = if world.turns(spot) { MOVING } else { STILL };
    let far = around - taken / (litres * exchange);
    (far + (now - far) * libm::exp(-exchange / 60.0)).max(0.0)
}

fn oxygen(world: &World, spot: Spot) -> f64 {
    match spot {
        Spot::Tank(t) => world.tanks[t].chemistry.oxygen,
        Spot::Outlet(o) => world.outlet_oxygen[o],
        Spot::Jar(j) => world.jar_oxygen[j],
    }
}

fn fewer(clutch: &mut Clutch, count: u32, why: &str, alive: bool) -> Option<Known> {
    let count = clutch.lose(count, alive);
    let (name, alive) = (clutch.plan.name.clone(), clutch.alive());
    (count > 0).then(|| Known::Fewer { clutch: name, count, alive, why: why.to_owned() })
}

fn known(clutch: &Clutch, step: Step, scenario: &Scenario) -> Known {
    let (name, place) = (clutch.plan.name.clone(), || spot_name(scenario, clutch.place));
    match step {
        Step::Reached(stage, share) => Known::Reached { clutch: name, stage, share },
        Step::Died { count, why } => {
            Known::Fewer { clutch: name, count, alive: clutch.alive(), why: why.to_owned() }
        }
        Step::Still => Known::Still { clutch: name, place: place() },
        Step::Turning => Known::Turning { clutch: name, place: place() },
    }
}

fn spot_name(scenario: &Scenario, spot: Spot) -> String {
    match spot {
        Spot::Tank(t) => scenario.tanks[t].vessel.clone(),
        Spot::Outlet(o) => scenario.outlets[o].vessel.clone(),
        Spot::Jar(j) => scenario.jars[j].vessel.clone(),
    }
}
