//! The simulated room: the world, its devices, its fish, and what is still to happen.

use crate::agenda::{Agenda, Item};
use crate::device::{Cut, Device, NEVER};
use crate::fish::Brood;
use crate::output::{Happening, Sent};
use crate::scenario::UnknownPlace;
use crate::truth::{Known, Truth};
use crate::world::{Energy, Source, Sources, TICK, World};
use crate::{Act, Fault, Scenario, Wish};
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use units::{Quantity, Span, Time};

/// The simulated room. It does nothing until it is told what time it is.
#[derive(Debug, Clone)]
pub struct Room {
    scenario: Scenario,
    start: Time,
    now: Time,
    /// When the thermostats look next.
    tick: Time,
    world: World,
    brood: Brood,
    devices: Vec<Device>,
    /// When which device is to be looked at. An entry whose device has another time by now means nothing.
    queue: BinaryHeap<Reverse<(Time, usize)>>,
    agenda: Agenda,
    begun: bool,
}

impl Room {
    /// Sets the room up as it is at `start`, which is day 1, 00:00 of the scenario.
    ///
    /// # Panics
    /// When the scenario names things that it has not; one that has passed [`Scenario::check`] does not.
    pub fn new(scenario: Scenario, seed: u64, start: Time) -> Self {
        let world = World::new(&scenario, seed, start);
        let device = |d: &crate::DevicePlan| Device::new(d, &scenario, &world, seed, start);
        let devices: Vec<Device> = scenario.devices.iter().map(device).collect();
        Self {
            start,
            now: start,
            tick: start + TICK,
            queue: devices.iter().enumerate().map(|(i, d)| Reverse((d.next(), i))).collect(),
            devices,
            brood: Brood::new(&scenario, &world, seed, start),
            world,
            agenda: Agenda::new(&scenario, seed, start),
            scenario,
            begun: false,
        }
    }

    /// The moment up to which the room has been told.
    pub fn now(&self) -> Time {
        self.now
    }

    /// Day 1, 00:00.
    pub fn start(&self) -> Time {
        self.start
    }

    /// The name of the room.
    pub fn name(&self) -> &str {
        &self.scenario.room
    }

    /// What the room was made from.
    pub fn scenario(&self) -> &Scenario {
        &self.scenario
    }

    /// The devices in the order of the scenario.
    pub fn devices(&self) -> impl Iterator<Item = &crate::DevicePlan> {
        self.devices.iter().map(|d| &d.plan)
    }

    /// Whether a device has its way to the broker just now.
    pub fn is_reachable(&self, device: &str) -> bool {
        self.devices.iter().any(|d| d.plan.name == device && d.is_reachable())
    }

    /// When something happens next: the room is worth advancing then.
    pub fn next_due(&self) -> Time {
        let first = self.queue.peek().map(|Reverse((at, _))| *at);
        [first, self.agenda.next()].into_iter().flatten().min().unwrap_or(self.tick)
    }

    /// Lets time pass and returns every message published up to and including `to`, in the order of time. A moment
    /// that has passed already gives nothing. The steps in which time passes make no difference.
    pub fn advance(&mut self, to: Time) -> Vec<Sent> {
        let mut out = Vec::new();
        self.play(to, &mut out);
        let message = |h| if let Happening::Sent(sent) = h { Some(sent) } else { None };
        out.into_iter().filter_map(message).collect()
    }

    /// As [`Room::advance`], with everything that happens: messages, connections lost and found, and the truth.
    pub fn play(&mut self, to: Time, out: &mut Vec<Happening>) {
        if !self.begun {
            self.begun = true;
            self.begin(out);
        }
        loop {
            let at = self.next_moment();
            if at > to {
                break;
            }
            self.moment(at, out);
        }
        self.now = self.now.max(to);
    }

    fn begin(&mut self, out: &mut Vec<Happening>) {
        for what in self.brood.introductions(self.start, &self.scenario) {
            out.push(Happening::Truth(Truth { at: self.start, what }));
        }
        for device in &self.devices {
            device.say_hello(self.start, out);
        }
    }

    fn next_moment(&mut self) -> Time {
        while let Some(Reverse((at, i))) = self.queue.peek() {
            if self.devices[*i].next() == *at {
                break;
            }
            self.queue.pop();
        }
        let first = self.queue.peek().map(|Reverse((at, _))| *at);
        // The thermostats always have a next look, so there is always a next moment.
        [first, self.agenda.next()].into_iter().flatten().fold(self.tick, Time::min)
    }

    /// Everything that happens at one moment: first what breaks, is mended or done, then the thermostats, then the
    /// devices in the order of the scenario.
    fn moment(&mut self, at: Time, out: &mut Vec<Happening>) {
        while let Some(item) = self.agenda.take(at) {
            self.world.settle(at);
            self.happen(at, item, out);
            self.feel(at, out);
        }
        if self.tick <= at {
            self.tick(at, out);
        }
        while let Some(Reverse((due, i))) = self.queue.peek().copied() {
            if due > at {
                break;
            }
            self.queue.pop();
            // Met already, or with another time by now.
            if self.devices[i].next() == due {
                let changed = self.devices[i].act(at, &self.world, out);
                self.line_up(i);
                if changed {
                    self.feel(at, out);
                }
            }
        }
    }

    fn tick(&mut self, at: Time, out: &mut Vec<Happening>) {
        self.world.settle(at);
        self.world.tick();
        self.tick = at + TICK;
        let passed = (at - self.start).millis();
        if passed % Span::minutes(1).millis() == 0 {
            self.world.minute();
            let news = self.brood.minute(at, &mut self.world, &self.scenario);
            out.extend(news.into_iter().map(|what| Happening::Truth(Truth { at, what })));
        }
        if passed % Span::hours(1).millis() == 0 {
            self.tell_water(at, out);
        }
        if self.world.drains() {
            self.feel(at, out); // batteries run out
        }
    }

    fn tell_water(&self, at: Time, out: &mut Vec<Happening>) {
        for (i, tank) in self.world.tanks.iter().enumerate() {
            let what = Known::Water {
                tank: tank.plan.vessel.clone(),
                celsius: tank.water.celsius,
                oxygen: tank.chemistry.oxygen,
                tan: tank.chemistry.tan,
                ph: self.world.value(Source::Ph(i), at),
            };
            out.push(Happening::Truth(Truth { at, what }));
        }
    }

    fn happen(&mut self, at: Time, item: Item, out: &mut Vec<Happening>) {
        let mut tell = |what| out.push(Happening::Truth(Truth { at, what }));
        match item {
            Item::Begins(fault, note) => {
                let says = note.unwrap_or_else(|| fault.to_string());
                tell(Known::Begins { says, fault: fault.clone() });
                self.world.hurt(fault);
            }
            Item::Ends(fault) => {
                if self.world.mend(&fault) {
                    tell(Known::Ends { says: fault.to_string(), fault });
                }
            }
            Item::Act { act, forgotten: true, .. } => tell(Known::Forgotten { says: act.to_string(), act }),
            Item::Act { act, note, .. } => {
                tell(Known::Act { says: note.unwrap_or_else(|| act.to_string()), act: act.clone() });
                self.act(at, &act, out);
            }
            Item::Look => self.world.look_again(),
            Item::Day(day) => self.agenda.set_day(day),
        }
    }

    fn act(&mut self, at: Time, act: &Act, out: &mut Vec<Happening>) {
        for again in self.world.act(act, &self.scenario) {
            self.agenda.add(again, Item::Look);
        }
        let news = self.brood.act(at, act, &self.scenario);
        out.extend(news.map(|what| Happening::Truth(Truth { at, what })));
        if let Act::Restart(name) = act
            && let Some(i) = self.devices.iter().position(|d| d.plan.name == *name)
        {
            let cut = self.cut(i);
            self.devices[i].restart(at, cut, out);
            self.line_up(i);
        }
    }

    /// Puts a device into the queue, unless it is without power for the time being: such entries would stay for ever.
    fn line_up(&mut self, device: usize) {
        let next = self.devices[device].next();
        if next < NEVER {
            self.queue.push(Reverse((next, device)));
        }
    }

    /// Every device takes note of power and network.
    fn feel(&mut self, at: Time, out: &mut Vec<Happening>) {
        for i in 0..self.devices.len() {
            let (cut, before) = (self.cut(i), self.devices[i].next());
            let powered = cut != Some(Cut::NoPower);
            self.devices[i].feel(at, powered, cut, out);
            if self.devices[i].next() != before {
                self.line_up(i);
            }
        }
    }

    /// What stands between a device and the broker.
    fn cut(&self, device: usize) -> Option<Cut> {
        let (device, network) = (&self.devices[device], &self.scenario.network);
        let lost = |f: &Fault| match f {
            Fault::RoomWifiLost => true,
            Fault::WifiLost(d) => *d == device.plan.name,
            _ => false,
        };
        let router = self.world.power.number(&network.circuit);
        if !self.world.runs(&device.plan.name, device.circuit, device.plan.battery.span()) {
            Some(Cut::NoPower)
        } else if !self.world.runs(crate::scenario::ROUTER, router, network.battery.span()) {
            Some(Cut::Network)
        } else if self.world.suffers(lost) {
            Some(Cut::Wifi)
        } else {
            None
        }
    }

    /// Lets something go wrong at `at`, or now if that has passed.
    ///
    /// # Errors
    /// [`UnknownPlace`] when the fault names something that is not in the room, or an amount that makes no sense;
    /// nothing happens then.
    pub fn inject(&mut self, at: Time, fault: Fault) -> Result<(), UnknownPlace> {
        self.wish(at, Wish::Inject(fault))
    }

    /// Puts something right at `at`, or now if that has passed.
    ///
    /// # Errors
    /// As [`Room::inject`].
    pub fn mend(&mut self, at: Time, fault: Fault) -> Result<(), UnknownPlace> {
        self.wish(at, Wish::Mend(fault))
    }

    /// Lets somebody do something at `at`, or now if that has passed.
    ///
    /// # Errors
    /// As [`Room::inject`].
    pub fn let_do(&mut self, at: Time, act: Act) -> Result<(), UnknownPlace> {
        self.wish(at, Wish::Do(act))
    }

    /// Fulfils a wish at `at`, or now if that has passed; a rhythm at once.
    ///
    /// # Errors
    /// As [`Room::inject`].
    pub fn wish(&mut self, at: Time, wish: Wish) -> Result<(), UnknownPlace> {
        let flaw = match &wish {
            Wish::Inject(fault) | Wish::Mend(fault) => self.scenario.fault_flaw(fault),
            Wish::Do(act) => self.scenario.act_flaws(act).into_iter().next(),
            Wish::Rhythm(_) => None,
        };
        if let Some(flaw) = flaw {
            return Err(UnknownPlace(flaw));
        }
        let item = match wish {
            Wish::Inject(fault) => Item::Begins(fault, None),
            Wish::Mend(fault) => Item::Ends(fault),
            Wish::Do(act) => Item::Act { act, note: None, forgotten: false },
            Wish::Rhythm(interval) => {
                self.set_rhythm(interval);
                return Ok(());
            }
        };
        self.agenda.add(at.max(self.now), item);
        Ok(())
    }

    /// Changes the rhythm of one device (not faster than every 100 ms), from its last reading on.
    ///
    /// # Errors
    /// [`UnknownPlace`] when the room has no such device.
    pub fn set_interval(&mut self, device: &str, interval: Span) -> Result<(), UnknownPlace> {
        let found = self.devices.iter().position(|d| d.plan.name == device);
        let i = found.ok_or_else(|| {
            UnknownPlace(self.scenario.unknown(crate::scenario::Place::Device(device)).unwrap_or_default())
        })?;
        self.devices[i].set_interval(interval, self.now);
        self.line_up(i);
        Ok(())
    }

    /// Changes the rhythm of every device, as [`Room::set_interval`].
    pub fn set_rhythm(&mut self, interval: Span) {
        for i in 0..self.devices.len() {
            self.devices[i].set_interval(interval, self.now);
            self.line_up(i);
        }
    }

    /// What a perfect probe would read now; `name` is a vessel, a pump, an air line, a jar loop or a circuit. `None`
    /// where there is no such thing.
    pub fn truth(&self, name: &str, quantity: Quantity) -> Option<f64> {
        let source = Sources::new(&self.scenario).find(name, quantity).ok()?;
        Some(self.world.value(source, self.now))
    }

    /// How many of a clutch live, and how far it has come in times to hatch. `None` if there is no such clutch.
    pub fn clutch(&self, name: &str) -> Option<(u32, f64)> {
        self.brood.get(name).map(|c| (c.alive(), c.progress))
    }

    /// Where the heat of a tank went since the start, and how much the heat in its water has become more by, J, both
    /// up to the last tick or change.
    pub fn energy(&self, tank: &str) -> Option<(Energy, f64)> {
        let tank = self.world.tanks.iter().find(|t| t.plan.vessel == tank)?;
        Some((tank.water.energy, tank.water.heat() - tank.heat_at_start))
    }
}

#[cfg(test)]
mod tests;
