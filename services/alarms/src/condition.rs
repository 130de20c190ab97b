//! What can be wrong, and where.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;
use units::{Quantity, VesselId};

/// What can be wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Condition {
    /// Air flow at or under the stop limit of a tumbler that holds a clutch.
    AirStopped,
    /// Water at or above the upper end of its band.
    TooWarm,
    /// Water at or below the lower end of its band.
    TooCold,
    /// Water still in its band, and out of it soon if it goes on so.
    LeavingBand,
    /// No accepted reading for longer than the probe may be silent.
    Silent,
    /// The store cannot write.
    CannotStore,
    /// No messages can come in.
    BrokerLost,
    /// The clock of the machine has jumped.
    ClockMoved,
}

impl Condition {
    /// Every condition.
    pub const ALL: [Condition; 8] = [
        Condition::AirStopped,
        Condition::TooWarm,
        Condition::TooCold,
        Condition::LeavingBand,
        Condition::Silent,
        Condition::CannotStore,
        Condition::BrokerLost,
        Condition::ClockMoved,
    ];

    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Condition::AirStopped => "air stopped",
            Condition::TooWarm => "too warm",
            Condition::TooCold => "too cold",
            Condition::LeavingBand => "leaving band",
            Condition::Silent => "silent",
            Condition::CannotStore => "cannot store",
            Condition::BrokerLost => "broker lost",
            Condition::ClockMoved => "clock moved",
        }
    }

    /// As it stands in addresses: the words joined by a hyphen.
    pub fn slug(self) -> &'static str {
        match self {
            Condition::AirStopped => "air-stopped",
            Condition::TooWarm => "too-warm",
            Condition::TooCold => "too-cold",
            Condition::LeavingBand => "leaving-band",
            Condition::Silent => "silent",
            Condition::CannotStore => "cannot-store",
            Condition::BrokerLost => "broker-lost",
            Condition::ClockMoved => "clock-moved",
        }
    }
}

/// Which alarm: what is wrong and where. Written `TU3.air-stopped`, `V1.silent.temperature`, `room.cannot-store`.
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
    /// Where; `None` for the service itself.
    pub vessel: Option<VesselId>,
    /// What.
    pub condition: Condition,
    /// Which probe is silent.
    pub quantity: Option<Quantity>,
}

impl AlarmKey {
    /// A condition of a vessel.
    pub fn at(vessel: &VesselId, condition: Condition) -> Self {
        Self { vessel: Some(vessel.clone()), condition, quantity: None }
    }

    /// A probe of a vessel that is silent.
    pub fn silent(vessel: &VesselId, quantity: Quantity) -> Self {
        Self { vessel: Some(vessel.clone()), condition: Condition::Silent, quantity: Some(quantity) }
    }

    /// A trouble of the service itself.
    pub fn room(condition: Condition) -> Self {
        Self { vessel: None, condition, quantity: None }
    }
}

/// The word that stands for the service itself in the place of a vessel.
const ROOM: &str = "room";

impl fmt::Display for AlarmKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}", self.vessel.as_ref().map_or(ROOM, VesselId::as_str), self.condition.slug())?;
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
        Err(_) => (rest, last, None),
    };
    let condition = Condition::ALL.into_iter().find(|c| c.slug() == slug)?;
    let vessel = if place == ROOM { None } else { Some(place.parse().ok()?) };
    Some(AlarmKey { vessel, condition, quantity })
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
