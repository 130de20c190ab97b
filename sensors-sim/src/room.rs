//! The simulated room: the world, its devices, and what is still to happen.

use crate::chance::Chance;
use crate::changes::{Changes, UnknownPlace};
use crate::device::Device;
use crate::world::{TICK, World};
use crate::{Fault, Plan, Wish};
use units::{Quantity, Span, Time};

/// One message as a device hands it to MQTT.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sent {
    /// When it was measured and published.
    pub at: Time,
    /// The device that publishes it.
    pub device: String,
    /// MQTT topic.
    pub topic: String,
    /// What it says; text in UTF-8 for every shape there is now.
    pub payload: Vec<u8>,
    /// Whether the broker keeps it for later subscribers; readings never are.
    pub retain: bool,
    /// Quality of service, 0 or 1.
    pub qos: u8,
}

/// The simulated room. It does nothing until it is told what time it is.
#[derive(Debug, Clone)]
pub struct Room {
    plan: Plan,
    now: Time,
    /// When the thermostats look next.
    tick: Time,
    world: World,
    devices: Vec<Device>,
    changes: Changes,
}

impl Room {
    /// Sets the room up as it is at `start`.
    ///
    /// The plan should have passed [`Plan::check`]. One that has not runs as far as it can: probes of things that are
    /// not there send nothing.
    pub fn new(plan: Plan, seed: u64, start: Time) -> Self {
        let device =
            |(i, d): (usize, &_)| Device::new(Clone::clone(d), Chance::new(seed, i as u64 + 1), start);
        Self {
            now: start,
            tick: start + TICK,
            world: World::new(&plan, seed, start),
            devices: plan.devices.iter().enumerate().map(device).collect(),
            changes: Changes::of(&plan.events, start),
            plan,
        }
    }

    /// The moment up to which the room has been told.
    pub fn now(&self) -> Time {
        self.now
    }

    /// The name of the room.
    pub fn name(&self) -> &str {
        &self.plan.room
    }

    /// The devices in the order of the plan.
    pub fn devices(&self) -> impl Iterator<Item = &str> {
        self.devices.iter().map(|d| d.plan.name.as_str())
    }

    /// When the next device measures: the room is worth advancing then. An hour from now where there is no device.
    pub fn next_due(&self) -> Time {
        self.first_due().unwrap_or(self.now + Span::hours(1))
    }

    /// Lets time pass and returns everything published up to and including `to`, in the order of time. A moment that
    /// has passed already gives nothing. The steps in which time passes make no difference.
    pub fn advance(&mut self, to: Time) -> Vec<Sent> {
        let mut sent = Vec::new();
        loop {
            let at = self.next_moment();
            if at > to {
                break;
            }
            self.moment(at, &mut sent);
        }
        self.now = self.now.max(to);
        sent
    }

    fn first_due(&self) -> Option<Time> {
        self.devices.iter().map(|d| d.due).min()
    }

    fn next_moment(&self) -> Time {
        // The thermostats always have a next look, so there is always a next moment.
        let others = [self.first_due(), self.changes.next()];
        others.into_iter().flatten().fold(self.tick, Time::min)
    }

    /// Everything that happens at one moment: first what breaks or is mended, then the thermostats, then the devices
    /// in the order of the plan.
    fn moment(&mut self, at: Time, sent: &mut Vec<Sent>) {
        while let Some(wish) = self.changes.take(at) {
            self.world.settle(at);
            self.world.change(wish);
        }
        if self.tick <= at {
            self.world.settle(at);
            self.world.switch();
            self.tick = at + TICK;
        }
        for device in &mut self.devices {
            if device.due <= at {
                device.measure(at, &self.plan.room, &self.world, sent);
            }
        }
    }

    /// Lets something go wrong at `at`, or now if that has passed.
    ///
    /// # Errors
    /// [`UnknownPlace`] when the fault names a tank, outlet or device that is not in the room, or an amount that makes
    /// no sense; nothing happens then.
    pub fn inject(&mut self, at: Time, fault: Fault) -> Result<(), UnknownPlace> {
        self.wish(at, Wish::Inject(fault))
    }

    /// Puts something right at `at`, or now if that has passed. The amounts of the fault do not matter; mending what
    /// is not broken does nothing.
    ///
    /// # Errors
    /// As [`Room::inject`].
    pub fn mend(&mut self, at: Time, fault: Fault) -> Result<(), UnknownPlace> {
        self.wish(at, Wish::Mend(fault))
    }

    /// [`Room::inject`] or [`Room::mend`], as wished.
    ///
    /// # Errors
    /// As [`Room::inject`].
    pub fn wish(&mut self, at: Time, wish: Wish) -> Result<(), UnknownPlace> {
        let (Wish::Inject(fault) | Wish::Mend(fault)) = &wish;
        if let Some(flaw) = self.plan.unknown_place(fault).or_else(|| fault.flaw()) {
            return Err(UnknownPlace(flaw));
        }
        self.changes.add(at.max(self.now), wish);
        Ok(())
    }

    /// Changes the rhythm of one device (not faster than every 100 ms), from its last reading on.
    ///
    /// # Errors
    /// [`UnknownPlace`] when the room has no such device.
    pub fn set_interval(&mut self, device: &str, interval: Span) -> Result<(), UnknownPlace> {
        let found = self.devices.iter_mut().find(|d| d.plan.name == device);
        let device = found.ok_or_else(|| UnknownPlace(self.plan.no_such("device", device)))?;
        device.set_interval(interval, self.now);
        Ok(())
    }

    /// Changes the rhythm of every device, as [`Room::set_interval`].
    pub fn set_rhythm(&mut self, interval: Span) {
        for device in &mut self.devices {
            device.set_interval(interval, self.now);
        }
    }

    /// True temperature of a tank now, °C. `None` if there is no such tank.
    pub fn temperature(&self, tank: &str) -> Option<f64> {
        self.world.truth(tank, Quantity::Temperature, self.now)
    }

    /// True air flow through a tumbler or jar now, L/min, without pulsation. `None` if there is no such outlet.
    pub fn flow(&self, outlet: &str) -> Option<f64> {
        self.world.truth(outlet, Quantity::AirFlow, self.now)
    }

    /// Pressure in the manifold now, kPa above the room.
    pub fn line_pressure(&self) -> f64 {
        self.world.line_pressure()
    }

    /// Temperature of the room now, °C.
    pub fn room_temperature(&self) -> f64 {
        self.world.room_temperature(self.now)
    }

    /// Power that the heater of a tank draws now, W. `None` if there is no such tank.
    pub fn heater_watts(&self, tank: &str) -> Option<f64> {
        self.world.truth(tank, Quantity::Power, self.now)
    }
}
