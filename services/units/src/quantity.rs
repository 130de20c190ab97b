//! What a probe measures, and numbers that carry their unit and bounds.

use crate::Unit;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A closed interval of numbers in one unit.
///
/// ```
/// use units::Band;
/// let band = Band::new(26.0, 28.0).unwrap();
/// assert!(band.contains(26.0) && !band.contains(28.1));
/// assert!(Band::new(28.0, 26.0).is_none());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// Lowest wanted value.
    pub low: f64,
    /// Highest wanted value.
    pub high: f64,
}

impl Band {
    /// A band whose ends are finite and in order, else `None`.
    pub fn new(low: f64, high: f64) -> Option<Self> {
        (low.is_finite() && high.is_finite() && low <= high).then_some(Self { low, high })
    }
    /// Whether the value lies in the band, ends included.
    pub fn contains(&self, x: f64) -> bool {
        self.low <= x && x <= self.high
    }
}

/// What a probe measures. The word is also the last part of our own topics.
///
/// ```
/// use units::Quantity;
/// assert_eq!("air-flow".parse::<Quantity>().unwrap(), Quantity::AirFlow);
/// assert_eq!(Quantity::AirFlow.unit().symbol(), "L/min");
/// assert!("bubbles".parse::<Quantity>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// Water temperature, °C.
    Temperature,
    /// Air through a tumbler, L/min.
    AirFlow,
    /// Water through a jar, L/min.
    WaterFlow,
    /// Air pressure on a line, kPa above the room.
    LinePressure,
    /// Acidity, pH.
    Ph,
    /// Dissolved oxygen, mg/L.
    DissolvedOxygen,
    /// Total ammonia, mg/L as nitrogen.
    Ammonia,
    /// Conductivity at 25 °C, µS/cm.
    Conductivity,
    /// Fill level, percent.
    Level,
    /// Electrical power drawn, W.
    Power,
    /// Air temperature of the room, °C.
    RoomTemperature,
    /// Humidity of the room's air, percent.
    Humidity,
    /// Bubbles or strokes a second, Hz.
    BubbleRate,
    /// A switch that says whether there is air: 1 good, 0 none.
    AirSwitch,
    /// A float that says whether there is water enough: 1 good, 0 low.
    LevelSwitch,
    /// Whether the mains are there: 1 there, 0 gone.
    MainsSwitch,
    /// A strip that says whether the floor is dry: 1 dry, 0 wet.
    LeakSwitch,
}

impl Quantity {
    /// All quantities, in the order in which they are listed to people.
    pub const ALL: [Quantity; 17] = [
        Quantity::Temperature,
        Quantity::AirFlow,
        Quantity::WaterFlow,
        Quantity::LinePressure,
        Quantity::Ph,
        Quantity::DissolvedOxygen,
        Quantity::Ammonia,
        Quantity::Conductivity,
        Quantity::Level,
        Quantity::Power,
        Quantity::RoomTemperature,
        Quantity::Humidity,
        Quantity::BubbleRate,
        Quantity::AirSwitch,
        Quantity::LevelSwitch,
        Quantity::MainsSwitch,
        Quantity::LeakSwitch,
    ];

    /// The word used in topics, files and the page.
    pub fn word(self) -> &'static str {
        match self {
            Quantity::Temperature => "temperature",
            Quantity::AirFlow => "air-flow",
            Quantity::WaterFlow => "water-flow",
            Quantity::LinePressure => "line-pressure",
            Quantity::Ph => "ph",
            Quantity::DissolvedOxygen => "dissolved-oxygen",
            Quantity::Ammonia => "ammonia",
            Quantity::Conductivity => "conductivity",
            Quantity::Level => "level",
            Quantity::Power => "power",
            Quantity::RoomTemperature => "room-temperature",
            Quantity::Humidity => "humidity",
            Quantity::BubbleRate => "bubble-rate",
            Quantity::AirSwitch => "air-switch",
            Quantity::LevelSwitch => "level-switch",
            Quantity::MainsSwitch => "mains-switch",
            Quantity::LeakSwitch => "leak-switch",
        }
    }

    /// The unit in which its readings are kept.
    pub fn unit(self) -> Unit {
        match self {
            Quantity::Temperature | Quantity::RoomTemperature => Unit::Celsius,
            Quantity::AirFlow | Quantity::WaterFlow => Unit::LitrePerMinute,
            Quantity::LinePressure => Unit::Kilopascal,
            Quantity::Ph => Unit::Ph,
            Quantity::DissolvedOxygen | Quantity::Ammonia => Unit::MilligramPerLitre,
            Quantity::Conductivity => Unit::MicrosiemensPerCm,
            Quantity::Level | Quantity::Humidity => Unit::Percent,
            Quantity::Power => Unit::Watt,
            Quantity::BubbleRate => Unit::Hertz,
            Quantity::AirSwitch | Quantity::LevelSwitch | Quantity::MainsSwitch | Quantity::LeakSwitch => {
                Unit::State
            }
        }
    }

    /// The values that a working probe can send at all; outside it a value is refused. Planning values of
    /// this project, chosen wide: no tank that holds eggs of these fish is colder than 5 °C or warmer than 45 °C.
    pub fn hard_band(self) -> Band {
        let (low, high) = match self {
            Quantity::Temperature => (5.0, 45.0),
            Quantity::AirFlow | Quantity::WaterFlow => (0.0, 200.0),
            Quantity::LinePressure => (-20.0, 200.0),
            Quantity::Ph => (0.0, 14.0),
            Quantity::DissolvedOxygen => (0.0, 40.0),
            Quantity::Ammonia => (0.0, 100.0),
            Quantity::Conductivity => (0.0, 100_000.0),
            Quantity::Level | Quantity::Humidity => (0.0, 100.0),
            Quantity::Power => (0.0, 20_000.0),
            Quantity::RoomTemperature => (-30.0, 60.0),
            Quantity::BubbleRate => (0.0, 1_000.0),
            Quantity::AirSwitch | Quantity::LevelSwitch | Quantity::MainsSwitch | Quantity::LeakSwitch => {
                (0.0, 1.0)
            }
        };
        Band { low, high }
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// A word that names no quantity.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownQuantity(pub String);

impl fmt::Display for UnknownQuantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let known: Vec<&str> = Quantity::ALL.iter().map(|q| q.word()).collect();
        write!(f, "{:?} is not a quantity; use one of {}", self.0, known.join(", "))
    }
}

impl std::error::Error for UnknownQuantity {}

impl FromStr for Quantity {
    type Err = UnknownQuantity;
    fn from_str(text: &str) -> Result<Self, UnknownQuantity> {
        Quantity::ALL.into_iter().find(|q| q.word() == text).ok_or_else(|| UnknownQuantity(text.to_owned()))
    }
}

/// A number outside the bounds of its quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct BoundsError {
    what: &'static str,
    unit: &'static str,
    value: f64,
    low: f64,
    high: f64,
}

impl fmt::Display for BoundsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { what, unit, value, low, high } = self;
        write!(f, "{what} {value} {unit} is outside {low} to {high} {unit}")
    }
}

impl std::error::Error for BoundsError {}

macro_rules! measure {
    ($(#[$doc:meta])* $name:ident, $what:literal, $unit:literal, $low:expr, $high:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(into = "f64", try_from = "f64")]
        pub struct $name(f64);

        impl $name {
            /// Lowest value allowed.
            pub const LOW: f64 = $low;
            /// Highest value allowed.
            pub const HIGH: f64 = $high;

            /// A finite number inside the bounds.
            ///
            /// # Errors
            /// [`BoundsError`] naming the quantity, the value and both bounds.
            pub fn new(value: f64) -> Result<Self, BoundsError> {
                if (Self::LOW..=Self::HIGH).contains(&value) {
                    Ok(Self(value))
                } else {
                    Err(BoundsError { what: $what, unit: $unit, value, low: Self::LOW, high: Self::HIGH })
                }
            }

            /// The bare number.
            pub fn get(self) -> f64 {
                self.0
            }
        }

        impl TryFrom<f64> for $name {
            type Error = BoundsError;
            fn try_from(value: f64) -> Result<Self, BoundsError> {
                Self::new(value)
            }
        }

        impl From<$name> for f64 {
            fn from(x: $name) -> f64 {
                x.0
            }
        }
    };
}

measure! {
    /// A temperature in degrees Celsius, as water or a room can have it.
    ///
    /// ```
    /// use units::Celsius;
    /// assert_eq!(Celsius::new(26.5).unwrap().get(), 26.5);
    /// assert_eq!(Celsius::new(451.0).unwrap_err().to_string(),
    ///            "temperature 451 °C is outside -60 to 100 °C");
    /// ```
    Celsius, "temperature", "°C", -60.0, 100.0
}
measure! {
    /// Degree-days above a base temperature, °C·d.
    ///
    /// ```
    /// use units::DegreeDays;
    /// assert!(DegreeDays::new(-1.0).is_err());
    /// ```
    DegreeDays, "degree-days", "°C·d", 0.0, 100_000.0
}
measure! {
    /// A flow in litres a minute.
    ///
    /// ```
    /// use units::LitresPerMinute;
    /// assert!(LitresPerMinute::new(f64::NAN).is_err());
    /// ```
    LitresPerMinute, "flow", "L/min", 0.0, 200.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_read_back_and_bands_are_in_order() {
        for q in Quantity::ALL {
            assert_eq!(q.word().parse::<Quantity>(), Ok(q));
            assert_eq!(serde_json::to_string(&q).unwrap(), format!("\"{}\"", q.word()));
            assert!(q.hard_band().low < q.hard_band().high);
            assert_eq!(q.unit().base(), q.unit());
        }
    }
}
