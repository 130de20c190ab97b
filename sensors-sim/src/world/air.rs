//! The air line: pumps, a manifold, and a valve and a stone for each outlet. All resistances are straight lines.

use crate::{Fault, LinePlan, OutletPlan, PumpPlan, Role};
use units::Time;

/// Pressure under a metre of water, kPa (conventional metre of water).
pub(crate) const KPA_PER_METRE: f64 = 9.806_65;

/// A line's own figures.
#[derive(Debug, Clone)]
pub(crate) struct Line {
    pub(crate) plan: LinePlan,
    /// Flow of all main pumps against no pressure, L/min.
    free: f64,
    /// Flow through the bleed for each kPa.
    bleed: f64,
    /// Pressure in the manifold, kPa.
    pub(crate) pressure: f64,
    /// While no main pump pushes: the pressure that is left in it, and when that was.
    held: Option<(Time, f64)>,
}

/// A pump as it is now.
#[derive(Debug, Clone)]
pub(crate) struct Pump {
    pub(crate) plan: PumpPlan,
    pub(crate) line: usize,
    /// Outlets that it feeds through a branch of its own; empty for all.
    pub(crate) feeds: Vec<usize>,
    pub(crate) role: Role,
    /// Whether a person has switched it on.
    pub(crate) by_hand: bool,
    /// Since when a standby has waited for the line to come back.
    pub(crate) missing_since: Option<Time>,
    /// Share of all main pumps' flow that it gives.
    pub(crate) gives: f64,
    pub(crate) watts: f64,
}

/// An outlet as it is now.
#[derive(Debug, Clone)]
pub(crate) struct Outlet {
    pub(crate) plan: OutletPlan,
    pub(crate) line: usize,
    pub(crate) tank: usize,
    /// Flow for each kPa over the head of water, through valve and stone.
    valve: f64,
    stone: f64,
    pub(crate) head: f64,
    pub(crate) state: State,
    /// Flow where its probe sits, L/min.
    pub(crate) flow: f64,
    /// Pressure between valve and stone, kPa.
    pub(crate) pressure: f64,
    /// Flow that reaches the eggs or the filter, L/min.
    pub(crate) arrives: f64,
}

/// What faults make of an outlet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct State {
    pub(crate) way: Way,
    /// How much of the valve's and of the stone's way is open.
    pub(crate) valve: f64,
    pub(crate) stone: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    Open,
    Shut,
    /// Off before the probe: air is lost, the probe sees none.
    OffBefore,
    /// Off behind the probe: the probe sees what is lost.
    OffBehind,
}

impl State {
    pub(crate) const FINE: Self = Self { way: Way::Open, valve: 1.0, stone: 1.0 };

    /// What the faults of an outlet make of it; each with how far it has come, 0 to 1.
    pub(crate) fn of<'a>(outlet: &str, faults: impl Iterator<Item = (&'a Fault, f64)>) -> Self {
        let mut state = Self::FINE;
        for (fault, grown) in faults {
            match fault {
                Fault::AirStop(o) if o == outlet => state.way = Way::Shut,
                Fault::TubeOff(o) if o == outlet => state.way = Way::OffBefore,
                Fault::TubeOffAfter(o) if o == outlet => state.way = Way::OffBehind,
                Fault::Clog { outlet: o, part, .. } if o == outlet => state.stone *= 1.0 - part * grown,
                Fault::ValveCreep { outlet: o, part, .. } if o == outlet => state.valve *= 1.0 - part * grown,
                Fault::Opened { outlet: o, times } if o == outlet => state.valve *= times,
                _ => {}
            }
        }
        state
    }
}

impl Outlet {
    pub(crate) fn new(plan: &OutletPlan, line: &LinePlan, places: (usize, usize)) -> Self {
        let head = plan.depth_m * KPA_PER_METRE;
        let flow = plan.litres_per_minute;
        let over_valve = line.pressure_kpa - head - plan.stone_kpa;
        // A stone that takes next to no pressure; it can clog all the same.
        let stone = flow / plan.stone_kpa.max(1e-3);
        Self {
            plan: plan.clone(),
            line: places.0,
            tank: places.1,
            valve: flow / over_valve,
            stone,
            head,
            state: State::FINE,
            flow,
            pressure: head + plan.stone_kpa,
            arrives: flow,
        }
    }

    /// Flow for each kPa, and the pressure that it works against.
    fn draws(&self) -> (f64, f64) {
        let (valve, stone) = (self.valve * self.state.valve, self.stone * self.state.stone);
        match self.state.way {
            Way::Shut => (0.0, 0.0),
            Way::OffBefore | Way::OffBehind => (valve, 0.0),
            Way::Open if valve <= 0.0 || stone <= 0.0 => (0.0, self.head),
            Way::Open => (1.0 / (1.0 / valve + 1.0 / stone), self.head),
        }
    }

    /// Works out its flow at a pressure of the manifold; `moving` is false where only held air stands in the line.
    fn settle(&mut self, manifold: f64, moving: bool) {
        let (draws, against) = self.draws();
        let flow = if moving { (draws * (manifold - against)).max(0.0) } else { 0.0 };
        let arrives = self.state.way == Way::Open;
        self.flow = if self.state.way == Way::OffBefore { 0.0 } else { flow };
        self.arrives = if arrives { flow } else { 0.0 };
        self.pressure = match self.state.way {
            Way::Shut => manifold.min(self.head),
            Way::OffBefore | Way::OffBehind => 0.0,
            Way::Open if flow > 0.0 => manifold - flow / (self.valve * self.state.valve),
            // Nothing flows through a stone that is shut, so nothing is lost at the valve.
            Way::Open if self.stone * self.state.stone <= 0.0 && self.state.valve > 0.0 => manifold,
            Way::Open => manifold.min(self.head),
        };
    }

    /// Whether the eggs in it turn: planning value, a quarter of its usual flow.
    pub(crate) fn turns(&self) -> bool {
        self.arrives >= 0.25 * self.plan.litres_per_minute
    }
}

impl Line {
    /// `strength`: that of its main pumps together, which give the flow as planned.
    pub(crate) fn new(plan: &LinePlan, outlets: &[Outlet], number: usize, strength: f64) -> Self {
        let own = outlets.iter().filter(|o| o.line == number);
        let wanted = own.map(|o| o.plan.litres_per_minute).sum::<f64>() + plan.bleed_litres_per_minute;
        let shared = if strength > 0.0 { strength } else { 1.0 };
        Self {
            free: wanted / (1.0 - plan.pressure_kpa / plan.shut_off_kpa) / shared,
            bleed: plan.bleed_litres_per_minute / plan.pressure_kpa,
            pressure: plan.pressure_kpa,
            held: None,
            plan: plan.clone(),
        }
    }

    /// Whether no main pump pushes: then held pressure leaks away, and standbys wait for their moment.
    pub(crate) fn is_still(&self) -> bool {
        self.held.is_some()
    }

    /// Works out pressure and flows of the line and its outlets.
    pub(crate) fn settle(
        &mut self,
        number: usize,
        pumps: &[Pump],
        outlets: &mut [Outlet],
        faults: &Hurt,
        at: Time,
    ) {
        let own: Vec<usize> = (0..outlets.len()).filter(|i| outlets[*i].line == number).collect();
        let main: f64 =
            pumps.iter().filter(|p| p.line == number && p.feeds.is_empty()).map(|p| p.gives).sum();
        let burst =
            if faults.burst { 50.0 * self.bleed.max(self.free / self.plan.shut_off_kpa) } else { 0.0 };
        let pressure = if main > 0.0 { self.balance(main, burst, &own, outlets) } else { 0.0 };
        if main > 0.0 {
            (self.pressure, self.held) = (pressure, None);
        } else {
            self.pressure = self.left(&own, outlets, faults, at);
        }
        for i in &own {
            outlets[*i].settle(self.pressure, main > 0.0);
        }
        for pump in pumps.iter().filter(|p| p.line == number && !p.feeds.is_empty() && p.gives > 0.0) {
            let branch = self.balance(pump.gives, 0.0, &pump.feeds, outlets);
            for i in &pump.feeds {
                // Non-return valves: each outlet takes from the stronger side.
                if branch > self.pressure || main <= 0.0 {
                    outlets[*i].settle(branch, true);
                }
            }
        }
    }

    /// Pressure at which the pumps give what bleed and outlets take, kPa.
    fn balance(&self, gives: f64, burst: f64, own: &[usize], outlets: &[Outlet]) -> f64 {
        let free = self.free * gives;
        let (slope, mut pressure) = (free / self.plan.shut_off_kpa, self.plan.shut_off_kpa);
        // An outlet deeper than the pressure takes nothing: leave such out until none is left.
        loop {
            let (mut given, mut taken) = (free, slope + self.bleed * gives.min(1.0) + burst);
            for outlet in own.iter().map(|i| &outlets[*i]) {
                let (draws, against) = outlet.draws();
                if against < pressure {
                    taken += draws;
                    given += draws * against;
                }
            }
            let next = if taken > 0.0 { given / taken } else { 0.0 };
            if next < pressure {
                pressure = next;
            } else {
                return next;
            }
        }
    }

    /// What stands in the line while no pump pushes, kPa: the bleed sits at the pump, before the check valve. What has
    /// gone does not come back, whatever is mended.
    fn left(&mut self, own: &[usize], outlets: &[Outlet], faults: &Hurt, at: Time) -> f64 {
        let (since, held) = self.held.unwrap_or((at, self.pressure));
        let keeps = self.plan.check_valve && !faults.check_valve && !faults.burst;
        let leaking = held * libm::exp(-(at - since).as_seconds() / self.plan.leaks.seconds());
        let open = own.iter().map(|i| &outlets[*i]).filter(|o| o.draws().0 > 0.0);
        let left = open.map(|o| o.draws().1).fold(if keeps { leaking } else { 0.0 }, f64::min);
        self.held = Some((at, left));
        left
    }
}

/// What is wrong with a line itself.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Hurt {
    pub(crate) burst: bool,
    pub(crate) check_valve: bool,
}
