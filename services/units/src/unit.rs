//! Units in which devices send, and their conversion to ours.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A unit that a payload may carry. [`Unit::to_base`] turns a number into our unit of that dimension.
///
/// Factors: exact by definition (SI Brochure 9th ed.; pound-force per square inch and inch of water from
/// NIST SP 811, 2008, appendix B.8).
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
    /// Litre an hour.
    LitrePerHour,
    /// Cubic metre a second.
    CubicMetrePerSecond,
    /// Kilopascal, our unit of pressure.
    Kilopascal,
    /// Pascal.
    Pascal,
    /// Hectopascal, the same as a millibar.
    Hectopascal,
    /// Pound-force per square inch.
    Psi,
    /// pH, our unit of acidity.
    Ph,
    /// Milligram a litre, our unit of concentration.
    MilligramPerLitre,
    /// Microsiemens a centimetre, our unit of conductivity.
    MicrosiemensPerCm,
    /// Watt, our unit of power.
    Watt,
    /// Percent, our unit of level and humidity.
    Percent,
}

use Unit::{
    Celsius, CubicMetrePerSecond, Fahrenheit, Hectopascal, Kelvin, Kilopascal, LitrePerHour, LitrePerMinute,
    MicrosiemensPerCm, MilligramPerLitre, Pascal, Percent, Ph, Psi, Watt,
};

/// Every unit with its symbol first and the other spellings met on devices after it.
const SPELLINGS: &[(Unit, &[&str])] = &[
    (Celsius, &["°C", "C", "Cel", "degC", "celsius"]),
    (Fahrenheit, &["°F", "F", "degF", "fahrenheit"]),
    (Kelvin, &["K", "kelvin"]),
    (LitrePerMinute, &["L/min", "l/min", "lpm"]),
    (LitrePerHour, &["L/h", "l/h", "lph"]),
    (CubicMetrePerSecond, &["m3/s"]),
    (Kilopascal, &["kPa"]),
    (Pascal, &["Pa"]),
    (Hectopascal, &["hPa", "mbar"]),
    (Psi, &["psi"]),
    (Ph, &["pH", "ph"]),
    (MilligramPerLitre, &["mg/L", "mg/l"]),
    (MicrosiemensPerCm, &["µS/cm", "uS/cm"]),
    (Watt, &["W"]),
    (Percent, &["%"]),
];

/// A unit that is not in the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownUnit(pub String);

impl fmt::Display for UnknownUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let known: Vec<&str> = SPELLINGS.iter().map(|(_, s)| s[0]).collect();
        write!(f, "unit {:?} is not known; known units are {}", self.0, known.join(", "))
    }
}

impl std::error::Error for UnknownUnit {}

impl Unit {
    /// The symbol shown to people.
    pub fn symbol(self) -> &'static str {
        SPELLINGS.iter().find(|(u, _)| *u == self).map_or("", |(_, s)| s[0])
    }

    /// The unit of ours that measures the same thing.
    pub fn base(self) -> Unit {
        match self {
            Celsius | Fahrenheit | Kelvin => Celsius,
            LitrePerMinute | LitrePerHour | CubicMetrePerSecond => LitrePerMinute,
            Kilopascal | Pascal | Hectopascal | Psi => Kilopascal,
            other => other,
        }
    }

    /// A number in this unit as a number in [`Unit::base`].
    pub fn to_base(self, x: f64) -> f64 {
        match self {
            Fahrenheit => (x - 32.0) * 5.0 / 9.0,
            Kelvin => x - 273.15,
            LitrePerHour => x / 60.0,
            CubicMetrePerSecond => x * 60_000.0,
            Pascal => x / 1_000.0,
            Hectopascal => x / 10.0,
            Psi => x * 6.894_757_293_168_361,
            _ => x,
        }
    }
}

impl FromStr for Unit {
    type Err = UnknownUnit;
    fn from_str(text: &str) -> Result<Self, UnknownUnit> {
        let text = text.trim();
        SPELLINGS
            .iter()
            .find(|(_, spellings)| spellings.contains(&text))
            .map(|(unit, _)| *unit)
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
    fn every_spelling_reads_back_as_its_unit() {
        for (unit, spellings) in SPELLINGS {
            for s in *spellings {
                assert_eq!(s.parse::<Unit>().as_ref(), Ok(unit), "{s}");
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
