//! Names of things in a room, and whether there is such a thing.

use super::Scenario;
use std::fmt;
use units::ProbeKey;

/// Something that a fault or an act is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place<'a> {
    Tank(&'a str),
    Heater(&'a str),
    Outlet(&'a str),
    Line(&'a str),
    Pump(&'a str),
    Loop(&'a str),
    /// A tank, a tumbler or a jar.
    Vessel(&'a str),
    Circuit(&'a str),
    Switch(&'a str),
    /// A pump, a device, the tank of a heater, or the router.
    Plug(&'a str),
    Device(&'a str),
    Probe(&'a ProbeKey),
    Clutch(&'a str),
}

/// The plug of the router.
pub(crate) const ROUTER: &str = "router";

/// A fault, an act or a rhythm for something that is not in the room, or an amount that makes no sense.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownPlace(pub(crate) String);

impl fmt::Display for UnknownPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for UnknownPlace {}

impl Scenario {
    /// What is wrong with a place: that the room has none of that name, and what it has.
    pub(crate) fn unknown(&self, place: Place<'_>) -> Option<String> {
        let (what, name, known) = match place {
            Place::Tank(n) => ("tank", n.to_owned(), self.tank_names()),
            Place::Heater(n) => ("heater", n.to_owned(), self.heaters()),
            Place::Outlet(n) => ("outlet", n.to_owned(), names(&self.outlets, |o| &o.vessel)),
            Place::Line(n) => ("line", n.to_owned(), names(&self.lines, |l| &l.name)),
            Place::Pump(n) => ("pump", n.to_owned(), names(&self.pumps, |p| &p.name)),
            Place::Loop(n) => ("jar_loop", n.to_owned(), names(&self.loops, |l| &l.name)),
            Place::Vessel(n) => ("vessel", n.to_owned(), self.vessel_names()),
            Place::Circuit(n) => ("circuit", n.to_owned(), self.circuit_names()),
            Place::Switch(n) => ("fault-current switch", n.to_owned(), self.switches()),
            Place::Plug(n) => ("plug", n.to_owned(), self.plugs()),
            Place::Device(n) => ("device", n.to_owned(), names(&self.devices, |d| &d.name)),
            Place::Probe(p) => ("probe", p.to_string(), self.probe_names()),
            Place::Clutch(n) => ("clutch", n.to_owned(), names(&self.clutches, |c| &c.name)),
        };
        (!known.contains(&name)).then(|| no_such(what, &name, &known))
    }

    pub(crate) fn tank_names(&self) -> Vec<String> {
        names(&self.tanks, |t| &t.vessel)
    }

    /// Tanks, tumblers and jars; filters are no vessels.
    pub(crate) fn vessel_names(&self) -> Vec<String> {
        let mut all = self.tank_names();
        let tumblers = self.outlets.iter().filter(|o| o.kind == super::OutletKind::Tumbler);
        all.extend(tumblers.map(|o| o.vessel.clone()));
        all.extend(names(&self.jars, |j| &j.vessel));
        all
    }

    pub(crate) fn circuit_names(&self) -> Vec<String> {
        let mut all = vec![super::power::MAINS.to_owned()];
        all.extend(names(&self.circuits, |c| &c.name));
        all
    }

    fn heaters(&self) -> Vec<String> {
        self.tanks.iter().filter(|t| t.set_point.is_some()).map(|t| t.vessel.clone()).collect()
    }

    fn switches(&self) -> Vec<String> {
        self.circuits.iter().filter_map(|c| c.behind.clone()).collect()
    }

    /// Everything with a plug of its own.
    pub(crate) fn plugs(&self) -> Vec<String> {
        let mut all = vec![ROUTER.to_owned()];
        all.extend(names(&self.pumps, |p| &p.name));
        all.extend(names(&self.loops, |l| &l.pump));
        all.extend(names(&self.devices, |d| &d.name));
        all.extend(self.heaters());
        all
    }

    fn probe_names(&self) -> Vec<String> {
        self.devices.iter().flat_map(|d| &d.probes).map(|p| p.probe.to_string()).collect()
    }
}

fn names<T>(all: &[T], name: impl Fn(&T) -> &String) -> Vec<String> {
    all.iter().map(|x| name(x).clone()).collect()
}

/// Names shown in a message at most.
const SHOWN: usize = 12;

pub(crate) fn no_such(what: &str, name: &str, known: &[String]) -> String {
    if known.is_empty() {
        return format!("there is no {what} {name:?}: this room has none");
    }
    let more = if known.len() > SHOWN { " …" } else { "" };
    let shown = known[..known.len().min(SHOWN)].join(", ");
    format!("there is no {what} {name:?} in this room; use one of: {shown}{more}")
}
