//! What happens to the fish of a clutch or a group.

use serde::{Deserialize, Serialize};
use std::fmt;
use units::{ClutchId, Time, VesselId};

/// Which of a clutch a stage was seen in.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Share {
    /// The first of them.
    First,
    /// Half of them; what is meant where nothing is said.
    #[default]
    Half,
    /// The last of them.
    Last,
}

impl Share {
    /// Whether it is half of them, which is not written.
    pub fn is_half(&self) -> bool {
        *self == Share::Half
    }

    /// The word in files and addresses.
    pub fn word(self) -> &'static str {
        match self {
            Share::First => "first",
            Share::Half => "half",
            Share::Last => "last",
        }
    }
}

/// How the young left her mouth.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Her mouth was emptied by hand.
    #[default]
    Stripped,
    /// She threw them out, early or in fright.
    Spat,
    /// She let them out in her own time.
    Released,
}

impl Way {
    /// Whether it is the usual way, which is not written.
    pub fn is_usual(&self) -> bool {
        *self == Way::Stripped
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Way::Stripped => "taken from the mother",
            Way::Spat => "spat and saved",
            Way::Released => "released and caught",
        }
    }
}

/// What is to become of a clutch that she holds. To leave it with her is as good a way as any.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Path {
    /// She stays where she is, and some will be lost.
    LeftWithHer,
    /// She is moved to a quiet tank and left alone.
    Isolated,
    /// Fry are taken when they are formed.
    TakenLate,
    /// Eggs are taken and turned in a tumbler.
    TakenEarly,
}

impl Path {
    /// All of them.
    pub const ALL: [Path; 4] = [Path::LeftWithHer, Path::Isolated, Path::TakenLate, Path::TakenEarly];

    /// The word in files and addresses.
    pub fn word(self) -> &'static str {
        match self {
            Path::LeftWithHer => "left-with-her",
            Path::Isolated => "isolated",
            Path::TakenLate => "taken-late",
            Path::TakenEarly => "taken-early",
        }
    }
}

impl fmt::Display for Path {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Path::LeftWithHer => "left with mother",
            Path::Isolated => "isolated with them",
            Path::TakenLate => "taken late, as fry",
            Path::TakenEarly => "taken early, into a tumbler",
        })
    }
}

/// How her holding ended when nothing was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Ending {
    /// She has swallowed them.
    Swallowed,
    /// She has spat them, and none was saved.
    Spat,
    /// She has let them out, uncounted.
    Released,
}

impl Ending {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Ending::Swallowed => "swallowed",
            Ending::Spat => "spat, none saved",
            Ending::Released => "released, uncounted",
        }
    }
}

/// How evenly eggs turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Roll {
    /// Every egg turns slowly.
    Even,
    /// Some rest, or hit the wall.
    Uneven,
    /// They lie.
    Still,
}

/// A look into a tumbler or a jar.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Look {
    /// Which clutch or group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// Dead eggs picked out.
    #[serde(default)]
    pub dead: u32,
    /// Where they lay; needed only for a clutch in several vessels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<VesselId>,
    /// How they turn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub roll: Option<Roll>,
    /// What else was seen.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// What is to become of a clutch was decided.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PathChoice {
    /// Which clutch.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// What.
    pub path: Path,
}

/// She holds no more, and nothing was taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct HoldEnd {
    /// Which clutch.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// How.
    pub how: Ending,
}

/// Some are moved, the others stay; all remain one clutch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Split {
    /// Which clutch or group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// From where; needed only for a clutch in several vessels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<VesselId>,
    /// Into which vessel.
    pub vessel: VesselId,
    /// How many.
    pub count: u32,
    /// Why, in the keeper's words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reason: String,
}

/// Clutches are put together into a group, or further ones into it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Merge {
    /// Name of the group: a new one, or one there is.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// Where they are together.
    pub vessel: VesselId,
    /// Which clutches, all of each.
    pub members: Vec<ClutchId>,
}

/// Some of a group are known again and count for their own clutch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Separation {
    /// Which group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// Which clutch they belong to.
    pub member: ClutchId,
    /// From where; needed only for a group in several vessels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<VesselId>,
    /// Into which vessel.
    pub vessel: VesselId,
    /// How many.
    pub count: u32,
}

/// Some have got out and are not found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Escape {
    /// Which clutch or group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// From where; needed only for a clutch in several vessels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<VesselId>,
    /// How many got out.
    pub count: u32,
    /// How many of those were caught and put back.
    #[serde(default)]
    pub caught: u32,
    /// How, in the keeper's words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reason: String,
}

/// Some that were missing are there again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Find {
    /// Which clutch or group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// In which vessel.
    pub vessel: VesselId,
    /// How many.
    pub count: u32,
    /// What was seen, in the keeper's words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reason: String,
}

/// Some are taken out for good.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Cull {
    /// Which clutch or group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// From where; needed only for a clutch in several vessels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<VesselId>,
    /// How many.
    pub count: u32,
    /// Why: runt, bent spine.
    pub reason: String,
}

/// Some are handed on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct HandOver {
    /// Which clutch or group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// From where; needed only for a clutch in several vessels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<VesselId>,
    /// How many.
    pub count: u32,
    /// To whom, as a code.
    pub to: String,
    /// What they were told: species, origin, generation, treatment.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub told: String,
}

/// Some are kept as future breeders.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct HoldBack {
    /// Which clutch or group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// From where; needed only for a clutch in several vessels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<VesselId>,
    /// Where they live from now on; where they were if not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vessel: Option<VesselId>,
    /// How many.
    pub count: u32,
}

/// They were counted again. What differs becomes unexplained.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Recount {
    /// Which clutch or group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// In which vessel.
    pub vessel: VesselId,
    /// How many there are.
    pub count: u32,
}

/// They were sorted by size or form; runts may be moved, and stay of their clutch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Grading {
    /// Which clutch or group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// Where they were; needed only for a clutch in several vessels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<VesselId>,
    /// How many runts.
    #[serde(default)]
    pub runts: u32,
    /// How many with a bent spine or another fault.
    #[serde(default)]
    pub faulty: u32,
    /// Where the runts went, if they were moved to another vessel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vessel: Option<VesselId>,
    /// What else: a breeder box in the tank.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// Their length was measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Measure {
    /// Which clutch or group.
    pub clutch: ClutchId,
    /// When.
    pub at: Time,
    /// Mean total length, mm.
    pub millimetres: f64,
    /// How many were measured.
    pub count: u32,
}
