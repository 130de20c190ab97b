//! Units of SenML: the registry of RFC 8428 section 12.1, and the secondary units of RFC 8798 table 2.

use units::Unit;

/// Secondary units: `primary = value * scale + offset` (RFC 8798 table 2, from memory; those of `standards.json` were
/// read in the standard).
#[rustfmt::skip]
const SECONDARY: [(&str, &str, f64, f64); 33] = [
    ("ms", "s", 1e-3, 0.0), ("min", "s", 60.0, 0.0), ("h", "s", 3_600.0, 0.0), ("MHz", "Hz", 1e6, 0.0),
    ("kW", "W", 1e3, 0.0), ("kVA", "VA", 1e3, 0.0), ("kvar", "var", 1e3, 0.0), ("Ah", "C", 3_600.0, 0.0),
    ("Wh", "J", 3_600.0, 0.0), ("kWh", "J", 3.6e6, 0.0), ("varh", "vars", 3_600.0, 0.0),
    ("kvarh", "vars", 3.6e6, 0.0), ("kVAh", "VAs", 3.6e6, 0.0), ("Wh/km", "J/m", 3.6, 0.0),
    ("KiB", "B", 1_024.0, 0.0), ("GB", "B", 1e9, 0.0), ("Mbit/s", "bit/s", 1e6, 0.0), ("B/s", "bit/s", 8.0, 0.0),
    ("MB/s", "bit/s", 8e6, 0.0), ("mV", "V", 1e-3, 0.0), ("mA", "A", 1e-3, 0.0), ("dBm", "dBW", 1.0, -30.0),
    ("ug/m3", "kg/m3", 1e-9, 0.0), ("mm/h", "m/s", 1.0 / 3.6e6, 0.0), ("m/h", "m/s", 1.0 / 3_600.0, 0.0),
    ("ppm", "/", 1e-6, 0.0), ("/100", "/", 0.01, 0.0), ("/1000", "/", 1e-3, 0.0), ("hPa", "Pa", 100.0, 0.0),
    ("mm", "m", 1e-3, 0.0), ("cm", "m", 1e-2, 0.0), ("km", "m", 1e3, 0.0),
    ("km/h", "m/s", 1.0 / 3.6, 0.0),
];

/// Registered units that measure something of ours. `%` means a part of one, as `/` does (section 12.1 note 2): half
/// is 0.5. `l/s` is registered and not recommended.
const PRIMARY: [(&str, Unit); 15] = [
    ("Cel", Unit::Celsius),
    ("K", Unit::Kelvin),
    ("m3/s", Unit::CubicMetrePerSecond),
    ("l/s", Unit::LitrePerSecond),
    ("Pa", Unit::Pascal),
    ("pH", Unit::Ph),
    ("kg/m3", Unit::GramPerLitre),
    ("S/m", Unit::SiemensPerM),
    ("W", Unit::Watt),
    ("%RH", Unit::Percent),
    ("%", Unit::Ratio),
    ("/", Unit::Ratio),
    ("Hz", Unit::Hertz),
    ("1/s", Unit::Hertz),
    ("1/min", Unit::PerMinute),
];

/// A number in its primary unit.
pub(super) fn primary(value: f64, unit: &str) -> (f64, &str) {
    let found = SECONDARY.iter().find(|(name, ..)| *name == unit);
    found.map_or((value, unit), |(_, primary, scale, offset)| (value * scale + offset, primary))
}

/// A number with a unit of ours; `None` if the unit measures nothing of ours.
pub(crate) fn amount(value: f64, unit: &str) -> Option<(f64, Unit)> {
    let (value, name) = primary(value, unit);
    PRIMARY.iter().find(|(n, _)| *n == name).map(|(_, unit)| (value, *unit))
}
