//! What can be wrong, and where.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;
use units::{Quantity, VesselId};

/// Conditions with their words: one table, so that no list of them can lack one.
macro_rules! conditions {
    ($($name:ident $word:literal $slug:literal $doc:literal;)*) => {
        /// What can be wrong.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "kebab-case")]
        pub enum Condition {
            $(#[doc = $doc] $name,)*
        }

        impl Condition {
            /// Every condition.
            pub const ALL: [Condition; 25] = [$(Condition::$name),*];

            /// In words.
            pub fn word(self) -> &'static str {
                match self { $(Condition::$name => $word,)* }
            }

            /// As it stands in addresses: the words joined by a hyphen.
            pub fn slug(self) -> &'static str {
                match self { $(Condition::$name => $slug,)* }
            }
        }
    };
}

conditions! {
    AirStopped "air stopped" "air-stopped" "Air flow at or under the stop limit of a tumbler that holds a clutch; of an air line: in all its tumblers at once.";
    AirWeak "air weak" "air-weak" "Air flow well under its own recent course, before it stops.";
    AirStrong "air strong" "air-strong" "Air flow well over its own usual: a hose off behind the probe, or a valve that was opened.";
    LineFault "line fault" "line-fault" "Pressure, power and flow of an air line disagree.";
    TooWarm "too warm" "too-warm" "Water at or above the upper end of its band.";
    TooCold "too cold" "too-cold" "Water at or below the lower end of its band.";
    LeavingBand "leaving band" "leaving-band" "Water still in its band, and out of it soon if it goes on so.";
    ChangingFast "changing fast" "changing-fast" "Water whose temperature changes faster than what lives there stands.";
    Drifting "drifting" "drifting" "Water that departs slowly from its own usual course.";
    OxygenLow "oxygen low" "oxygen-low" "Dissolved oxygen at or under what lives there needs.";
    AmmoniaHigh "ammonia high" "ammonia-high" "Un-ionised ammonia at or over what lives there stands.";
    Acidity "acidity" "acidity" "pH outside what lives there stands.";
    ConductivityChanged "conductivity changed" "conductivity-changed" "Conductivity far from its own usual.";
    LevelLow "level low" "level-low" "Water level at or under its limit.";
    Leak "leak" "leak" "Water on the floor.";
    PowerCut "power cut" "power-cut" "The mains are gone.";
    Silent "silent" "silent" "No accepted reading for longer than the probe may be silent; of a device or the room: nothing from it at all.";
    Implausible "implausible" "implausible" "A probe that cannot be believed: stuck, at odds with its sister, or mostly refused.";
    CannotDeliver "cannot deliver" "cannot-deliver" "Messages do not reach people by some way.";
    CannotStore "cannot store" "cannot-store" "The store cannot write.";
    ClockMoved "clock moved" "clock-moved" "The clock of the machine has jumped.";
    BrokerLost "broker lost" "broker-lost" "No messages can come in.";
    FallingBehind "falling behind" "falling-behind" "Messages come in faster than they can be kept.";
    OtherSilent "other silent" "other-silent" "The other Hatchwarden that this one watches gives no sign of life.";
    Drill "drill" "drill" "A drill: nothing is wrong, somebody tries whether calls arrive.";
}

/// Where something is wrong. Written `room`, `TU3`, `line:P1`, `device:b1`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum Place {
    /// The room, or the service itself.
    Room,
    /// A tank, tumbler or jar.
    Vessel(VesselId),
    /// Tumblers that have their air from one line.
    Line(String),
    /// One publisher with all its probes.
    Device(String),
}

impl Place {
    /// The vessel, if it is one.
    pub fn vessel(&self) -> Option<&VesselId> {
        if let Place::Vessel(vessel) = self { Some(vessel) } else { None }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Place::Room => f.write_str(ROOM),
            Place::Vessel(vessel) => f.write_str(vessel.as_str()),
            Place::Line(name) => write!(f, "{LINE}{name}"),
            Place::Device(name) => write!(f, "{DEVICE}{name}"),
        }
    }
}

impl FromStr for Place {
    type Err = UnknownAlarm;
    fn from_str(text: &str) -> Result<Self, UnknownAlarm> {
        if text == ROOM {
            return Ok(Place::Room);
        }
        if let Some(name) = text.strip_prefix(LINE) {
            return Ok(Place::Line(name.to_owned()));
        }
        if let Some(name) = text.strip_prefix(DEVICE) {
            return Ok(Place::Device(name.to_owned()));
        }
        text.parse().map(Place::Vessel).map_err(|_| UnknownAlarm(text.to_owned()))
    }
}

impl From<Place> for String {
    fn from(place: Place) -> String {
        place.to_string()
    }
}

impl TryFrom<String> for Place {
    type Error = UnknownAlarm;
    fn try_from(text: String) -> Result<Self, UnknownAlarm> {
        text.parse()
    }
}

/// Which alarm: what is wrong and where. Written `TU3.air-stopped`, `V1.silent.temperature`, `line:P1.air-stopped`,
/// `device:b1.silent`, `room.cannot-store`.
///
/// ```
/// use alarms::{AlarmKey, Condition};
/// let key: AlarmKey = "V1.silent.temperature".parse().unwrap();
/// assert_eq!(key.condition, Condition::Silent);
/// assert_eq!(key.to_string(), "V1.silent.temperature");
/// assert!("V1".parse::<AlarmKey>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct AlarmKey {
    /// Where.
    pub place: Place,
    /// What.
    pub condition: Condition,
    /// Which probe, where only one is meant.
    pub quantity: Option<Quantity>,
}

impl AlarmKey {
    /// A condition of a vessel.
    pub fn at(vessel: &VesselId, condition: Condition) -> Self {
        Self::of(Place::Vessel(vessel.clone()), condition)
    }

    /// A probe of a vessel that is silent.
    pub fn silent(vessel: &VesselId, quantity: Quantity) -> Self {
        Self::probe(vessel, Condition::Silent, quantity)
    }

    /// A condition of one probe of a vessel.
    pub fn probe(vessel: &VesselId, condition: Condition, quantity: Quantity) -> Self {
        Self { quantity: Some(quantity), ..Self::at(vessel, condition) }
    }

    /// A condition of the room, or a trouble of the service itself.
    pub fn room(condition: Condition) -> Self {
        Self::of(Place::Room, condition)
    }

    /// A condition of any place.
    pub fn of(place: Place, condition: Condition) -> Self {
        Self { place, condition, quantity: None }
    }

    /// The vessel, if it is about one.
    pub fn vessel(&self) -> Option<&VesselId> {
        self.place.vessel()
    }
}

/// The word that stands for the service itself in the place of a vessel; no vessel may be called so.
const ROOM: &str = "room";
/// Before the name of an air line. No name of a vessel holds a colon.
const LINE: &str = "line:";
/// Before the name of a device.
const DEVICE: &str = "device:";

impl fmt::Display for AlarmKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}", self.place, self.condition.slug())?;
        self.quantity.map_or(Ok(()), |q| write!(f, ".{q}"))
    }
}

/// Text that names no alarm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownAlarm(String);

impl fmt::Display for UnknownAlarm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?} is not an alarm; write vessel and condition, e.g. TU3.air-stopped", self.0)
    }
}

impl std::error::Error for UnknownAlarm {}

impl FromStr for AlarmKey {
    type Err = UnknownAlarm;
    fn from_str(text: &str) -> Result<Self, UnknownAlarm> {
        parse(text).ok_or_else(|| UnknownAlarm(text.to_owned()))
    }
}

/// A vessel's name may hold dots, so the parts are taken from the end.
fn parse(text: &str) -> Option<AlarmKey> {
    let (rest, last) = text.rsplit_once('.')?;
    let (place, slug, quantity) = match last.parse::<Quantity>() {
        Ok(quantity) => {
            let (place, slug) = rest.rsplit_once('.')?;
            (place, slug, Some(quantity))
        }
        _ => (rest, last, None),
    };
    let condition = Condition::ALL.into_iter().find(|c| c.slug() == slug)?;
    Some(AlarmKey { place: place.parse().ok()?, condition, quantity })
}

impl From<AlarmKey> for String {
    fn from(key: AlarmKey) -> String {
        key.to_string()
    }
}

impl TryFrom<String> for AlarmKey {
    type Error = UnknownAlarm;
    fn try_from(text: String) -> Result<Self, UnknownAlarm> {
        text.parse()
    }
}
