//! The room without its devices: what is true, whatever the probes say.

mod air;
mod chemistry;
mod energy;
mod hands;
mod heat;
mod jars;
mod power;
mod refresh;
mod room_air;
mod sources;
mod tank;

pub(crate) use air::KPA_PER_METRE;
pub use energy::Energy;
pub(crate) use power::{CircuitNo, Power};
pub(crate) use sources::{Source, Sources, Spot};

use crate::{Fault, Scenario};
use air::{Line, Outlet, Pump};
use jars::{Jar, JarLoop};
use room_air::RoomAir;
pub(crate) use tank::Tank;
use units::{Span, Time};

/// How often the thermostats look at the water. Between two looks the water follows its closed form.
pub(crate) const TICK: Span = Span::seconds(10);

/// A fault and since when.
#[derive(Debug, Clone)]
pub(crate) struct Active {
    pub(crate) fault: Fault,
    since: Time,
}

#[derive(Debug, Clone)]
pub(crate) struct World {
    /// The moment for which everything is worked out.
    at: Time,
    start: Time,
    room_air: RoomAir,
    /// Air of the room since that moment, °C.
    air: f64,
    pub(crate) tanks: Vec<Tank>,
    lines: Vec<Line>,
    pumps: Vec<Pump>,
    pub(crate) outlets: Vec<Outlet>,
    loops: Vec<JarLoop>,
    pub(crate) jars: Vec<Jar>,
    pub(crate) power: Power,
    active: Vec<Active>,
    /// Oxygen in the chambers of outlets and in jars, mg/L.
    pub(crate) outlet_oxygen: Vec<f64>,
    pub(crate) jar_oxygen: Vec<f64>,
}

impl World {
    pub(crate) fn new(scenario: &Scenario, seed: u64, start: Time) -> Self {
        let sources = Sources::new(scenario);
        let power = Power::new(scenario);
        let room_air = RoomAir::new(&scenario.room_air, seed, start);
        let air = room_air.celsius(start);
        let mut tanks: Vec<Tank> =
            scenario.tanks.iter().map(|t| Tank::new(t, &sources, &power, seed, air)).collect();
        tank::name_pairs_once(&mut tanks);
        let outlets = outlets(scenario, &sources);
        let pumps: Vec<Pump> = scenario.pumps.iter().map(|p| pump(p, &sources)).collect();
        let lines: Vec<Line> = scenario
            .lines
            .iter()
            .enumerate()
            .map(|(i, l)| Line::new(l, &outlets, i, main(&pumps, i)))
            .collect();
        let jars: Vec<Jar> = scenario.jars.iter().map(|j| jar(j, &sources)).collect();
        let loops = (scenario.loops.iter().enumerate())
            .map(|(i, l)| {
                JarLoop::new(l, i, named(sources.tank(l.tank.as_deref().unwrap_or_default())), &jars)
            })
            .collect();
        let oxygen = |tank: usize| tanks.get(tank).map_or(8.0, |t| t.chemistry.oxygen);
        let mut world = Self {
            at: start,
            start,
            air,
            room_air,
            outlet_oxygen: outlets.iter().map(|o| oxygen(o.tank)).collect(),
            jar_oxygen: vec![8.0; jars.len()],
            tanks,
            lines,
            pumps,
            outlets,
            loops,
            jars,
            power,
            active: Vec::new(),
        };
        world.refresh();
        world
    }

    pub(crate) fn at(&self) -> Time {
        self.at
    }

    /// The faults that hold just now.
    pub(crate) fn faults(&self) -> impl Iterator<Item = &Fault> {
        self.active.iter().map(|a| &a.fault)
    }

    pub(crate) fn suffers(&self, is: impl Fn(&Fault) -> bool) -> bool {
        self.faults().any(is)
    }

    /// When a fault that holds began.
    pub(crate) fn since(&self, is: impl Fn(&Fault) -> bool) -> Option<Time> {
        self.active.iter().find(|a| is(&a.fault)).map(|a| a.since)
    }

    /// Works everything out up to a moment.
    pub(crate) fn settle(&mut self, to: Time) {
        let span = to - self.at;
        for tank in &mut self.tanks {
            tank.settle(span, self.air);
        }
        for l in &mut self.loops {
            l.settle(span, &mut self.jars);
        }
        self.room_air.settle(span, to);
        self.air = self.room_air.celsius(to);
        self.at = to;
    }

    /// Every thermostat looks at its water, and whatever changes by itself has changed.
    pub(crate) fn tick(&mut self) {
        for tank in &mut self.tanks {
            tank.water.switch();
        }
        self.pass_heat();
        if self.is_changing() {
            self.refresh();
        }
    }

    /// What neighbours give each other until the next tick.
    fn pass_heat(&mut self) {
        for tank in &mut self.tanks {
            tank.water.neighbour_watts = 0.0;
        }
        for i in 0..self.tanks.len() {
            for n in 0..self.tanks[i].neighbours.len() {
                let (other, w_per_k) = self.tanks[i].neighbours[n];
                let watts = w_per_k * (self.tanks[other].water.celsius - self.tanks[i].water.celsius);
                self.tanks[i].water.neighbour_watts += watts;
                self.tanks[other].water.neighbour_watts -= watts;
            }
        }
    }

    /// A minute of chemistry.
    pub(crate) fn minute(&mut self) {
        let mut bubbles = vec![0.0; self.tanks.len()];
        for outlet in &self.outlets {
            bubbles[outlet.tank] += outlet.arrives;
        }
        let (air, humidity) = (self.air, self.room_air.humidity());
        let lids: Vec<String> = (self.faults())
            .filter_map(|f| if let Fault::LidOff(tank) = f { Some(tank.clone()) } else { None })
            .collect();
        for (tank, bubbles) in self.tanks.iter_mut().zip(bubbles) {
            let open = tank.plan.cover == crate::Cover::Open || lids.contains(&tank.plan.vessel);
            tank.minute(bubbles, open.then_some((air, humidity)));
        }
    }

    /// What a perfect probe would read.
    pub(crate) fn value(&self, source: Source, at: Time) -> f64 {
        let on = |yes: bool| if yes { 1.0 } else { 0.0 };
        match source {
            Source::Water(t) => self.tanks[t].water.after(at - self.at, self.air),
            Source::AirFlow(o) => self.outlets[o].flow,
            Source::Bubbles(o) => self.outlets[o].arrives / 60.0 / BUBBLE_LITRES,
            Source::AirMoves(o) => on(self.outlets[o].flow >= 0.25 * self.outlets[o].plan.litres_per_minute),
            Source::Manifold(l) => self.lines[l].pressure,
            Source::OutletPressure(o) => self.outlets[o].pressure,
            Source::JarFlow(j) => self.jars[j].flow,
            Source::Heater(t) => self.tanks[t].water.watts(),
            Source::Pump(p) => self.pumps[p].watts,
            Source::LoopPump(l) => self.loops[l].watts,
            Source::Ph(t) => self.ph(t, at),
            Source::Oxygen(t) => self.tanks[t].chemistry.oxygen,
            Source::OutletOxygen(o) => self.outlet_oxygen[o],
            Source::JarOxygen(j) => self.jar_oxygen[j],
            Source::Ammonia(t) => self.tanks[t].chemistry.tan,
            Source::Conductivity(t) => self.tanks[t].chemistry.conductivity,
            Source::TankLevel(t) => 100.0 * self.tanks[t].full(),
            Source::Header(l) => 100.0 * self.loops[l].level,
            Source::TankFull(t) => on(self.tanks[t].full() > 0.8),
            Source::HeaderFull(l) => on(self.loops[l].level > 0.5),
            Source::Mains(c) => on(self.power.live_number(c)),
            Source::FloorDry => on(!self.is_wet()),
            Source::RoomTemperature => self.air,
            Source::Humidity => 100.0 * self.room_air.humidity(),
        }
    }

    fn ph(&self, tank: usize, at: Time) -> f64 {
        let tank = &self.tanks[tank];
        tank.chemistry.ph(&tank.plan, tank.water.celsius, (at - self.start).as_days())
    }

    /// Water stands on the floor where it has climbed the tubes of a line whose pump has stopped.
    fn is_wet(&self) -> bool {
        let stuck = |f: &Fault, l: &Line| matches!(f, Fault::CheckValveStuck(name) if *name == l.plan.name);
        let climbs = |l: &Line| !l.plan.check_valve || self.suffers(|f| stuck(f, l));
        self.lines.iter().any(|l| l.is_still() && l.pressure <= 0.0 && climbs(l))
    }

    /// The tank whose water a vessel shares.
    pub(crate) fn water_of(&self, spot: Spot) -> usize {
        match spot {
            Spot::Tank(t) => t,
            Spot::Outlet(o) => self.outlets[o].tank,
            Spot::Jar(j) => self.loops[self.jars[j].jar_loop].tank,
        }
    }

    /// Whether something with a plug, and perhaps a battery, runs: its mains are there, or have not been gone for longer
    /// than the battery lasts.
    pub(crate) fn runs(&self, plug: &str, circuit: CircuitNo, battery: Span) -> bool {
        let pulled = self.since(|f| matches!(f, Fault::Unplugged(p) if p == plug));
        self.power.gone_since(circuit, pulled).is_none_or(|since| self.at - since < battery)
    }

    /// Whether batteries run down.
    pub(crate) fn drains(&self) -> bool {
        self.power.any_off() || self.suffers(|f| matches!(f, Fault::Unplugged(_)))
    }

    /// Whether the water in a vessel moves. A tank's own always does enough.
    pub(crate) fn turns(&self, spot: Spot) -> bool {
        match spot {
            Spot::Tank(_) => true,
            Spot::Outlet(o) => self.outlets[o].turns(),
            Spot::Jar(j) => self.jars[j].turns(),
        }
    }
}

/// A bubble of 4 mm, L.
const BUBBLE_LITRES: f64 = 33.5e-6;

/// A checked scenario has a place for every name; should one be missing, the first is taken.
fn named(found: Option<usize>) -> usize {
    found.unwrap_or(0)
}

fn outlets(scenario: &Scenario, sources: &Sources<'_>) -> Vec<Outlet> {
    let outlet = |o: &crate::OutletPlan| {
        let line = named(sources.line(o.line.as_deref().unwrap_or_default()));
        let tank = named(sources.tank(o.tank.as_deref().unwrap_or_default()));
        Outlet::new(o, &scenario.lines[line], (line, tank))
    };
    scenario.outlets.iter().map(outlet).collect()
}

/// Strength of the main pumps of a line together.
fn main(pumps: &[Pump], line: usize) -> f64 {
    let own = pumps.iter().filter(|p| p.line == line && p.role == crate::Role::Main && p.feeds.is_empty());
    own.map(|p| p.plan.strength).sum()
}

fn pump(plan: &crate::PumpPlan, sources: &Sources<'_>) -> Pump {
    Pump {
        line: named(sources.line(plan.line.as_deref().unwrap_or_default())),
        feeds: plan.feeds.iter().filter_map(|o| sources.outlet(o)).collect(),
        role: plan.role,
        by_hand: false,
        missing_since: None,
        gives: 0.0,
        watts: 0.0,
        plan: plan.clone(),
    }
}

fn jar(plan: &crate::JarPlan, sources: &Sources<'_>) -> Jar {
    let jar_loop = named(sources.jar_loop(plan.jar_loop.as_deref().unwrap_or_default()));
    Jar { jar_loop, flow: plan.litres_per_minute, plan: plan.clone() }
}
