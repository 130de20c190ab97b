//! Units in which devices send, and their conversion to ours.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A unit that a payload may carry. [`Unit::to_base`] turns a number into our unit of that dimension.
///
/// Factors: exact by definition (SI Brochure 9th ed.; foot, gallon and pound by the agreement of 1959); columns of
/// mercury and water by their conventional densities (13,595.1 and 1,000 kg/m³) under standard gravity, as in
/// NIST SP 811 (2008) appendix B.8. `tests/tests/units.rs` checks every one against a general-purpose library.
///
/// ```
/// use units::Unit;
/// assert_eq!("F".parse::<Unit>().unwrap(), Unit::Fahrenheit);
/// assert!((Unit::Kelvin.to_base(300.05) - 26.9).abs() < 1e-9);
/// assert!("R".parse::<Unit>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum Unit {
    /// Degree Celsius, our unit of temperature.
    Celsius,
    /// Degree Fahrenheit.
    Fahrenheit,
    /// Kelvin.
    Kelvin,
    /// Litre a minute, our unit of flow.
    LitrePerMinute,
    /// Litre a second.
    LitrePerSecond,
    /// Litre an hour.
    LitrePerHour,
    /// Millilitre a minute.
    MillilitrePerMinute,
    /// Cubic metre a second.
    CubicMetrePerSecond,
    /// Cubic metre an hour.
    CubicMetrePerHour,
    /// Cubic foot a minute.
    CubicFootPerMinute,
    /// Cubic foot an hour.
    CubicFootPerHour,
    /// US gallon a minute.
    GallonPerMinute,
    /// US gallon an hour.
    GallonPerHour,
    /// Kilopascal, our unit of pressure.
    Kilopascal,
    /// Pascal.
    Pascal,
    /// Hectopascal, the same as a millibar.
    Hectopascal,
    /// Bar.
    Bar,
    /// Pound-force per square inch.
    Psi,
    /// Millimetre of mercury.
    MillimetreOfMercury,
    /// Inch of mercury.
    InchOfMercury,
    /// Millimetre of water.
    MillimetreOfWater,
    /// Centimetre of water.
    CentimetreOfWater,
    /// Inch of water.
    InchOfWater,
    /// pH, our unit of acidity.
    Ph,
    /// Milligram a litre, our unit of concentration. `ppm` is read as this: in fresh water a litre weighs a kilogram
    /// (common practice, no source).
    MilligramPerLitre,
    /// Microgram a litre.
    MicrogramPerLitre,
    /// Gram a litre, the same as kilogram a cubic metre.
    GramPerLitre,
    /// Microsiemens a centimetre, our unit of conductivity.
    MicrosiemensPerCm,
    /// Millisiemens a centimetre, the same as decisiemens a metre.
    MillisiemensPerCm,
    /// Millisiemens a metre.
    MillisiemensPerM,
    /// Siemens a metre.
    SiemensPerM,
    /// Watt, our unit of power.
    Watt,
    /// Kilowatt.
    Kilowatt,
    /// Milliwatt.
    Milliwatt,
    /// Percent, our unit of level and humidity.
    Percent,
    /// A part of one: 0.5 is 50 %.
    Ratio,
    /// Events a second, our unit of a rate.
    Hertz,
    /// Events a minute.
    PerMinute,
    /// Bare events, to be divided by the time over which they were counted.
    Count,
    /// 1 for on, full or good, 0 for off, low or bad: our unit of switches.
    State,
}

use Unit::*;

/// One unit as it is written, and the line that turns it into ours: `base = number * factor + offset`.
struct Row {
    unit: Unit,
    base: Unit,
    factor: f64,
    offset: f64,
    /// The symbol shown to people first, then the other spellings met on devices.
    spellings: &'static [&'static str],
}

const fn row(unit: Unit, base: Unit, factor: f64, spellings: &'static [&'static str]) -> Row {
    Row { unit, base, factor, offset: 0.0, spellings }
}

/// Pascal in a millimetre of water, and in one of mercury.
const MM_WATER: f64 = 9.806_65;
const MM_MERCURY: f64 = 13.595_1 * 9.806_65;
/// Millimetres in an inch, litres in a cubic foot and in a US gallon.
const INCH: f64 = 25.4;
const CUBIC_FOOT: f64 = 28.316_846_592;
const GALLON: f64 = 3.785_411_784;

#[rustfmt::skip]
const ROWS: &[Row] = &[
    row(Celsius, Celsius, 1.0, &["°C", "C", "Cel", "degC", "celsius", "℃"]),
    Row { unit: Fahrenheit, base: Celsius, factor: 5.0 / 9.0, offset: -160.0 / 9.0,
          spellings: &["°F", "F", "degF", "fahrenheit", "℉"] },
    Row { unit: Kelvin, base: Celsius, factor: 1.0, offset: -273.15, spellings: &["K", "kelvin"] },
    row(LitrePerMinute, LitrePerMinute, 1.0, &["L/min", "l/min", "lpm", "LPM"]),
    row(LitrePerSecond, LitrePerMinute, 60.0, &["L/s", "l/s"]),
    row(LitrePerHour, LitrePerMinute, 1.0 / 60.0, &["L/h", "l/h", "lph", "LPH"]),
    row(MillilitrePerMinute, LitrePerMinute, 1e-3, &["mL/min", "ml/min"]),
    row(CubicMetrePerSecond, LitrePerMinute, 60_000.0, &["m3/s", "m³/s"]),
    row(CubicMetrePerHour, LitrePerMinute, 1_000.0 / 60.0, &["m3/h", "m³/h"]),
    row(CubicFootPerMinute, LitrePerMinute, CUBIC_FOOT, &["cfm", "CFM", "ft3/min"]),
    row(CubicFootPerHour, LitrePerMinute, CUBIC_FOOT / 60.0, &["cfh", "CFH", "ft3/h"]),
    row(GallonPerMinute, LitrePerMinute, GALLON, &["gpm", "GPM", "gal/min"]),
    row(GallonPerHour, LitrePerMinute, GALLON / 60.0, &["gph", "GPH", "gal/h"]),
    row(Kilopascal, Kilopascal, 1.0, &["kPa"]),
    row(Pascal, Kilopascal, 1e-3, &["Pa"]),
    row(Hectopascal, Kilopascal, 0.1, &["hPa", "mbar"]),
    row(Bar, Kilopascal, 100.0, &["bar"]),
    row(Psi, Kilopascal, 6.894_757_293_168_361, &["psi", "PSI"]),
    row(MillimetreOfMercury, Kilopascal, MM_MERCURY / 1e3, &["mmHg"]),
    row(InchOfMercury, Kilopascal, INCH * MM_MERCURY / 1e3, &["inHg"]),
    row(MillimetreOfWater, Kilopascal, MM_WATER / 1e3, &["mmH2O"]),
    row(CentimetreOfWater, Kilopascal, 10.0 * MM_WATER / 1e3, &["cmH2O"]),
    row(InchOfWater, Kilopascal, INCH * MM_WATER / 1e3, &["inH2O"]),
    row(Ph, Ph, 1.0, &["pH", "ph"]),
    row(MilligramPerLitre, MilligramPerLitre, 1.0, &["mg/L", "mg/l", "g/m3", "ppm"]),
    row(MicrogramPerLitre, MilligramPerLitre, 1e-3, &["µg/L", "ug/L", "ug/l", "μg/L", "µg/l"]),
    row(GramPerLitre, MilligramPerLitre, 1_000.0, &["g/L", "g/l", "kg/m3"]),
    row(MicrosiemensPerCm, MicrosiemensPerCm, 1.0, &["µS/cm", "uS/cm", "μS/cm"]),
    row(MillisiemensPerCm, MicrosiemensPerCm, 1_000.0, &["mS/cm", "dS/m"]),
    row(MillisiemensPerM, MicrosiemensPerCm, 10.0, &["mS/m"]),
    row(SiemensPerM, MicrosiemensPerCm, 10_000.0, &["S/m"]),
    row(Watt, Watt, 1.0, &["W"]),
    row(Kilowatt, Watt, 1_000.0, &["kW"]),
    row(Milliwatt, Watt, 1e-3, &["mW"]),
    row(Percent, Percent, 1.0, &["%", "%RH"]),
    row(Ratio, Percent, 100.0, &["/"]),
    row(Hertz, Hertz, 1.0, &["Hz", "1/s"]),
    row(PerMinute, Hertz, 1.0 / 60.0, &["1/min", "/min"]),
    row(Count, Count, 1.0, &["count"]),
    row(State, State, 1.0, &["on/off", "bool"]),
];

/// A unit that is not in the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownUnit(pub String);

impl fmt::Display for UnknownUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let known: Vec<&str> = ROWS.iter().map(|r| r.spellings[0]).collect();
        write!(f, "unit {:?} is not known; known units are {}", self.0, known.join(", "))
    }
}

impl std::error::Error for UnknownUnit {}

impl Unit {
    /// Every unit of the table.
    pub fn all() -> impl Iterator<Item = Unit> {
        ROWS.iter().map(|r| r.unit)
    }

    /// The symbol shown to people.
    pub fn symbol(self) -> &'static str {
        self.row().spellings[0]
    }

    /// Every way in which it may be written, the symbol first.
    pub fn spellings(self) -> &'static [&'static str] {
        self.row().spellings
    }

    /// The unit of ours that measures the same thing.
    pub fn base(self) -> Unit {
        self.row().base
    }

    /// A number in this unit as a number in [`Unit::base`].
    pub fn to_base(self, x: f64) -> f64 {
        match self {
            // In this order 212 °F are 100 °C to the bit.
            Fahrenheit => (x - 32.0) * 5.0 / 9.0,
            _ => x * self.row().factor + self.row().offset,
        }
    }

    /// A number in [`Unit::base`] as a number in this unit.
    ///
    /// ```
    /// assert!((units::Unit::Hectopascal.from_base(101.325) - 1013.25).abs() < 1e-9);
    /// ```
    pub fn from_base(self, x: f64) -> f64 {
        (x - self.row().offset) / self.row().factor
    }

    fn row(self) -> &'static Row {
        // The table holds every unit in the order of the enum; a test walks it.
        &ROWS[self as usize]
    }
}

impl FromStr for Unit {
    type Err = UnknownUnit;
    fn from_str(text: &str) -> Result<Self, UnknownUnit> {
        let text = text.trim();
        ROWS.iter()
            .find(|r| r.spellings.contains(&text))
            .map(|r| r.unit)
            .ok_or_else(|| UnknownUnit(text.to_owned()))
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

impl From<Unit> for String {
    fn from(u: Unit) -> Self {
        u.symbol().to_owned()
    }
}

impl TryFrom<String> for Unit {
    type Error = UnknownUnit;
    fn try_from(text: String) -> Result<Self, UnknownUnit> {
        text.parse()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_spelling_reads_back_as_its_unit_alone() {
        for (i, r) in ROWS.iter().enumerate() {
            assert_eq!(r.unit as usize, i, "{:?} stands in the wrong row", r.unit);
            assert_eq!(r.base.base(), r.base);
            for s in r.spellings {
                assert_eq!(s.parse::<Unit>().as_ref(), Ok(&r.unit), "{s}");
            }
        }
    }

    #[test]
    fn there_and_back_is_the_same_number() {
        for unit in Unit::all() {
            for x in [-40.0, 0.0, 0.43, 27.06, 1_013.2] {
                assert!((unit.from_base(unit.to_base(x)) - x).abs() < 1e-9, "{unit} {x}");
            }
        }
    }

    /// NIST SP 811 (2008) B.8: 1 psi = 6.894757 kPa; ice point 32 °F, 273.15 K (SI Brochure).
    #[test]
    fn conversions_agree_with_the_handbook() {
        assert!((Psi.to_base(1.0) - 6.894_757).abs() < 1e-6);
        assert_eq!(Fahrenheit.to_base(32.0), 0.0);
        assert_eq!(Fahrenheit.to_base(212.0), 100.0);
        assert_eq!(Kelvin.to_base(273.15), 0.0);
    }
}
