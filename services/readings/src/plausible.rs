//! Numbers that a working probe cannot send.

use crate::Reason;
use units::{Band, Quantity, Unit};

/// A code is met after one conversion from a text with two decimals, so it may be off by that much.
const TOLERANCE: f64 = 0.01 + 1e-9;

/// Temperatures that are messages of the probe's electronics, in °C. Each stands here with its Fahrenheit image,
/// for boards that convert before they look: 85 °C is 185 °F, −127 °C is −196.6 °F.
const CODES: [(f64, Reason); 4] = [
    (85.0, Reason::SensorPowerOnReset),
    (185.0, Reason::SensorPowerOnReset),
    (-127.0, Reason::SensorDisconnected),
    (-196.6, Reason::SensorDisconnected),
];

/// Passes a number that is finite, no fault code and inside the hard band of its probe.
pub(crate) fn check(quantity: Quantity, band: Band, value: f64) -> Result<f64, Reason> {
    if !value.is_finite() {
        return Err(Reason::NotANumber);
    }
    if let Some(code) = code(quantity, value) {
        return Err(code);
    }
    if band.contains(value) { Ok(value) } else { Err(Reason::OutOfRange) }
}

fn code(quantity: Quantity, value: f64) -> Option<Reason> {
    // The codes come first: they say more than "out of range".
    let thermometer = quantity.unit() == Unit::Celsius;
    let found = CODES.iter().find(|(c, _)| thermometer && (value - c).abs() <= TOLERANCE);
    found.map(|(_, reason)| *reason)
}

#[cfg(test)]
mod tests {
    use super::*;
    use Quantity::{AirFlow, Power, RoomTemperature, Temperature};

    #[test]
    fn codes_are_told_from_mere_nonsense() {
        for (q, x, want) in [
            (Temperature, 85.0, Err(Reason::SensorPowerOnReset)),
            (Temperature, 185.0, Err(Reason::SensorPowerOnReset)),
            (RoomTemperature, -126.995, Err(Reason::SensorDisconnected)),
            (Temperature, Unit::Fahrenheit.to_base(-196.6), Err(Reason::SensorDisconnected)),
            (Temperature, -196.6, Err(Reason::SensorDisconnected)),
            (Temperature, 85.02, Err(Reason::OutOfRange)),
            (Temperature, -0.0625, Err(Reason::OutOfRange)),
            (Temperature, 0.0, Err(Reason::OutOfRange)),
            (Temperature, f64::NAN, Err(Reason::NotANumber)),
            (Temperature, 45.0, Ok(45.0)),
            (AirFlow, 85.0, Ok(85.0)),
            (AirFlow, -0.1, Err(Reason::OutOfRange)),
            (Power, 0.0, Ok(0.0)),
        ] {
            assert_eq!(check(q, q.hard_band(), x), want, "{q} {x}");
        }
    }
}
