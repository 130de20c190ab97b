//! One probe: what it makes of the truth.

use super::said::Said;
use crate::chance::Chance;
use crate::world::{Source, Sources, World};
use crate::{Fault, GasState, Glitches, ProbePlan};
use std::sync::Arc;
use units::{ProbeKey, Quantity, Time};

/// The register of a digital temperature probe at power-on, °C (maker's data sheet: 0550h).
const POWER_ON: f64 = 85.0;
/// A driver's word for a probe that does not answer, and what all bits set mean.
const NO_PROBE: f64 = -127.0;
const ALL_ONES: f64 = -0.0625;

#[derive(Debug, Clone)]
pub(crate) struct Probe {
    pub(crate) key: ProbeKey,
    pub(crate) topic: Arc<str>,
    /// Its name in messages that carry several.
    pub(crate) short: String,
    source: Option<Source>,
    /// What it tells of a litre, where it counts other litres than the scenario.
    litre: f64,
    offset: f64,
    noise: f64,
    step: f64,
    lag_s: f64,
    /// What the probe itself has come to, and when.
    inside: Option<(Time, f64)>,
    stuck: Option<f64>,
}

/// Step and usual noise of a probe: the step of a 12-bit digital probe is 1/16 °C (maker's data sheet), the rest are
/// planning values.
fn habits(quantity: Quantity) -> (f64, f64) {
    match quantity {
        Quantity::Temperature => (1.0 / 16.0, 0.03),
        Quantity::RoomTemperature => (1.0 / 16.0, 0.1),
        Quantity::AirFlow | Quantity::WaterFlow => (0.01, 0.03),
        Quantity::BubbleRate => (1.0, 0.05),
        Quantity::LinePressure => (0.01, 0.05),
        Quantity::Ph => (0.01, 0.01),
        Quantity::DissolvedOxygen => (0.01, 0.05),
        Quantity::Ammonia => (0.01, 0.003),
        Quantity::Conductivity => (1.0, 2.0),
        Quantity::Level | Quantity::Humidity => (0.1, 0.3),
        Quantity::Power => (0.1, 0.01),
        Quantity::AirSwitch | Quantity::LevelSwitch | Quantity::MainsSwitch | Quantity::LeakSwitch => {
            (1.0, 0.0)
        }
    }
}

/// Whether noise goes with the value: no flow, no pulsation.
fn pulses(quantity: Quantity) -> bool {
    matches!(quantity, Quantity::AirFlow | Quantity::WaterFlow | Quantity::BubbleRate | Quantity::Power)
}

impl Probe {
    pub(super) fn new(plan: &ProbePlan, sources: &Sources<'_>, room: &str) -> Self {
        let key = plan.probe.clone();
        let (step, noise) = habits(key.quantity);
        let of = plan.of.as_deref().unwrap_or(key.vessel.as_str());
        Self {
            topic: Arc::from(format!("hatchwarden/{room}/{key}")),
            short: key.to_string().replace('/', "."),
            source: sources.find(of, key.quantity).ok(),
            litre: plan.standard_at.map_or(1.0, |at| at.litres_of(GasState::SCENARIO)),
            offset: plan.offset,
            noise: plan.noise.unwrap_or(noise),
            step: plan.step.unwrap_or(step),
            lag_s: plan.lag.seconds(),
            inside: None,
            stuck: None,
            key,
        }
    }

    /// Unit registered for SenML (RFC 8428, RFC 8798), and what makes one of it from ours.
    pub(super) fn senml_unit(&self) -> (&'static str, f64) {
        match self.key.quantity {
            Quantity::Temperature | Quantity::RoomTemperature => ("Cel", 1.0),
            Quantity::AirFlow | Quantity::WaterFlow => ("l/s", 1.0 / 60.0),
            Quantity::LinePressure => ("Pa", 1000.0),
            Quantity::Ph => ("pH", 1.0),
            Quantity::DissolvedOxygen | Quantity::Ammonia => ("kg/m3", 0.001),
            Quantity::Conductivity => ("S/m", 0.0001),
            Quantity::Level => ("/100", 1.0),
            Quantity::Humidity => ("%RH", 1.0),
            Quantity::Power => ("W", 1.0),
            Quantity::BubbleRate => ("Hz", 1.0),
            Quantity::AirSwitch | Quantity::LevelSwitch | Quantity::MainsSwitch | Quantity::LeakSwitch => {
                ("/", 1.0)
            }
        }
    }

    /// It starts anew: what it had come to is forgotten.
    pub(super) fn forget(&mut self) {
        self.inside = None;
    }

    /// What it says. `bus`: no probe of this device answers; `wrong`: its first reading since the start.
    pub(super) fn say(
        &mut self,
        at: Time,
        world: &World,
        chance: &mut Chance,
        glitches: &Glitches,
        (bus, wrong): (bool, bool),
    ) -> Said {
        let (noise, glitch) = (chance.normal(), chance.unit());
        let Some(source) = self.source.map(|s| self.around(s, world)) else { return Said::Nothing };
        let value = self.value(world.value(source, at) * self.litre, at, noise);
        let digital = self.key.quantity == Quantity::Temperature;
        self.fault(world, value, at).unwrap_or_else(|| {
            let spoilt = self.spoilt(glitch, glitches);
            match (digital, bus, wrong) {
                (true, _, true) => Said::Number(POWER_ON),
                (true, true, _) => Said::Number(NO_PROBE),
                _ => spoilt.unwrap_or(Said::Number(value)),
            }
        })
    }

    /// What is round the probe: a thermometer that was pulled out hangs in the air of the room.
    fn around(&self, usual: Source, world: &World) -> Source {
        let out = |f: &Fault| matches!(f, Fault::ProbeInAir(p) if *p == self.key);
        if world.suffers(out) { Source::RoomTemperature } else { usual }
    }

    fn value(&mut self, truth: f64, at: Time, noise: f64) -> f64 {
        let truth = self.lagging(truth, at);
        let value = if pulses(self.key.quantity) {
            (truth * (1.0 + self.noise * noise) + self.offset).max(0.0)
        } else {
            truth + self.offset + self.noise * noise
        };
        // Adding zero turns -0 into 0.
        self.possible(libm::round(value / self.step) * self.step + 0.0)
    }

    /// Noise takes no probe below nothing or over the whole. A temperature may say anything.
    fn possible(&self, value: f64) -> f64 {
        match self.key.quantity {
            Quantity::Temperature | Quantity::RoomTemperature => value,
            other => value.clamp(other.hard_band().low, other.hard_band().high),
        }
    }

    fn lagging(&mut self, truth: f64, at: Time) -> f64 {
        if self.lag_s <= 0.0 {
            return truth;
        }
        let (then, was) = self.inside.unwrap_or((at, truth));
        let left = libm::exp(-(at - then).as_seconds() / self.lag_s);
        let now = truth + (was - truth) * left;
        self.inside = Some((at, now));
        now
    }

    /// What a fault makes of it.
    fn fault(&mut self, world: &World, value: f64, at: Time) -> Option<Said> {
        let key = self.key.clone();
        let stuck = world.suffers(|f| matches!(f, Fault::ProbeStuck(p) if *p == key));
        self.stuck = stuck.then(|| self.stuck.unwrap_or(value));
        if let Some(value) = self.stuck {
            return Some(Said::Number(value));
        }
        if world.suffers(|f| matches!(f, Fault::ProbeOff(p) if *p == key)) {
            let digital = key.quantity == Quantity::Temperature;
            return Some(if digital { Said::Number(NO_PROBE) } else { Said::Null });
        }
        let reset = |f: &Fault| matches!(f, Fault::PowerOnValue(v) if *v == key.vessel.as_str());
        if key.quantity == Quantity::Temperature && world.suffers(reset) {
            return Some(Said::Number(POWER_ON));
        }
        self.drift(world, value, at)
    }

    fn drift(&self, world: &World, value: f64, at: Time) -> Option<Said> {
        let drifts = |f: &Fault| matches!(f, Fault::ProbeDrift { probe, .. } if *probe == self.key);
        let since = world.since(drifts)?;
        let per_day = world.faults().find_map(|f| match f {
            Fault::ProbeDrift { probe, per_day } if *probe == self.key => Some(*per_day),
            _ => None,
        })?;
        let off = per_day * (at - since).as_days();
        Some(Said::Number(self.possible(libm::round((value + off) / self.step) * self.step + 0.0)))
    }

    /// What chance makes of it, where it makes anything.
    fn spoilt(&self, draw: f64, g: &Glitches) -> Option<Said> {
        let digital = self.key.quantity == Quantity::Temperature;
        let kinds = [
            (if digital { g.power_on } else { 0.0 }, Said::Number(POWER_ON)),
            (if digital { g.all_ones } else { 0.0 }, Said::Number(ALL_ONES)),
            (g.nan, Said::Nan),
            (g.null, Said::Null),
            (g.word, Said::Word),
            (g.missing, Said::Nothing),
        ];
        // Where the line strikes first, the rest has what that leaves: so each keeps its share of all readings.
        let left = if digital { 1.0 - g.no_probe } else { 1.0 };
        let mut up_to = 0.0;
        kinds.into_iter().find_map(|(share, said)| {
            up_to += share;
            (draw * left < up_to).then_some(said)
        })
    }
}
