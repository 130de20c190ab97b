//! A device: probes with their faults, a clock, a sequence number.

use crate::chance::Chance;
use crate::changes::seconds;
use crate::room::Sent;
use crate::world::World;
use crate::{DevicePlan, Fault, ProbePlan, Shape};
use units::{Quantity, Span, Time};

/// No device sends faster than this.
const FASTEST: Span = Span::from_millis(100);
/// The register of a digital temperature probe at power-on, °C (maker's data sheet: 0550h).
const POWER_ON: f64 = 85.0;

#[derive(Debug, Clone)]
pub(crate) struct Device {
    pub(crate) plan: DevicePlan,
    chance: Chance,
    interval: Span,
    pub(crate) due: Time,
    /// When it last measured, or would have before the start.
    last: Time,
    sequence: u64,
}

impl Device {
    /// A device that begins somewhere within its first interval.
    pub(crate) fn new(plan: DevicePlan, mut chance: Chance, start: Time) -> Self {
        let interval = seconds(plan.interval_s).max(FASTEST);
        let phase = (chance.unit() * interval.millis() as f64) as i64;
        let due = start + Span::from_millis(phase + 1);
        Self { plan, chance, interval, due, last: due - interval, sequence: 0 }
    }

    /// Changes the rhythm, from the last reading on, but never into the past.
    pub(crate) fn set_interval(&mut self, interval: Span, now: Time) {
        self.interval = interval.max(FASTEST);
        let next = self.last + self.interval;
        self.due = if next > now { next } else { now + self.interval };
    }

    /// Measures once with every probe.
    pub(crate) fn measure(&mut self, at: Time, room: &str, world: &World, out: &mut Vec<Sent>) {
        self.last = at;
        self.due = at + self.interval;
        let silent = world.suffers(&Fault::Silent { device: self.plan.name.clone() });
        for probe in &self.plan.probes {
            // Chance is drawn in any case: a fault must not change the noise of what comes after.
            let noise = self.chance.normal();
            let Some(value) = read(probe, noise, world, at) else { continue };
            if silent {
                continue;
            }
            self.sequence += 1;
            out.push(Sent {
                at,
                device: self.plan.name.clone(),
                topic: topic(room, probe),
                payload: write(&self.plan, value, at, self.sequence).into_bytes(),
                retain: false,
                qos: 1,
            });
        }
    }
}

/// What the probe makes of the truth. `None` where there is nothing to measure.
fn read(probe: &ProbePlan, noise: f64, world: &World, at: Time) -> Option<f64> {
    let vessel = probe.probe.vessel.as_str();
    let quantity = probe.probe.quantity;
    let truth = world.truth(vessel, quantity, at)?;
    if quantity == Quantity::Temperature && world.suffers(&Fault::PowerOnValue { tank: vessel.to_owned() }) {
        return Some(POWER_ON);
    }
    let (step, usual) = habits(quantity);
    let spread = probe.noise.unwrap_or(usual);
    let value = match quantity {
        // Pulsation goes with the flow: no flow, no pulsation.
        Quantity::AirFlow => (truth * (1.0 + spread * noise) + probe.offset).max(0.0),
        _ => truth + probe.offset + spread * noise,
    };
    let quantised = (value / step).round() * step;
    // Adding zero turns -0 into 0.
    quantised.is_finite().then_some(quantised + 0.0)
}

/// Step and usual noise of a probe: the step of a 12-bit digital probe is 1/16 °C (maker's data sheet), the rest are
/// planning values.
fn habits(quantity: Quantity) -> (f64, f64) {
    match quantity {
        Quantity::Temperature => (1.0 / 16.0, 0.03),
        Quantity::RoomTemperature => (1.0 / 16.0, 0.1),
        Quantity::AirFlow => (0.01, 0.03),
        Quantity::LinePressure => (0.01, 0.05),
        _ => (0.1, 0.5),
    }
}

/// `hatchwarden/<room>/<vessel>/<quantity>`, and the mark where the probe has one.
fn topic(room: &str, probe: &ProbePlan) -> String {
    format!("hatchwarden/{room}/{}", probe.probe)
}

fn write(plan: &DevicePlan, value: f64, at: Time, sequence: u64) -> String {
    if plan.shape == Shape::Plain {
        return format!("{value:.2}");
    }
    if !plan.clock {
        return format!(r#"{{"v":{value:.2},"n":{sequence}}}"#);
    }
    let own = (at + seconds(plan.clock_ahead_s)).millis();
    let (whole, thousandths) = (own.div_euclid(1000), own.rem_euclid(1000));
    format!(r#"{{"v":{value:.2},"t":{whole}.{thousandths:03},"n":{sequence}}}"#)
}
