//! What goes wrong.

use serde::{Deserialize, Serialize};

/// Something that goes wrong in the room and stays wrong until it is mended.
///
/// In a plan it is written as `{ air-stop = { outlet = "TU2" } }`, or `"pump-dead"` where it has no place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Fault {
    /// The line to one outlet is shut (kinked, or the stone clogged): no flow there, a little more at the others.
    AirStop {
        /// The tumbler or jar.
        outlet: String,
    },
    /// The tube is off before the flow probe: no flow there, and the air lost is missing at the others.
    TubeOff {
        /// The tumbler or jar.
        outlet: String,
    },
    /// The air pump stands still: no flow anywhere.
    PumpDead,
    /// The heater of a tank does not heat.
    HeaterDead {
        /// The tank.
        tank: String,
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
    /// A device publishes nothing, though its connection stands. Its sequence number stands still too.
    Silent {
        /// The device.
        device: String,
    },
    /// The temperature probes of a tank send 85.0, the value in the probe's register at power-on.
    PowerOnValue {
        /// The tank.
        tank: String,
    },
}

impl Fault {
    /// Whether the two break the same thing in the same way, whatever the amount: mending one ends the other.
    pub(crate) fn same_as(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::ColdInflow { tank: a, .. }, Self::ColdInflow { tank: b, .. }) => a == b,
            (a, b) => a == b,
        }
    }

    /// The amounts of a cold inflow, where they make no sense: what is wrong.
    pub(crate) fn flaw(&self) -> Option<String> {
        let Self::ColdInflow { litres_per_minute: l, celsius: c, .. } = self else { return None };
        if !(0.0..=1000.0).contains(l) {
            return Some(format!("litres_per_minute = {l} is not a flow; write 0 to 1000 L/min"));
        }
        (!(-2.0..=60.0).contains(c)).then(|| format!("celsius = {c} is not running water; write -2 to 60 °C"))
    }
}

/// A change that someone asks of a running room.
#[derive(Debug, Clone, PartialEq)]
pub enum Wish {
    /// Let this go wrong now.
    Inject(Fault),
    /// Put this right now.
    Mend(Fault),
}
