//! Finds what is wrong with a plan.

use crate::{DevicePlan, Fault, Plan, PlanError};
use std::collections::HashSet;
use std::ops::RangeInclusive;
use units::{Quantity, RoomId, VesselId};

impl Plan {
    /// Looks at every value.
    ///
    /// # Errors
    /// [`PlanError::Flaws`] with every value that makes no room, its field and the cure.
    pub fn check(&self) -> Result<(), PlanError> {
        let mut flaws = Flaws(Vec::new());
        if let Err(e) = RoomId::new(self.room.clone()) {
            flaws.0.push(format!("room: {e}"));
        }
        self.check_air(&mut flaws);
        self.check_tanks(&mut flaws);
        self.check_outlets(&mut flaws);
        self.check_devices(&mut flaws);
        self.check_events(&mut flaws);
        if flaws.0.is_empty() { Ok(()) } else { Err(PlanError::Flaws(flaws.0)) }
    }

    fn check_air(&self, flaws: &mut Flaws) {
        let air = &self.room_air;
        flaws.range("room_air.mean_celsius", air.mean_celsius, -30.0..=60.0, "°C");
        flaws.range("room_air.swing_celsius", air.swing_celsius, 0.0..=30.0, "K");
        flaws.range("room_air.warmest_hour", air.warmest_hour, 0.0..=24.0, "h");
        let pump = &self.pump;
        flaws.range("pump.pressure_kpa", pump.pressure_kpa, 0.1..=190.0, "kPa");
        flaws.range("pump.shut_off_kpa", pump.shut_off_kpa, pump.pressure_kpa * 1.01..=200.0, "kPa");
        flaws.range("pump.bleed_litres_per_minute", pump.bleed_litres_per_minute, 0.0..=1000.0, "L/min");
    }

    fn check_tanks(&self, flaws: &mut Flaws) {
        flaws.names("tank", self.tanks.iter().map(|t| t.vessel.as_str()));
        for t in &self.tanks {
            let field = |f: &str| format!("tank {}.{f}", t.vessel);
            flaws.range(&field("litres"), t.litres, 0.1..=1e6, "L");
            flaws.range(&field("set_point"), t.set_point, 0.0..=60.0, "°C");
            flaws.range(&field("hysteresis"), t.hysteresis, 0.01..=10.0, "K");
            flaws.range(&field("heater_watts"), t.heater_watts, 0.0..=1e6, "W");
            flaws.range(&field("loss_w_per_k"), t.loss_w_per_k, 0.0..=1e6, "W/K");
            flaws.range(&field("start_celsius"), t.start_celsius.unwrap_or(t.set_point), 0.0..=60.0, "°C");
        }
    }

    fn check_outlets(&self, flaws: &mut Flaws) {
        flaws.names("outlet", self.outlets.iter().map(|o| o.vessel.as_str()));
        let deepest = self.pump.pressure_kpa / crate::air::KPA_PER_METRE * 0.99;
        for o in &self.outlets {
            flaws.range(
                &format!("outlet {}.litres_per_minute", o.vessel),
                o.litres_per_minute,
                0.001..=200.0,
                "L/min",
            );
            // Deeper than the pressure reaches, no air would come out.
            flaws.range(&format!("outlet {}.depth_m", o.vessel), o.depth_m, 0.0..=deepest, "m");
        }
    }

    fn check_devices(&self, flaws: &mut Flaws) {
        flaws.names("device", self.devices.iter().map(|d| d.name.as_str()));
        for d in &self.devices {
            flaws.range(&format!("device {}.interval_s", d.name), d.interval_s, 0.1..=86_400.0, "s");
            flaws.range(&format!("device {}.clock_ahead_s", d.name), d.clock_ahead_s, -1e10..=1e10, "s");
            self.check_probes(d, flaws);
        }
    }

    fn check_probes(&self, d: &DevicePlan, flaws: &mut Flaws) {
        for p in &d.probes {
            let field = format!("device {}, probe {}", d.name, p.probe);
            flaws.range(&format!("{field}, offset"), p.offset, -1000.0..=1000.0, "");
            flaws.range(&format!("{field}, noise"), p.noise.unwrap_or(0.0), 0.0..=1000.0, "");
            let vessel = p.probe.vessel.as_str();
            let there = match p.probe.quantity {
                Quantity::Temperature | Quantity::Power => self.has_tank(vessel),
                Quantity::AirFlow => self.has_outlet(vessel),
                Quantity::RoomTemperature | Quantity::LinePressure => true,
                _ => false,
            };
            if !there {
                let cure = "use temperature or power at a tank, air-flow at an outlet, room-temperature or line-pressure anywhere";
                flaws.0.push(format!("{field}: nothing in this plan gives that; {cure}"));
            }
        }
    }

    fn check_events(&self, flaws: &mut Flaws) {
        for (i, e) in self.events.iter().enumerate() {
            let field = format!("event {}", i + 1);
            flaws.range(&format!("{field}, at"), e.at, 0.0..=1e10, "s");
            flaws.range(&format!("{field}, lasts"), e.lasts.unwrap_or(1.0), 0.001..=1e10, "s");
            if let Some(flaw) = self.unknown_place(&e.fault).or_else(|| e.fault.flaw()) {
                flaws.0.push(format!("{field}: {flaw}"));
            }
        }
    }

    /// What is wrong with the place of a fault: that the plan has none of that name.
    pub(crate) fn unknown_place(&self, fault: &Fault) -> Option<String> {
        let (what, name, known) = match fault {
            Fault::PumpDead => return None,
            Fault::AirStop { outlet } | Fault::TubeOff { outlet } => {
                ("outlet", outlet, self.has_outlet(outlet))
            }
            Fault::HeaterDead { tank } | Fault::ColdInflow { tank, .. } | Fault::PowerOnValue { tank } => {
                ("tank", tank, self.has_tank(tank))
            }
            Fault::Silent { device } => ("device", device, self.has_device(device)),
        };
        (!known).then(|| self.no_such(what, name))
    }

    /// Says that there is no such thing, and what there is.
    pub(crate) fn no_such(&self, what: &str, name: &str) -> String {
        let names: Vec<&str> = match what {
            "tank" => self.tanks.iter().map(|t| t.vessel.as_str()).collect(),
            "outlet" => self.outlets.iter().map(|o| o.vessel.as_str()).collect(),
            _ => self.devices.iter().map(|d| d.name.as_str()).collect(),
        };
        format!("there is no {what} {name:?} in this room; use one of: {}", names.join(", "))
    }

    fn has_tank(&self, name: &str) -> bool {
        self.tanks.iter().any(|t| t.vessel == name)
    }

    fn has_outlet(&self, name: &str) -> bool {
        self.outlets.iter().any(|o| o.vessel == name)
    }

    pub(crate) fn has_device(&self, name: &str) -> bool {
        self.devices.iter().any(|d| d.name == name)
    }
}

struct Flaws(Vec<String>);

impl Flaws {
    fn range(&mut self, field: &str, value: f64, allowed: RangeInclusive<f64>, unit: &str) {
        if !allowed.contains(&value) {
            let (low, high) = allowed.into_inner();
            let text = format!("{field} = {value} is out of range; write {low} to {high} {unit}");
            self.0.push(text.trim_end().to_owned());
        }
    }

    /// Names must fit into a topic level, and no two may be the same.
    fn names<'a>(&mut self, what: &str, names: impl Iterator<Item = &'a str>) {
        let mut seen = HashSet::new();
        for name in names {
            if let Err(e) = VesselId::new(name) {
                self.0.push(format!("{what}: {}", e.to_string().replacen("vessel", what, 1)));
            }
            if !seen.insert(name) {
                self.0.push(format!("{what} {name:?} stands twice; give each its own name"));
            }
        }
    }
}
