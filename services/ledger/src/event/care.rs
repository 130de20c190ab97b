//! What is done to vessels, tools and equipment.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;
use units::{ClutchId, MotherId, Time, VesselId};

/// A vessel was fed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Feed {
    /// Which vessel.
    pub vessel: VesselId,
    /// When.
    pub at: Time,
    /// What: newly hatched brine shrimp.
    pub food: String,
}

/// What a water test tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Tested {
    /// Total ammonia, mg/L as nitrogen.
    Ammonia,
    /// Nitrite, mg/L.
    Nitrite,
    /// Nitrate, mg/L.
    Nitrate,
    /// pH.
    Ph,
    /// Carbonate hardness, degrees dKH.
    CarbonateHardness,
    /// General hardness, degrees dGH.
    GeneralHardness,
    /// Dissolved oxygen, mg/L.
    Oxygen,
    /// Temperature, °C.
    Temperature,
}

impl Tested {
    /// All of them: word, name for people, unit, highest value that is believed.
    const ALL: [(Tested, &'static str, &'static str, &'static str, f64); 8] = [
        (Tested::Ammonia, "ammonia", "total ammonia", "mg/L", 100.0),
        (Tested::Nitrite, "nitrite", "nitrite", "mg/L", 100.0),
        (Tested::Nitrate, "nitrate", "nitrate", "mg/L", 1000.0),
        (Tested::Ph, "ph", "pH", "", 14.0),
        (Tested::CarbonateHardness, "carbonate-hardness", "carbonate hardness", "dKH", 100.0),
        (Tested::GeneralHardness, "general-hardness", "general hardness", "dGH", 200.0),
        (Tested::Oxygen, "oxygen", "oxygen", "mg/L", 40.0),
        (Tested::Temperature, "temperature", "temperature", "°C", 50.0),
    ];

    fn row(self) -> (&'static str, &'static str, &'static str, f64) {
        let row = Self::ALL.iter().find(|r| r.0 == self).unwrap_or(&Self::ALL[0]);
        (row.1, row.2, row.3, row.4)
    }

    /// All of them in the order of a form.
    pub fn all() -> impl Iterator<Item = Tested> {
        Self::ALL.iter().map(|r| r.0)
    }

    /// The word in files and addresses.
    pub fn word(self) -> &'static str {
        self.row().0
    }

    /// Name for people.
    pub fn name(self) -> &'static str {
        self.row().1
    }

    /// The unit; empty for pH.
    pub fn unit(self) -> &'static str {
        self.row().2
    }

    /// The highest value that is believed.
    pub(crate) fn highest(self) -> f64 {
        self.row().3
    }
}

impl fmt::Display for Tested {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Tested {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let words = || Self::ALL.iter().map(|r| r.1).collect::<Vec<_>>().join(", ");
        let found = Self::ALL.iter().find(|r| r.1 == text).map(|r| r.0);
        found.ok_or_else(|| format!("{text:?} is no water test; use one of {}", words()))
    }
}

/// Water was tested by hand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct WaterTest {
    /// Which vessel.
    pub vessel: VesselId,
    /// When.
    pub at: Time,
    /// What was tested.
    pub tested: Tested,
    /// What it told, in the unit of that test.
    pub value: f64,
}

/// Part of the water was changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct WaterChange {
    /// Which vessel.
    pub vessel: VesselId,
    /// When.
    pub at: Time,
    /// How much of it, percent.
    pub percent: u8,
}

/// A treatment, as it was given. What was used is written down; nothing is recommended.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Treatment {
    /// Which vessel.
    pub vessel: VesselId,
    /// When it began.
    pub at: Time,
    /// What.
    pub what: String,
    /// How strong.
    pub strength: f64,
    /// Unit of the strength: mg/L.
    pub unit: String,
    /// How long, minutes; not said for one that was left in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<u32>,
}

/// A vessel is kept apart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Quarantine {
    /// Which vessel.
    pub vessel: VesselId,
    /// From when.
    pub at: Time,
    /// Until when.
    pub until: Time,
    /// Why.
    pub reason: String,
}

/// A quarantine ended before its time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct QuarantineEnd {
    /// Which vessel.
    pub vessel: VesselId,
    /// When.
    pub at: Time,
}

/// A net, a jug or a filter was used in a vessel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Use {
    /// Which tool, by a name of the keeper: net-Q1.
    pub tool: String,
    /// Which vessel.
    pub vessel: VesselId,
    /// When.
    pub at: Time,
}

/// A tool was disinfected: what it carried ends there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Cleaning {
    /// Which tool.
    pub tool: String,
    /// When.
    pub at: Time,
}

/// Something that wears was put into use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Installation {
    /// Its name: P1.
    pub name: String,
    /// What it is: air pump, check valve, heater.
    pub kind: String,
    /// When.
    pub at: Time,
    /// Where, if it belongs to one vessel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vessel: Option<VesselId>,
    /// Days after which it is to be looked at or replaced, as the keeper plans.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub days: Option<u32>,
}

/// It was taken out of use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Retirement {
    /// Its name.
    pub name: String,
    /// When.
    pub at: Time,
}

/// Something was tried on purpose: a pump stopped, a standby started.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Drill {
    /// When.
    pub at: Time,
    /// What was done and what came of it.
    pub text: String,
}

/// Anything else worth keeping.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Note {
    /// When.
    pub at: Time,
    /// What.
    pub text: String,
    /// About which clutch or group.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clutch: Option<ClutchId>,
    /// About which vessel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vessel: Option<VesselId>,
    /// About which mother.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mother: Option<MotherId>,
}
