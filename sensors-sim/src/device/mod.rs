//! A device: probes with their faults, a clock, a running number, a way to the broker.

mod link;
mod payload;
mod probe;
mod said;

pub(crate) use link::Cut;

use crate::chance::Chance;
use crate::output::{Happening, Kind, Sent};
use crate::world::{CircuitNo, Sources, World};
use crate::{DevicePlan, Fault, Scenario};
use link::Link;
use payload::Label;
use probe::Probe;
use said::Said;
use std::sync::Arc;
use units::{Span, Time};

/// When a device without power is to be looked at next.
pub(crate) const NEVER: Time = Time::from_millis(i64::MAX);

/// No device sends faster than this.
const FASTEST: Span = Span::from_millis(100);

#[derive(Debug, Clone)]
pub(crate) struct Device {
    pub(crate) plan: DevicePlan,
    pub(crate) name: Arc<str>,
    pub(crate) circuit: CircuitNo,
    chance: Chance,
    probes: Vec<Probe>,
    label: Label,
    interval: Span,
    due: Time,
    /// When it last measured, or would have before the start.
    last: Time,
    started: Time,
    number: u64,
    /// Readings of digital probes that are still wrong since the start.
    wrong: u32,
    powered: bool,
    link: Link,
}

impl Device {
    /// A device that begins somewhere within its first interval.
    pub(crate) fn new(plan: &DevicePlan, scenario: &Scenario, world: &World, seed: u64, start: Time) -> Self {
        let mut chance = Chance::named(seed, "device", &plan.name);
        let interval = plan.every.span().max(FASTEST);
        let phase = (chance.unit() * interval.millis() as f64) as i64;
        let due = start + Span::from_millis(phase + 1);
        let sources = Sources::new(scenario);
        Self {
            name: Arc::from(plan.name.as_str()),
            circuit: world.power.number(&plan.circuit),
            probes: plan.probes.iter().map(|p| Probe::new(p, &sources, &scenario.room)).collect(),
            label: Label::new(plan, &scenario.room),
            link: Link::new(plan, &scenario.room, &mut Chance::named(seed, "link", &plan.name), start),
            chance,
            interval,
            due,
            last: due - interval,
            started: start,
            number: 0,
            wrong: 0,
            powered: true,
            plan: plan.clone(),
        }
    }

    /// When it is to be looked at next.
    pub(crate) fn next(&self) -> Time {
        let measures = if self.powered { Some(self.due) } else { None };
        [measures, self.link.next()].into_iter().flatten().min().unwrap_or(NEVER)
    }

    /// Messages that it keeps just now.
    #[cfg(test)]
    pub(crate) fn kept(&self) -> usize {
        self.link.kept()
    }

    /// Changes the rhythm, from the last reading on, but never into the past.
    pub(crate) fn set_interval(&mut self, interval: Span, now: Time) {
        self.interval = interval.max(FASTEST);
        let next = self.last + self.interval;
        self.due = if next > now { next } else { now + self.interval };
    }

    /// Whether it has its way to the broker.
    pub(crate) fn is_reachable(&self) -> bool {
        self.link.is_up()
    }

    /// Says that it is there, as every device does when the room begins.
    pub(crate) fn say_hello(&self, at: Time, out: &mut Vec<Happening>) {
        out.extend(self.link.status("online", Kind::Status, at, &self.name).map(Happening::Sent));
    }

    /// What is due by itself: the broker's word that it is gone, a loss of Wi-Fi, a measurement. True when its
    /// connection may have changed.
    pub(crate) fn act(&mut self, at: Time, world: &World, out: &mut Vec<Happening>) -> bool {
        let changed = self.link.act(at, &self.name, out);
        if self.powered && self.due <= at {
            self.measure(at, world, out);
        }
        changed
    }

    /// Takes note of power and network.
    pub(crate) fn feel(&mut self, at: Time, powered: bool, cut: Option<Cut>, out: &mut Vec<Happening>) {
        if powered && !self.powered {
            self.boot(at);
        }
        if !powered && self.powered {
            // What it kept lies in memory, and that is gone.
            self.link.forget();
        }
        self.powered = powered;
        let cut = if powered { cut } else { Some(Cut::NoPower) };
        self.link.feel(at, cut, &self.name, out);
    }

    /// Starts anew: a short break of the connection, numbers from the beginning.
    pub(crate) fn restart(&mut self, at: Time, cut: Option<Cut>, out: &mut Vec<Happening>) {
        self.link.feel(at, Some(Cut::Restart), &self.name, out);
        self.link.forget();
        self.boot(at);
        self.link.feel(at, cut, &self.name, out);
    }

    fn boot(&mut self, at: Time) {
        self.started = at;
        self.number = 0;
        self.wrong = self.plan.wrong_after_start;
        self.due = at + self.plan.boots.span();
        self.probes.iter_mut().for_each(Probe::forget);
    }

    /// Measures once with every probe.
    fn measure(&mut self, at: Time, world: &World, out: &mut Vec<Happening>) {
        self.last = at;
        self.due = at + self.pause();
        let silent = world.suffers(|f| matches!(f, Fault::Silent(d) if *d == self.plan.name));
        // Chance is drawn in any case: a fault must not change the noise of what comes after.
        let bus = self.chance.hits(self.plan.glitches.no_probe);
        let wrong = self.wrong > 0;
        let said: Vec<Said> = (self.probes.iter_mut())
            .map(|p| p.say(at, world, &mut self.chance, &self.plan.glitches, (bus, wrong)))
            .collect();
        let twice: Vec<bool> = said.iter().map(|_| self.chance.hits(self.plan.twice)).collect();
        self.wrong = self.wrong.saturating_sub(1);
        if silent {
            return;
        }
        let clock = self.own_time(at, world);
        if self.plan.shape.is_whole() {
            // A message that is not sent takes no number.
            let payload = self.label.whole(&self.probes, &said, clock, self.number + 1);
            if payload.is_some() {
                self.number += 1;
                self.send(at, self.label.topic.clone(), payload, twice[0], out);
            }
        } else {
            for (i, said) in said.into_iter().enumerate() {
                let payload = self.label.single(said, clock, self.number + 1);
                if let Some(payload) = payload {
                    self.number += 1;
                    self.send(at, self.probes[i].topic.clone(), Some(payload), twice[i], out);
                }
            }
        }
    }

    fn pause(&mut self) -> Span {
        if self.plan.jitter <= 0.0 {
            return self.interval;
        }
        let factor = 1.0 + self.plan.jitter * self.chance.normal();
        Span::from_millis((self.interval.millis() as f64 * factor) as i64).max(FASTEST)
    }

    fn own_time(&self, at: Time, world: &World) -> payload::Clock {
        let jump: f64 = (world.faults())
            .map(|f| match f {
                Fault::ClockJump { device, by_s } if *device == self.plan.name => *by_s,
                _ => 0.0,
            })
            .sum();
        let gained = self.plan.clock_gains_s * (at - self.started).as_days();
        let ahead = Span::from_days((self.plan.clock_ahead_s + gained + jump) / 86_400.0);
        payload::Clock { kind: self.plan.clock, shows: at + ahead, since_start: at - self.started }
    }

    fn send(
        &mut self,
        at: Time,
        topic: Arc<str>,
        payload: Option<Vec<u8>>,
        twice: bool,
        out: &mut Vec<Happening>,
    ) {
        let Some(payload) = payload else { return };
        let sent = Sent {
            at,
            device: self.name.clone(),
            topic,
            payload,
            retain: self.plan.retain,
            qos: self.plan.qos,
            kind: Kind::Reading,
        };
        // Sent again when its acknowledgement was lost; quality of service 0 has none.
        if twice && self.plan.qos > 0 {
            self.link.send(sent.clone(), out);
        }
        self.link.send(sent, out);
    }
}
