//! Which things in a room can be measured, found by name.

use crate::{OutletKind, Scenario};
use units::Quantity;

/// Something that a probe can sit at: its kind and its place in the list of that kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Source {
    Water(usize),
    AirFlow(usize),
    Bubbles(usize),
    AirMoves(usize),
    Manifold(usize),
    OutletPressure(usize),
    JarFlow(usize),
    Heater(usize),
    Pump(usize),
    LoopPump(usize),
    Ph(usize),
    Oxygen(usize),
    OutletOxygen(usize),
    JarOxygen(usize),
    Ammonia(usize),
    Conductivity(usize),
    TankLevel(usize),
    Header(usize),
    TankFull(usize),
    HeaderFull(usize),
    Mains(usize),
    FloorDry,
    RoomTemperature,
    Humidity,
}

/// A vessel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Spot {
    Tank(usize),
    Outlet(usize),
    Jar(usize),
}

/// Looks names up in a scenario.
pub(crate) struct Sources<'a>(&'a Scenario);

fn number<T>(all: &[T], is: impl Fn(&T) -> bool) -> Option<usize> {
    all.iter().position(is)
}

impl<'a> Sources<'a> {
    pub(crate) fn new(scenario: &'a Scenario) -> Self {
        Self(scenario)
    }

    pub(crate) fn tank(&self, name: &str) -> Option<usize> {
        number(&self.0.tanks, |t| t.vessel == name)
    }

    pub(crate) fn outlet(&self, name: &str) -> Option<usize> {
        number(&self.0.outlets, |o| o.vessel == name)
    }

    fn jar(&self, name: &str) -> Option<usize> {
        number(&self.0.jars, |j| j.vessel == name)
    }

    pub(crate) fn line(&self, name: &str) -> Option<usize> {
        number(&self.0.lines, |l| l.name == name)
    }

    pub(crate) fn jar_loop(&self, name: &str) -> Option<usize> {
        number(&self.0.loops, |l| l.name == name)
    }

    /// A tank, tumbler or jar of that name.
    pub(crate) fn spot(&self, name: &str) -> Option<Spot> {
        let tumbler = self.outlet(name).filter(|i| self.0.outlets[*i].kind == OutletKind::Tumbler);
        self.tank(name)
            .map(Spot::Tank)
            .or_else(|| tumbler.map(Spot::Outlet))
            .or_else(|| self.jar(name).map(Spot::Jar))
    }

    /// The tank whose water a vessel of that name shares.
    pub(crate) fn water(&self, name: &str) -> Option<usize> {
        let host = |spot| match spot {
            Spot::Tank(t) => Some(t),
            Spot::Outlet(o) => self.tank(self.0.outlets[o].tank.as_deref()?),
            Spot::Jar(j) => {
                let of = self.jar_loop(self.0.jars[j].jar_loop.as_deref()?)?;
                self.tank(self.0.loops[of].tank.as_deref()?)
            }
        };
        self.spot(name)
            .and_then(host)
            .or_else(|| self.tank(self.0.outlets[self.outlet(name)?].tank.as_deref()?))
    }

    /// What a probe of that quantity at that name measures.
    ///
    /// # Errors
    /// Where it could sit instead.
    pub(crate) fn find(&self, name: &str, quantity: Quantity) -> Result<Source, &'static str> {
        let (found, cure) = match quantity {
            Quantity::Temperature => (self.water(name).map(Source::Water), "name a tank, a tumbler or a jar"),
            Quantity::AirFlow => (self.outlet(name).map(Source::AirFlow), "name an outlet"),
            Quantity::BubbleRate => (self.outlet(name).map(Source::Bubbles), "name an outlet"),
            Quantity::AirSwitch => (self.outlet(name).map(Source::AirMoves), "name an outlet"),
            Quantity::LinePressure => (self.pressure(name), "name an outlet, or the line with `of`"),
            Quantity::WaterFlow => (self.jar(name).map(Source::JarFlow), "name a jar"),
            Quantity::Power => (self.power(name), "name a tank with a heater, or a pump with `of`"),
            Quantity::Ph => (self.water(name).map(Source::Ph), "name a tank, a tumbler or a jar"),
            Quantity::DissolvedOxygen => (self.oxygen(name), "name a tank, a tumbler or a jar"),
            Quantity::Ammonia => (self.water(name).map(Source::Ammonia), "name a tank, a tumbler or a jar"),
            Quantity::Conductivity => (self.water(name).map(Source::Conductivity), "name a tank"),
            Quantity::Level => (self.level(name), "name a tank, or a loop with `of`"),
            Quantity::LevelSwitch => (self.full(name), "name a tank, or a loop with `of`"),
            Quantity::MainsSwitch => (Some(Source::Mains(self.circuit(name))), ""),
            Quantity::LeakSwitch => (Some(Source::FloorDry), ""),
            Quantity::RoomTemperature => (Some(Source::RoomTemperature), ""),
            Quantity::Humidity => (Some(Source::Humidity), ""),
        };
        found.ok_or(cure)
    }

    fn pressure(&self, name: &str) -> Option<Source> {
        self.line(name).map(Source::Manifold).or_else(|| self.outlet(name).map(Source::OutletPressure))
    }

    fn power(&self, name: &str) -> Option<Source> {
        self.tank(name)
            .filter(|t| self.0.tanks[*t].set_point.is_some())
            .map(Source::Heater)
            .or_else(|| number(&self.0.pumps, |p| p.name == name).map(Source::Pump))
            .or_else(|| number(&self.0.loops, |l| l.pump == name).map(Source::LoopPump))
    }

    fn oxygen(&self, name: &str) -> Option<Source> {
        self.spot(name).map(|spot| match spot {
            Spot::Tank(t) => Source::Oxygen(t),
            Spot::Outlet(o) => Source::OutletOxygen(o),
            Spot::Jar(j) => Source::JarOxygen(j),
        })
    }

    fn level(&self, name: &str) -> Option<Source> {
        self.tank(name).map(Source::TankLevel).or_else(|| self.jar_loop(name).map(Source::Header))
    }

    fn full(&self, name: &str) -> Option<Source> {
        self.tank(name).map(Source::TankFull).or_else(|| self.jar_loop(name).map(Source::HeaderFull))
    }

    /// The circuit of that name; any other place has the mains.
    fn circuit(&self, name: &str) -> usize {
        self.0.circuit_names().iter().position(|c| c == name).unwrap_or(0)
    }
}
