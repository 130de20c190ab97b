//! The water of one tank: heat in, heat out, water in, water out.

use super::energy::Energy;
use crate::TankPlan;
use crate::chance::Chance;
use units::Span;

/// Heat that warms a litre of water by a kelvin, J: 0.99705 kg at 4.182 kJ/(kg K), fresh water at 25 °C (IAPWS).
pub(crate) const JOULES_PER_LITRE_KELVIN: f64 = 4170.0;

/// A tank is never quite empty, L.
const LEAST_LITRES: f64 = 0.05;

/// How the heater is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Heater {
    /// It follows its thermostat.
    Follows,
    /// Its contacts are welded.
    Stuck,
    /// It does not heat: dead, or without power.
    Cold,
}

/// Running water.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Stream {
    /// L/min.
    pub(crate) into: f64,
    pub(crate) out: f64,
    /// Of what runs in, °C.
    pub(crate) celsius: f64,
}

impl Stream {
    /// Both together.
    pub(crate) fn and(self, other: Self) -> Self {
        let into = self.into + other.into;
        let warmth = self.into * self.celsius + other.into * other.celsius;
        Self { into, out: self.out + other.out, celsius: if into > 0.0 { warmth / into } else { 0.0 } }
    }
}

/// One tank: perfectly mixed, with a thermostat of two steps.
#[derive(Debug, Clone)]
pub(crate) struct Water {
    pub(crate) litres: f64,
    pub(crate) celsius: f64,
    /// What the thermostat holds, dial and faults included, °C.
    pub(crate) holds: f64,
    hysteresis: f64,
    watts: f64,
    loss: f64,
    /// Whether the thermostat calls for heat.
    calls: bool,
    pub(crate) heater: Heater,
    /// How much more heat the walls lose in a draught.
    pub(crate) draught: f64,
    /// Heat taken by evaporation, W.
    pub(crate) vapour_watts: f64,
    /// Heat from neighbours, W, held constant for a tick so that what one gives the other gets.
    pub(crate) neighbour_watts: f64,
    pub(crate) stream: Stream,
    pub(crate) energy: Energy,
    /// The last exponent of a whole step and what it came to: from tick to tick it hardly ever changes.
    step: (f64, f64),
}

/// What a span does to the water.
struct Course {
    end: f64,
    /// Temperature integrated over the span, K s.
    integral: f64,
}

impl Water {
    pub(crate) fn new(plan: &TankPlan, room: f64, chance: &mut Chance) -> Self {
        let within = (chance.unit() - 0.5) * plan.hysteresis;
        let holds = plan.set_point.map(|s| s + plan.dial_error);
        let celsius = plan.start_celsius.or(holds.map(|h| h + within)).unwrap_or(room);
        Self {
            litres: plan.litres,
            celsius,
            holds: holds.unwrap_or(0.0),
            hysteresis: plan.hysteresis,
            watts: plan.watts(),
            loss: plan.loss(),
            calls: holds.is_some_and(|h| celsius < h),
            heater: if holds.is_some() { Heater::Follows } else { Heater::Cold },
            draught: 1.0,
            vapour_watts: 0.0,
            neighbour_watts: 0.0,
            stream: Stream::default(),
            energy: Energy::default(),
            step: (0.0, 1.0),
        }
    }

    /// Power of the heater as it stands, W.
    pub(crate) fn watts(&self) -> f64 {
        let on = self.heater == Heater::Stuck || (self.heater == Heater::Follows && self.calls);
        if on { self.watts } else { 0.0 }
    }

    fn store(&self) -> f64 {
        self.litres.max(LEAST_LITRES) * JOULES_PER_LITRE_KELVIN
    }

    /// Heat that the inflow takes up for each kelvin, W/K.
    fn inflow(&self) -> f64 {
        self.stream.into / 60.0 * JOULES_PER_LITRE_KELVIN
    }

    /// Temperature after a span in which nothing outside changes, °C.
    pub(crate) fn after(&self, span: Span, air: f64) -> f64 {
        self.course(span.as_seconds(), air, libm::exp).end
    }

    /// Newton's law of cooling, solved exactly.
    fn course(&self, seconds: f64, air: f64, exp: impl FnOnce(f64) -> f64) -> Course {
        let walls = self.loss * self.draught;
        let pull = walls + self.inflow();
        let power = self.watts() + self.neighbour_watts - self.vapour_watts;
        if pull <= 0.0 {
            let end = self.celsius + power * seconds / self.store();
            return Course { end, integral: 0.5 * (self.celsius + end) * seconds };
        }
        let far = (power + walls * air + self.inflow() * self.stream.celsius) / pull;
        let grows = (self.stream.into - self.stream.out) / 60.0;
        if grows != 0.0 {
            return self.course_with_level(seconds, far, pull, grows);
        }
        let left = exp(-pull * seconds / self.store());
        let end = far + (self.celsius - far) * left;
        let integral = far * seconds + (self.celsius - far) * (1.0 - left) * self.store() / pull;
        Course { end, integral }
    }

    /// The same while the water becomes more or less, by `grows` L/s: V J dT/dt = pull (far - T) with V = V0 + grows t
    /// has (T - far) / (T0 - far) = (V0 / V)^m, m = pull / (grows J).
    fn course_with_level(&self, seconds: f64, far: f64, pull: f64, grows: f64) -> Course {
        let litres = self.litres.max(LEAST_LITRES);
        let m = pull / (grows * JOULES_PER_LITRE_KELVIN);
        let log = libm::log((litres + grows * seconds).max(LEAST_LITRES) / litres);
        let end = far + (self.celsius - far) * libm::exp(-m * log);
        // Integral of (V0 / V)^m; for water that only runs in, m is all but 1.
        let x = (1.0 - m) * log;
        let mean = if x.abs() < 1e-12 { 1.0 } else { libm::expm1(x) / x };
        let integral = far * seconds + (self.celsius - far) * litres / grows * log * mean;
        Course { end, integral }
    }

    /// Lets a span pass in which nothing outside changes.
    pub(crate) fn settle(&mut self, span: Span, air: f64) {
        let seconds = span.as_seconds();
        let mut step = self.step;
        let course = self.course(seconds, air, |x| {
            if x != step.0 {
                step = (x, libm::exp(x));
            }
            step.1
        });
        self.step = step;
        let watts = self.watts();
        let e = &mut self.energy;
        e.heater += watts * seconds;
        e.walls += self.loss * self.draught * (air * seconds - course.integral);
        e.vapour -= self.vapour_watts * seconds;
        e.neighbours += self.neighbour_watts * seconds;
        let per_second = JOULES_PER_LITRE_KELVIN / 60.0;
        e.streams += per_second
            * (self.stream.into * self.stream.celsius * seconds - self.stream.out * course.integral);
        self.celsius = course.end;
        self.litres = (self.litres + (self.stream.into - self.stream.out) * seconds / 60.0).max(LEAST_LITRES);
    }

    /// Water leaves at its own temperature.
    pub(crate) fn lose(&mut self, litres: f64) {
        let lost = litres.min(self.litres - LEAST_LITRES).max(0.0);
        self.litres -= lost;
        self.energy.streams -= lost * JOULES_PER_LITRE_KELVIN * self.celsius;
    }

    /// Heat in the water over that of ice water, J.
    pub(crate) fn heat(&self) -> f64 {
        self.store() * self.celsius
    }

    /// The thermostat looks at the water.
    pub(crate) fn switch(&mut self) {
        let half = self.hysteresis / 2.0;
        if self.celsius <= self.holds - half {
            self.calls = true;
        } else if self.celsius >= self.holds + half {
            self.calls = false;
        }
    }
}
