//! Finds what is wrong with a scenario.

use super::names::Place;
use super::{DevicePlan, Event, Scenario, ScenarioError};
use crate::Moment;
use crate::world::Sources;
use std::collections::HashSet;
use std::ops::RangeInclusive;
use units::{Quantity, RoomId, Time, VesselId};

impl Scenario {
    /// Looks at every value.
    ///
    /// # Errors
    /// [`ScenarioError::Flaws`] with every value that makes no room, its field and the cure.
    pub fn check(&self) -> Result<(), ScenarioError> {
        let mut flaws = Flaws(Vec::new());
        if let Err(e) = RoomId::new(self.room.clone()) {
            flaws.0.push(format!("room: {e}"));
        }
        self.check_names(&mut flaws);
        self.check_room_air(&mut flaws);
        self.check_tanks(&mut flaws);
        self.check_air(&mut flaws);
        self.check_jars(&mut flaws);
        self.check_clutches(&mut flaws);
        self.check_deaths(&mut flaws);
        self.check_devices(&mut flaws);
        self.check_happenings(&mut flaws);
        if flaws.0.is_empty() { Ok(()) } else { Err(ScenarioError::Flaws(flaws.0)) }
    }

    fn check_names(&self, flaws: &mut Flaws) {
        let vessels = self.tanks.iter().map(|t| &t.vessel).chain(self.outlets.iter().map(|o| &o.vessel));
        flaws.names("vessel", vessels.chain(self.jars.iter().map(|j| &j.vessel)));
        flaws.names("plug", self.plugs().iter());
        flaws.names("line", self.lines.iter().map(|l| &l.name));
        flaws.names("jar_loop", self.loops.iter().map(|l| &l.name));
        flaws.names("circuit", self.circuit_names().iter());
        flaws.names("clutch", self.clutches.iter().map(|c| &c.name));
    }

    fn known(&self, field: &str, place: Place<'_>, flaws: &mut Flaws) {
        if let Some(flaw) = self.unknown(place) {
            flaws.0.push(format!("{field}: {flaw}"));
        }
    }

    fn check_room_air(&self, flaws: &mut Flaws) {
        let air = &self.room_air;
        flaws.range("room_air.mean_celsius", air.mean_celsius, -30.0..=60.0, "°C");
        flaws.range("room_air.swing_celsius", air.swing_celsius, 0.0..=30.0, "K");
        flaws.range("room_air.season_celsius", air.season_celsius, 0.0..=30.0, "K");
        flaws.range("room_air.coldest_day", air.coldest_day, -400.0..=40_000.0, "d");
        flaws.range("room_air.unrest_celsius", air.unrest_celsius, 0.0..=10.0, "K");
        flaws.range("room_air.humidity", air.humidity, 0.0..=1.0, "");
        flaws.range("room_air.falls_without_mains", air.falls_without_mains, 0.0..=40.0, "K");
        flaws.range("room_air.settles", air.settles.seconds(), 1.0..=1e7, "s");
        self.known("network.circuit", Place::Circuit(&self.network.circuit), flaws);
    }

    fn check_tanks(&self, flaws: &mut Flaws) {
        for t in &self.tanks {
            let field = |f: &str| format!("tank {}.{f}", t.vessel);
            flaws.range(&field("litres"), t.litres, 0.1..=1e6, "L");
            for side in t.size_m.iter().flatten() {
                flaws.range(&field("size_m"), *side, 0.01..=100.0, "m");
            }
            flaws.range(&field("loss_w_per_k"), t.loss_w_per_k.unwrap_or(1.0), 0.0..=1e5, "W/K");
            flaws.range(&field("set_point"), t.set_point.unwrap_or(26.0), 0.0..=60.0, "°C");
            flaws.range(&field("dial_error"), t.dial_error, -30.0..=30.0, "K");
            flaws.range(&field("hysteresis"), t.hysteresis, 0.01..=10.0, "K");
            flaws.range(&field("heater_watts"), t.heater_watts.unwrap_or(1.0), 0.0..=1e5, "W");
            flaws.range(&field("start_celsius"), t.start_celsius.unwrap_or(26.0), 0.0..=60.0, "°C");
            flaws.range(&field("fish_grams"), t.fish_grams, 0.0..=1e6, "g");
            flaws.range(&field("filter_mg_per_h"), t.filter_mg_per_h.unwrap_or(0.0), 0.0..=1e6, "mg/h");
            flaws.range(&field("ph"), t.ph, 4.0..=10.5, "");
            flaws.range(&field("ph_swing"), t.ph_swing, 0.0..=2.0, "");
            flaws.range(&field("conductivity"), t.conductivity, 0.0..=100_000.0, "µS/cm");
            self.known(&field("circuit"), Place::Circuit(&t.circuit), flaws);
            for n in &t.neighbours {
                // More would pass to and fro within one look of the thermostat.
                flaws.range(&field("neighbour.w_per_k"), n.w_per_k, 0.0..=100.0 * t.litres.max(0.0), "W/K");
                self.known(&field("neighbour.tank"), Place::Tank(&n.tank), flaws);
            }
        }
    }

    fn check_air(&self, flaws: &mut Flaws) {
        for l in &self.lines {
            let field = |f: &str| format!("line {}.{f}", l.name);
            flaws.range(&field("pressure_kpa"), l.pressure_kpa, 0.1..=190.0, "kPa");
            flaws.range(&field("shut_off_kpa"), l.shut_off_kpa, l.pressure_kpa * 1.01..=200.0, "kPa");
            flaws.range(&field("bleed_litres_per_minute"), l.bleed_litres_per_minute, 0.0..=1000.0, "L/min");
            flaws.range(&field("leaks"), l.leaks.seconds(), 1.0..=1e7, "s");
        }
        for p in &self.pumps {
            let field = |f: &str| format!("pump {}.{f}", p.name);
            flaws.range(&field("strength"), p.strength, 0.01..=100.0, "");
            flaws.range(&field("watts"), p.watts, 0.0..=10_000.0, "W");
            self.known(&field("circuit"), Place::Circuit(&p.circuit), flaws);
            self.known(&field("line"), Place::Line(p.line.as_deref().unwrap_or_default()), flaws);
            for outlet in &p.feeds {
                self.known(&field("feeds"), Place::Outlet(outlet), flaws);
            }
        }
        for o in &self.outlets {
            self.check_outlet(o, flaws);
        }
    }

    fn check_outlet(&self, o: &super::OutletPlan, flaws: &mut Flaws) {
        let field = |f: &str| format!("outlet {}.{f}", o.vessel);
        let line = o.line.as_deref().unwrap_or_default();
        self.known(&field("line"), Place::Line(line), flaws);
        self.known(&field("tank"), Place::Tank(o.tank.as_deref().unwrap_or_default()), flaws);
        let pressure = self.lines.iter().find(|l| l.name == line).map_or(8.0, |l| l.pressure_kpa);
        // The water over the tube must leave the pump something to push with.
        let deepest = 0.9 * pressure / crate::world::KPA_PER_METRE;
        flaws.range(&field("litres_per_minute"), o.litres_per_minute, 0.001..=1000.0, "L/min");
        flaws.range(&field("depth_m"), o.depth_m, 0.0..=deepest, "m");
        let most = 0.99 * (pressure - o.depth_m * crate::world::KPA_PER_METRE);
        flaws.range(&field("stone_kpa"), o.stone_kpa, 0.0..=most.max(0.0), "kPa");
        flaws.range(&field("chamber_litres"), o.chamber_litres, 0.01..=1000.0, "L");
    }

    fn check_jars(&self, flaws: &mut Flaws) {
        for l in &self.loops {
            let field = |f: &str| format!("jar_loop {}.{f}", l.name);
            flaws.range(&field("header_litres"), l.header_litres, 0.1..=1e6, "L");
            flaws.range(&field("surplus"), l.surplus, 0.01..=100.0, "");
            flaws.range(&field("watts"), l.watts, 0.0..=1e5, "W");
            self.known(&field("tank"), Place::Tank(l.tank.as_deref().unwrap_or_default()), flaws);
            self.known(&field("circuit"), Place::Circuit(&l.circuit), flaws);
            self.known(&field("standby_circuit"), Place::Circuit(&l.standby_circuit), flaws);
        }
        for j in &self.jars {
            let field = |f: &str| format!("jar {}.{f}", j.vessel);
            flaws.range(&field("litres_per_minute"), j.litres_per_minute, 0.001..=1000.0, "L/min");
            flaws.range(&field("litres"), j.litres, 0.01..=1e4, "L");
            flaws.range(&field("dry_at"), j.dry_at, 0.0..=0.95, "");
            self.known(&field("loop"), Place::Loop(j.jar_loop.as_deref().unwrap_or_default()), flaws);
        }
    }

    fn check_clutches(&self, flaws: &mut Flaws) {
        for c in &self.clutches {
            let field = |f: &str| format!("clutch {}.{f}", c.name);
            flaws.range(&field("eggs"), f64::from(c.eggs), 1.0..=1e6, "");
            flaws.range(&field("milligrams"), c.milligrams, 0.1..=1e4, "mg");
            flaws.range(&field("law.hatch_days"), c.law.hatch_days, 0.1..=100.0, "d");
            flaws.range(&field("law.celsius"), c.law.celsius, 5.0..=40.0, "°C");
            flaws.range(&field("law.swims_at"), c.law.swims_at, 1.01..=10.0, "");
            flaws.range(&field("law.eyes_at"), c.law.eyes_at, 0.05..=0.95, "");
            flaws.range(&field("law.between"), c.law.between, 0.0..=0.3, "");
            flaws.range(&field("law.within"), c.law.within, 0.0..=0.15, "");
            flaws.range(&field("law.activation_ev"), c.law.activation_ev, 0.1..=3.0, "eV");
            flaws.range(&field("law.activation_between_ev"), c.law.activation_between_ev, 0.0..=1.0, "eV");
            flaws.range(&field("law.half_lost_celsius"), c.law.half_lost_celsius, 28.0..=60.0, "°C");
            if c.noticed.is_some_and(|[from, to]| c.laid < from || to < c.laid) {
                flaws.0.push(format!(
                    "{}: it was laid at {}; write a look before and one after",
                    field("noticed"),
                    c.laid
                ));
            }
            self.known(&field("in"), Place::Vessel(&c.place), flaws);
        }
    }

    fn check_deaths(&self, flaws: &mut Flaws) {
        let d = &self.deaths;
        for (stage, lives) in
            [("egg", &d.egg), ("eyed", &d.eyed), ("wriggler", &d.wriggler), ("swimming", &d.swimming)]
        {
            let field = |f: &str| format!("deaths.{stage}.{f}");
            flaws.range(&field("dies_a_day"), lives.dies_a_day, 0.0..=1.0, "");
            flaws.range(&field("half_life_min"), lives.half_life_min, 0.01..=1e7, "min");
        }
        flaws.range("deaths.oxygen_mg_l", d.oxygen_mg_l, 0.0..=20.0, "mg/L");
        flaws.range("deaths.oxygen_half_life_min", d.oxygen_half_life_min, 0.01..=1e7, "min");
        let [cold, warm] = d.celsius;
        flaws.range("deaths.celsius, the first", cold, -10.0..=50.0, "°C");
        flaws.range("deaths.celsius, the second", warm, cold..=60.0, "°C");
        flaws.range("deaths.celsius_half_life_h", d.celsius_half_life_h, 0.001..=1e6, "h");
    }

    fn check_devices(&self, flaws: &mut Flaws) {
        for d in &self.devices {
            let field = |f: &str| format!("device {}.{f}", d.name);
            flaws.range(&field("every"), d.every.seconds(), 0.1..=86_400.0, "s");
            flaws.range(&field("jitter"), d.jitter, 0.0..=0.15, "");
            flaws.range(&field("qos"), f64::from(d.qos), 0.0..=1.0, "");
            flaws.range(&field("clock_ahead_s"), d.clock_ahead_s, -1e10..=1e10, "s");
            flaws.range(&field("clock_gains_s"), d.clock_gains_s, -1e4..=1e4, "s");
            flaws.range(&field("keeps"), d.keeps as f64, 0.0..=1e6, "messages");
            flaws.range(&field("twice"), d.twice, 0.0..=1.0, "");
            self.known(&field("circuit"), Place::Circuit(&d.circuit), flaws);
            if d.topic.as_ref().is_some_and(|t| t.is_empty() || t.contains(['+', '#', '"', '\0'])) {
                flaws.0.push(format!(
                    "{}: no topic to publish to; leave out + and # and quotes",
                    field("topic")
                ));
            }
            if d.probes.is_empty() {
                flaws.0.push(format!("{}: it measures nothing; give it a probe", field("probes")));
            }
            self.check_glitches(d, flaws);
            self.check_probes(d, flaws);
        }
    }

    fn check_glitches(&self, d: &DevicePlan, flaws: &mut Flaws) {
        let g = &d.glitches;
        let all = [g.power_on, g.no_probe, g.all_ones, g.nan, g.null, g.word, g.missing];
        for share in all {
            flaws.range(&format!("device {}.glitches", d.name), share, 0.0..=1.0, "");
        }
        flaws.range(&format!("device {}.glitches, together", d.name), all.iter().sum(), 0.0..=1.0, "");
        if let Some(wifi) = &d.wifi {
            flaws.range(
                &format!("device {}.wifi.lost_every", d.name),
                wifi.lost_every.seconds(),
                1.0..=1e9,
                "s",
            );
        }
    }

    fn check_probes(&self, d: &DevicePlan, flaws: &mut Flaws) {
        let sources = Sources::new(self);
        for p in &d.probes {
            let field = format!("device {}, probe {}", d.name, p.probe);
            flaws.range(&format!("{field}, offset"), p.offset, -1000.0..=1000.0, "");
            flaws.range(&format!("{field}, noise"), p.noise.unwrap_or(0.0), 0.0..=1000.0, "");
            flaws.range(&format!("{field}, step"), p.step.unwrap_or(1.0), 1e-6..=1000.0, "");
            self.check_litre(p, &field, flaws);
            let of = p.of.as_deref().unwrap_or(p.probe.vessel.as_str());
            if let Err(cure) = sources.find(of, p.probe.quantity) {
                flaws.0.push(format!("{field}: nothing of the name {of:?} gives that; {cure}"));
            }
        }
    }

    fn check_litre(&self, p: &super::ProbePlan, field: &str, flaws: &mut Flaws) {
        let Some(at) = p.standard_at else { return };
        flaws.range(&format!("{field}, standard_at.celsius"), at.celsius, -50.0..=100.0, "°C");
        flaws.range(&format!("{field}, standard_at.kpa"), at.kpa, 10.0..=500.0, "kPa");
        if p.probe.quantity != Quantity::AirFlow {
            flaws.0.push(format!("{field}: standard_at is for litres of air; leave it out"));
        }
    }

    fn check_happenings(&self, flaws: &mut Flaws) {
        for (i, e) in self.events.iter().enumerate() {
            let field = format!("event {} ({})", i + 1, e.at);
            for flaw in self.event_flaws(e) {
                flaws.0.push(format!("{field}: {flaw}"));
            }
            if e.at < Moment::default() {
                flaws.0.push(format!("{field}: it lies before the start; write day 1 00:00 or later"));
            }
            if self.events[..i].iter().any(|earlier| overlap(earlier, e)) {
                let cure = "let one begin when the other has ended, or write one that lasts longer";
                flaws.0.push(format!("{field}: the same fault holds already then; {cure}"));
            }
        }
        for (i, r) in self.routines.iter().enumerate() {
            let field = format!("routine {}", i + 1);
            flaws.range(&format!("{field}, forgets"), r.forgets, 0.0..=1.0, "");
            flaws.range(&format!("{field}, every_days"), f64::from(r.every_days), 1.0..=400.0, "d");
            for flaw in self.act_flaws(&r.act) {
                flaws.0.push(format!("{field}: {flaw}"));
            }
        }
    }

    fn event_flaws(&self, e: &Event) -> Vec<String> {
        match (&e.fault, &e.act) {
            (Some(fault), None) => self.fault_flaw(fault).into_iter().collect(),
            (None, Some(_)) if e.lasts.is_some() => {
                vec!["an act is done at once; leave `lasts` out".to_owned()]
            }
            (None, Some(act)) => self.act_flaws(act),
            _ => vec!["write either `fault` or `act`".to_owned()],
        }
    }

    /// What is wrong with a fault in this room.
    pub(crate) fn fault_flaw(&self, fault: &super::Fault) -> Option<String> {
        fault.place().and_then(|p| self.unknown(p)).or_else(|| fault.flaw())
    }

    /// What is wrong with an act in this room.
    pub(crate) fn act_flaws(&self, act: &super::Act) -> Vec<String> {
        act.places().into_iter().filter_map(|p| self.unknown(p)).chain(act.flaw()).collect()
    }
}

/// Whether two events are the same fault at the same time: mending the one would end the other.
fn overlap(a: &Event, b: &Event) -> bool {
    let (Some(one), Some(other)) = (&a.fault, &b.fault) else { return false };
    let zero = Time::from_millis(0);
    let span = |e: &Event| {
        let from = e.at.after(zero);
        (from, e.lasts.map_or(Time::from_millis(i64::MAX), |l| from + l.span()))
    };
    let ((from_a, to_a), (from_b, to_b)) = (span(a), span(b));
    one.same_as(other) && from_a < to_b && from_b < to_a
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
    fn names<'a>(&mut self, what: &str, names: impl Iterator<Item = &'a String>) {
        let mut seen = HashSet::new();
        for name in names {
            if let Err(e) = VesselId::new(name.as_str()) {
                self.0.push(format!("{what}: {}", e.to_string().replacen("vessel", what, 1)));
            }
            if !seen.insert(name) {
                self.0.push(format!("{what} {name:?} stands twice; give each its own name"));
            }
        }
    }
}
