//! What goes wrong.

use super::amounts::{no_time, outside, percent};
use super::names::Place;
use crate::Lapse;
use serde::{Deserialize, Serialize};
use std::fmt;
use units::{ProbeKey, Quantity, Span};

/// Something that goes wrong in the room and stays wrong until it is mended.
///
/// In a scenario it is written as `{ air-stop = "TU2" }`, or `"grid-off"` where it has no place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", rename_all_fields = "snake_case", deny_unknown_fields)]
pub enum Fault {
    /// The tube to one outlet is kinked before its flow probe: no flow there, a little more at the others.
    AirStop(String),
    /// The stone of an outlet clogs: less flow, more pressure behind it.
    Clog {
        /// Where.
        outlet: String,
        /// Share of the way that is shut in the end.
        part: f64,
        /// How long it takes.
        #[serde(default = "no_time")]
        over: Lapse,
    },
    /// The valve of an outlet creeps shut: less flow, less pressure behind it.
    ValveCreep {
        /// Where.
        outlet: String,
        /// Share of the way that is shut in the end.
        part: f64,
        /// How long it takes.
        #[serde(default = "no_time")]
        over: Lapse,
    },
    /// The tube is off before the flow probe: no flow there, and the air lost is missing at the others.
    TubeOff(String),
    /// The tube is off behind the flow probe: it shows more than ever, and the eggs lie still.
    TubeOffAfter(String),
    /// Somebody has opened the valve of an outlet further: the others get less.
    Opened {
        /// Where.
        outlet: String,
        /// How many times as far.
        times: f64,
    },
    /// The manifold of a line has split: hardly any pressure, no flow.
    LineBurst(String),
    /// A pump stands still and draws nothing.
    PumpDead(String),
    /// The diaphragm of a pump is torn: it draws its power and gives no air.
    DiaphragmTorn(String),
    /// A pump grows weak.
    PumpWeak {
        /// Which.
        pump: String,
        /// Share of its flow that is lost in the end.
        part: f64,
        /// How long it takes.
        #[serde(default = "no_time")]
        over: Lapse,
    },
    /// The check valve of a line does not close: when the pump stops, the pressure goes at once and water climbs the
    /// tubes, which a leak strip under the pump sees.
    CheckValveStuck(String),
    /// The heater of a tank does not heat.
    HeaterDead(String),
    /// The contacts of a heater are welded: it heats without end.
    HeaterStuck(String),
    /// Somebody has turned the dial of a heater.
    HeaterMisset {
        /// Whose.
        tank: String,
        /// By how much, K.
        by_kelvin: f64,
    },
    /// A window stands open: the room cools, and the draught takes more heat from every tank.
    WindowOpen {
        /// How far the room would fall in the end, K.
        falls_celsius: f64,
    },
    /// Water runs into a tank and as much runs out; it mixes at once.
    ColdInflow {
        /// The tank.
        tank: String,
        /// How much water, L/min.
        litres_per_minute: f64,
        /// How warm that water is, °C.
        celsius: f64,
    },
    /// The lid is off: an open tank evaporates.
    LidOff(String),
    /// The strainer of a loop blocks.
    StrainerBlocked {
        /// Which loop.
        jar_loop: String,
        /// Share of the flow that is lost in the end.
        part: f64,
        /// How long it takes.
        #[serde(default = "no_time")]
        over: Lapse,
    },
    /// The water pump of a loop stands still; its standby is a pump of its own.
    LoopPumpDead(String),
    /// The power of the whole house is gone.
    GridOff,
    /// A circuit is off.
    CircuitOff(String),
    /// A fault-current switch has tripped, and all circuits behind it are off.
    FaultCurrent(String),
    /// A plug is out: a pump, a device, the heater of a tank, `router`.
    Unplugged(String),
    /// A device publishes nothing, though its connection stands. Its running number stands still too.
    Silent(String),
    /// A device has lost the Wi-Fi.
    WifiLost(String),
    /// Every device has lost the Wi-Fi.
    RoomWifiLost,
    /// The clock of a device is wrong.
    ClockJump {
        /// Whose.
        device: String,
        /// How far ahead, s.
        by_s: f64,
    },
    /// The temperature probes of a vessel send 85.0, the value in the probe's register at power-on.
    PowerOnValue(String),
    /// A probe does not answer: temperature is told as -127, everything else as null.
    ProbeOff(ProbeKey),
    /// A probe says the same for ever.
    ProbeStuck(ProbeKey),
    /// A thermometer has been pulled out of the water: it tells the air of the room.
    ProbeInAir(ProbeKey),
    /// A probe drifts away from the truth.
    ProbeDrift {
        /// Which.
        probe: ProbeKey,
        /// How far in a day, in its unit.
        per_day: f64,
    },
}

impl Fault {
    /// Whether the two break the same thing in the same way, whatever the amount: mending one ends the other.
    pub(crate) fn same_as(&self, other: &Self) -> bool {
        std::mem::discriminant(self) == std::mem::discriminant(other) && self.place() == other.place()
    }

    /// What is broken.
    pub(crate) fn place(&self) -> Option<Place<'_>> {
        Some(match self {
            Self::AirStop(o) | Self::TubeOff(o) | Self::TubeOffAfter(o) => Place::Outlet(o),
            Self::Clog { outlet, .. } | Self::ValveCreep { outlet, .. } | Self::Opened { outlet, .. } => {
                Place::Outlet(outlet)
            }
            Self::LineBurst(line) | Self::CheckValveStuck(line) => Place::Line(line),
            Self::PumpDead(pump) | Self::DiaphragmTorn(pump) | Self::PumpWeak { pump, .. } => {
                Place::Pump(pump)
            }
            Self::HeaterDead(tank) | Self::HeaterStuck(tank) | Self::HeaterMisset { tank, .. } => {
                Place::Heater(tank)
            }
            Self::ColdInflow { tank, .. } | Self::LidOff(tank) => Place::Tank(tank),
            Self::StrainerBlocked { jar_loop, .. } | Self::LoopPumpDead(jar_loop) => Place::Loop(jar_loop),
            Self::CircuitOff(circuit) => Place::Circuit(circuit),
            Self::FaultCurrent(switch) => Place::Switch(switch),
            Self::Unplugged(plug) => Place::Plug(plug),
            Self::Silent(device) | Self::WifiLost(device) | Self::ClockJump { device, .. } => {
                Place::Device(device)
            }
            Self::PowerOnValue(vessel) => Place::Vessel(vessel),
            Self::ProbeOff(probe)
            | Self::ProbeStuck(probe)
            | Self::ProbeInAir(probe)
            | Self::ProbeDrift { probe, .. } => Place::Probe(probe),
            Self::GridOff | Self::RoomWifiLost | Self::WindowOpen { .. } => return None,
        })
    }

    /// An amount that makes no sense: what is wrong.
    pub(crate) fn flaw(&self) -> Option<String> {
        match self {
            Self::Clog { part, .. }
            | Self::ValveCreep { part, .. }
            | Self::PumpWeak { part, .. }
            | Self::StrainerBlocked { part, .. } => outside("part", *part, 0.0, 1.0, ""),
            Self::Opened { times, .. } => outside("times", *times, 0.0, 1000.0, ""),
            Self::HeaterMisset { by_kelvin, .. } => outside("by_kelvin", *by_kelvin, -30.0, 30.0, "K"),
            Self::WindowOpen { falls_celsius } => outside("falls_celsius", *falls_celsius, 0.0, 40.0, "K"),
            Self::ColdInflow { litres_per_minute: l, celsius: c, .. } => {
                outside("litres_per_minute", *l, 0.0, 1000.0, "L/min")
                    .or_else(|| outside("celsius", *c, -2.0, 60.0, "°C"))
            }
            Self::ClockJump { by_s, .. } => outside("by_s", *by_s, -1e10, 1e10, "s"),
            Self::ProbeInAir(probe) if probe.quantity != Quantity::Temperature => {
                Some(format!("probe-in-air = {probe} is no thermometer; name a probe of temperature"))
            }
            Self::ProbeDrift { per_day, .. } => outside("per_day", *per_day, -1000.0, 1000.0, ""),
            _ => None,
        }
    }

    /// How long the fault takes to come to its full size.
    pub(crate) fn over(&self) -> Span {
        match self {
            Self::Clog { over, .. }
            | Self::ValveCreep { over, .. }
            | Self::PumpWeak { over, .. }
            | Self::StrainerBlocked { over, .. } => over.span(),
            _ => Span::ZERO,
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::AirStop(o) => write!(f, "the tube to {o} is kinked"),
            Self::Clog { outlet, part, over } => {
                write!(f, "the stone of {outlet} clogs by {} over {over}", percent(*part))
            }
            Self::ValveCreep { outlet, part, over } => {
                write!(f, "the valve of {outlet} creeps shut by {} over {over}", percent(*part))
            }
            Self::TubeOff(o) => write!(f, "the tube of {o} is off before its flow probe"),
            Self::TubeOffAfter(o) => write!(f, "the tube of {o} is off behind its flow probe"),
            Self::Opened { outlet, times } => {
                write!(f, "the valve of {outlet} stands {times} times as far open")
            }
            Self::LineBurst(line) => write!(f, "the manifold of line {line} has split"),
            Self::PumpDead(pump) => write!(f, "pump {pump} stands still"),
            Self::DiaphragmTorn(pump) => write!(f, "the diaphragm of {pump} is torn; it still draws power"),
            Self::PumpWeak { pump, part, over } => {
                write!(f, "pump {pump} loses {} of its flow over {over}", percent(*part))
            }
            Self::CheckValveStuck(line) => write!(f, "the check valve of line {line} does not close"),
            Self::HeaterDead(tank) => write!(f, "the heater of {tank} is dead"),
            Self::HeaterStuck(tank) => write!(f, "the heater of {tank} sticks on"),
            Self::HeaterMisset { tank, by_kelvin } => {
                write!(f, "the heater of {tank} is set {by_kelvin:+} K")
            }
            Self::WindowOpen { falls_celsius } => {
                write!(f, "a window stands open (towards -{falls_celsius} K)")
            }
            Self::ColdInflow { tank, litres_per_minute, celsius } => {
                write!(f, "{litres_per_minute} L/min of {celsius} °C run into {tank}")
            }
            Self::LidOff(tank) => write!(f, "the lid of {tank} is off"),
            Self::StrainerBlocked { jar_loop, part, over } => {
                write!(f, "the strainer of {jar_loop} blocks by {} over {over}", percent(*part))
            }
            Self::LoopPumpDead(l) => write!(f, "the water pump of {l} stands still"),
            Self::GridOff => f.write_str("the grid is off"),
            Self::CircuitOff(circuit) => write!(f, "circuit {circuit} is off"),
            Self::FaultCurrent(switch) => write!(f, "fault-current switch {switch} has tripped"),
            Self::Unplugged(plug) => write!(f, "{plug} is unplugged"),
            Self::Silent(device) => write!(f, "device {device} hangs"),
            Self::WifiLost(device) => write!(f, "device {device} has lost the Wi-Fi"),
            Self::RoomWifiLost => f.write_str("the Wi-Fi is lost"),
            Self::ClockJump { device, by_s } => write!(f, "the clock of {device} jumps {by_s:+} s"),
            Self::PowerOnValue(vessel) => write!(f, "the temperature probes of {vessel} say 85.0"),
            Self::ProbeOff(probe) => write!(f, "probe {probe} does not answer"),
            Self::ProbeStuck(probe) => write!(f, "probe {probe} says the same for ever"),
            Self::ProbeInAir(probe) => write!(f, "probe {probe} hangs out of the water"),
            Self::ProbeDrift { probe, per_day } => write!(f, "probe {probe} drifts by {per_day:+} a day"),
        }
    }
}
