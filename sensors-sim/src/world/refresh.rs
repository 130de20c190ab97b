//! What faults, roles and batteries make of the room at a moment.

use super::air::{Hurt, Line, Pump, State};
use super::heat::{Heater, Stream};
use super::jars::JarLoop;
use super::power::{Power, unplugged};
use super::{Active, World};
use crate::{Fault, Role};
use units::Time;

/// How much more heat tanks lose in a draught: planning value.
const DRAUGHT: f64 = 1.3;

impl World {
    /// Breaks something; everything must be worked out up to that moment.
    pub(crate) fn hurt(&mut self, fault: Fault) {
        self.active.retain(|a| !a.fault.same_as(&fault));
        self.active.push(Active { fault, since: self.at });
        self.refresh();
    }

    /// Mends something; everything must be worked out up to that moment. False if it was not broken.
    pub(crate) fn mend(&mut self, fault: &Fault) -> bool {
        let before = self.active.len();
        self.active.retain(|a| !a.fault.same_as(fault));
        self.refresh();
        self.active.len() < before
    }

    /// Whether anything changes by itself, so that each tick has to look again.
    pub(super) fn is_changing(&self) -> bool {
        let grows = |a: &Active| self.at - a.since <= a.fault.over();
        self.active.iter().any(|a| a.fault.over().millis() > 0 && grows(a))
            || self.drains()
            || self.lines.iter().any(Line::is_still)
            || self.loops.iter().any(|l| l.pump <= 0.0)
    }

    /// Works out what holds from now on.
    pub(super) fn refresh(&mut self) {
        let faults: Vec<Fault> = self.faults().cloned().collect();
        self.power.refresh(&faults, self.at);
        self.refresh_room(&faults);
        self.refresh_tanks(&faults);
        self.refresh_air(&faults);
        self.refresh_loops(&faults);
    }

    fn refresh_room(&mut self, faults: &[Fault]) {
        let window = faults.iter().map(|f| match f {
            Fault::WindowOpen { falls_celsius } => *falls_celsius,
            _ => 0.0,
        });
        self.room_air.target =
            -window.sum::<f64>() - if self.power.live_number(0) { 0.0 } else { self.room_air.falls() };
    }

    fn refresh_tanks(&mut self, faults: &[Fault]) {
        let draughty = faults.iter().any(|f| matches!(f, Fault::WindowOpen { .. }));
        for tank in &mut self.tanks {
            let name = tank.plan.vessel.as_str();
            let water = &mut tank.water;
            water.draught = if draughty { DRAUGHT } else { 1.0 };
            let powered = self.power.live(tank.circuit) && !unplugged(faults, name);
            water.heater = heater(name, tank.plan.set_point.is_some() && powered, faults);
            water.holds = tank.set_point + tank.plan.dial_error + misset(name, faults);
            tank.changes.retain(|c| c.stream(self.at).is_some());
            let runs = tank.changes.iter().filter_map(|c| c.stream(self.at));
            water.stream = runs.chain(inflow(name, faults)).fold(Stream::default(), Stream::and);
        }
    }

    fn refresh_air(&mut self, faults: &[Fault]) {
        let (at, active) = (self.at, &self.active);
        let grown = active.iter().map(|a| (&a.fault, a.grown(at)));
        for outlet in &mut self.outlets {
            outlet.state = State::of(&outlet.plan.vessel, grown.clone());
        }
        for number in 0..self.lines.len() {
            let line = &mut self.lines[number];
            let name = line.plan.name.as_str();
            let hurt = Hurt {
                burst: faults.iter().any(|f| matches!(f, Fault::LineBurst(l) if l == name)),
                check_valve: faults.iter().any(|f| matches!(f, Fault::CheckValveStuck(l) if l == name)),
            };
            run_pumps(&mut self.pumps, number, active, &self.power, at);
            line.settle(number, &self.pumps, &mut self.outlets, &hurt, at);
        }
    }

    fn refresh_loops(&mut self, faults: &[Fault]) {
        let (at, active) = (self.at, &self.active);
        for l in &mut self.loops {
            l.refresh(active, faults, &self.power, at);
        }
    }
}

impl Active {
    /// How far the fault has come, 0 to 1.
    fn grown(&self, at: Time) -> f64 {
        let over = self.fault.over().as_seconds();
        if over > 0.0 { ((at - self.since).as_seconds() / over).min(1.0) } else { 1.0 }
    }
}

fn heater(tank: &str, powered: bool, faults: &[Fault]) -> Heater {
    let hit = |is: fn(&Fault) -> Option<&String>| faults.iter().filter_map(is).any(|t| t == tank);
    let dead = hit(|f| if let Fault::HeaterDead(t) = f { Some(t) } else { None });
    let stuck = hit(|f| if let Fault::HeaterStuck(t) = f { Some(t) } else { None });
    match (powered && !dead, stuck) {
        (false, _) => Heater::Cold,
        (true, true) => Heater::Stuck,
        (true, false) => Heater::Follows,
    }
}

/// Water that runs into a tank by itself.
fn inflow(name: &str, faults: &[Fault]) -> Option<Stream> {
    faults.iter().find_map(|f| match f {
        Fault::ColdInflow { tank, litres_per_minute: l, celsius } if tank == name => {
            Some(Stream { into: *l, out: *l, celsius: *celsius })
        }
        _ => None,
    })
}

fn misset(name: &str, faults: &[Fault]) -> f64 {
    let by = |f: &Fault| match f {
        Fault::HeaterMisset { tank, by_kelvin } if tank == name => Some(*by_kelvin),
        _ => None,
    };
    faults.iter().find_map(by).unwrap_or(0.0)
}

/// What each pump of a line gives and draws. Standbys look at what the main pumps give.
fn run_pumps(pumps: &mut [Pump], line: usize, active: &[Active], power: &Power, at: Time) {
    let mut main = 0.0;
    for pump in pumps.iter_mut().filter(|p| p.line == line) {
        let runs = pump.role == Role::Main || (pump.role == Role::ByHand && pump.by_hand);
        if matches!(pump.role, Role::Main | Role::ByHand) {
            pump.run(runs, active, power, at);
            main += pump.gives;
        }
    }
    for pump in pumps.iter_mut().filter(|p| p.line == line) {
        match pump.role {
            Role::Automatic => {
                let missing = main <= 0.0;
                pump.missing_since = missing.then(|| pump.missing_since.unwrap_or(at));
                let waited = pump.missing_since.is_some_and(|s| at - s >= pump.plan.starts_after.span());
                pump.run(waited, active, power, at);
            }
            Role::Battery => {
                let gone = power.gone_since(power.number(&pump.plan.circuit), pump.pulled(active));
                let runs = gone.is_some_and(|since| at - since < pump.plan.battery.span());
                pump.set(runs, active, at);
            }
            Role::Main | Role::ByHand => {}
        }
    }
}

impl Pump {
    fn run(&mut self, wanted: bool, active: &[Active], power: &Power, at: Time) {
        let mains = power.live(power.number(&self.plan.circuit)) && self.pulled(active).is_none();
        self.set(wanted && mains, active, at);
    }

    /// Since when its plug is out.
    fn pulled(&self, active: &[Active]) -> Option<Time> {
        let out = |f: &Fault| matches!(f, Fault::Unplugged(p) if *p == self.plan.name);
        active.iter().find(|a| out(&a.fault)).map(|a| a.since)
    }

    fn set(&mut self, powered: bool, active: &[Active], at: Time) {
        let name = self.plan.name.as_str();
        let hit =
            |is: fn(&Fault) -> Option<&String>| active.iter().filter_map(|a| is(&a.fault)).any(|p| p == name);
        let dead = hit(|f| if let Fault::PumpDead(p) = f { Some(p) } else { None });
        let torn = hit(|f| if let Fault::DiaphragmTorn(p) = f { Some(p) } else { None });
        let weak: f64 = (active.iter())
            .filter_map(|a| match &a.fault {
                Fault::PumpWeak { pump, part, .. } if pump == name => Some(1.0 - part * a.grown(at)),
                _ => None,
            })
            .product();
        let runs = powered && !dead;
        self.watts = if runs { self.plan.watts } else { 0.0 };
        self.gives = if runs && !torn { self.plan.strength * weak } else { 0.0 };
    }
}

impl JarLoop {
    fn refresh(&mut self, active: &[Active], faults: &[Fault], power: &Power, at: Time) {
        let name = self.plan.name.as_str();
        let dead = faults.iter().any(|f| matches!(f, Fault::LoopPumpDead(l) if l == name));
        let live = power.live(power.number(&self.plan.circuit)) && !unplugged(faults, &self.plan.pump);
        let runs = live && !dead;
        let open: f64 = (active.iter())
            .filter_map(|a| match &a.fault {
                Fault::StrainerBlocked { jar_loop, part, .. } if jar_loop == name => {
                    Some(1.0 - part * a.grown(at))
                }
                _ => None,
            })
            .product();
        self.watts = if runs { self.plan.watts } else { 0.0 };
        self.pump = if runs { open } else { 0.0 };
        self.missing_since = (!runs).then(|| self.missing_since.unwrap_or(at));
        let waited = match (self.plan.standby_after, self.missing_since) {
            (Some(after), Some(since)) => at - since >= after.span(),
            _ => false,
        };
        let standby = waited && power.live(power.number(&self.plan.standby_circuit));
        self.standby = if standby { open } else { 0.0 };
    }
}
