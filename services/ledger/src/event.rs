//! What can happen.

mod care;
mod fish;
mod words;

pub use care::{
    Cleaning, Drill, Feed, Installation, Note, Quarantine, QuarantineEnd, Retirement, Tested, Treatment, Use,
    WaterChange, WaterTest,
};
pub use fish::{
    Cull, Ending, Escape, Find, Grading, HandOver, HoldBack, HoldEnd, Look, Measure, Merge, Path, PathChoice,
    Recount, Roll, Separation, Share, Split, Way,
};

use serde::{Deserialize, Serialize};
use units::{ClutchId, Day0, MotherId, Sign, Stage, Time, VesselId};

/// How many of one stage there were.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct StageCount {
    /// Which stage.
    pub stage: Stage,
    /// How many.
    pub count: u32,
}

/// Something that happened. Serialised with the tag `event`. Where it says clutch, the name of a group will do as well,
/// but for what happens to eggs in the mouth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(tag = "event", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Event {
    /// A mother holds: the clutch begins.
    ClutchOpened {
        /// Its name.
        clutch: ClutchId,
        /// The fish in the keeper's words.
        fish: String,
        /// Key of the species entry it is projected by.
        species: String,
        /// Her code.
        mother: Option<MotherId>,
        /// Spawning.
        day0: Day0,
        /// Where the mother is.
        vessel: VesselId,
    },
    /// Taken from the mother and counted.
    Taken {
        /// Which clutch.
        clutch: ClutchId,
        /// When.
        at: Time,
        /// Into which vessel.
        vessel: VesselId,
        /// Alive.
        alive: u32,
        /// Dead.
        dead: u32,
        /// How they left her mouth.
        #[serde(default, skip_serializing_if = "Way::is_usual")]
        how: Way,
        /// The living by stage, where that was written down; adds up to `alive`.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        stages: Vec<StageCount>,
        /// How well `alive` is known, percent either way, where it was judged by volume.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        about: Option<u8>,
    },
    /// Moved to another vessel, with the mother or without.
    Moved {
        /// Which clutch.
        clutch: ClutchId,
        /// When.
        at: Time,
        /// Into which vessel.
        vessel: VesselId,
        /// All that were in this vessel; if not said, all there are.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<VesselId>,
        /// How many were counted on the way; what differs becomes unexplained.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        counted: Option<u32>,
    },
    /// A sign of how far it has come was seen.
    StageSeen {
        /// Which clutch.
        clutch: ClutchId,
        /// When it was there.
        at: Time,
        /// What.
        stage: Sign,
        /// In which of them.
        #[serde(default, skip_serializing_if = "Share::is_half")]
        share: Share,
        /// The look before, when it was not there yet; without it, and not `already`, it was watched as it came.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        not_before: Option<Time>,
        /// It was past already when first looked at.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        already: bool,
    },
    /// An entry was a mistake. It stays, and does not count.
    Withdrawn {
        /// Which clutch, of an entry about one.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        clutch: Option<ClutchId>,
        /// When it was withdrawn.
        at: Time,
        /// Number of the entry.
        entry: u64,
    },
    /// Day 0 was corrected.
    Day0Corrected {
        /// Which clutch.
        clutch: ClutchId,
        /// When it was corrected.
        at: Time,
        /// As it is now known.
        day0: Day0,
    },
    /// Some died or were picked out.
    Lost {
        /// Which clutch.
        clutch: ClutchId,
        /// When.
        at: Time,
        /// How many.
        count: u32,
        /// Why, in the keeper's words.
        reason: String,
        /// From where; needed only for a clutch in several vessels.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<VesselId>,
    },
    /// The last fish has gone.
    Closed {
        /// Which clutch.
        clutch: ClutchId,
        /// When.
        at: Time,
    },
    /// A look into a tumbler or a jar.
    LookedAt(Look),
    /// What is to become of a clutch was decided.
    PathChosen(PathChoice),
    /// She holds no more, and nothing was taken.
    HoldEnded(HoldEnd),
    /// Some were moved, the others stayed.
    Split(Split),
    /// Clutches were put together into a group.
    Merged(Merge),
    /// Some of a group count for their own clutch again.
    Separated(Separation),
    /// Some got out.
    Escaped(Escape),
    /// Some that were missing are there again.
    Found(Find),
    /// Some were taken out for good.
    Culled(Cull),
    /// Some were handed on.
    HandedOn(HandOver),
    /// Some are kept as future breeders.
    HeldBack(HoldBack),
    /// They were counted again.
    Recounted(Recount),
    /// They were sorted.
    Graded(Grading),
    /// Their length was measured.
    Measured(Measure),
    /// A vessel was fed.
    Fed(Feed),
    /// Water was tested by hand.
    WaterTested(WaterTest),
    /// Part of the water was changed.
    WaterChanged(WaterChange),
    /// A treatment was given.
    Treated(Treatment),
    /// A vessel is kept apart.
    Quarantined(Quarantine),
    /// A quarantine ended before its time.
    QuarantineEnded(QuarantineEnd),
    /// A tool was used in a vessel.
    ToolUsed(Use),
    /// A tool was disinfected.
    ToolCleaned(Cleaning),
    /// Something that wears was put into use.
    Installed(Installation),
    /// It was taken out of use.
    Retired(Retirement),
    /// Something was tried on purpose.
    Drilled(Drill),
    /// Anything else worth keeping.
    Noted(Note),
}

/// An event as it was written down.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Entry {
    /// Running number, from 1.
    pub id: u64,
    /// When it was written down; may be long after it happened.
    pub recorded: Time,
    /// By whom.
    pub by: String,
    /// What happened.
    pub event: Event,
}

/// What an event is about: a clutch or group, a vessel it tells of or puts fish into, and when it happened.
struct About<'a>(Option<&'a ClutchId>, Option<&'a VesselId>, Time);

impl Event {
    fn about(&self) -> About<'_> {
        match self {
            Event::ClutchOpened { clutch, vessel, day0, .. } => {
                About(Some(clutch), Some(vessel), day0.middle())
            }
            Event::Taken { clutch, vessel, at, .. } | Event::Moved { clutch, vessel, at, .. } => {
                About(Some(clutch), Some(vessel), *at)
            }
            Event::StageSeen { clutch, at, .. }
            | Event::Day0Corrected { clutch, at, .. }
            | Event::Closed { clutch, at } => About(Some(clutch), None, *at),
            Event::Withdrawn { clutch, at, .. } => About(clutch.as_ref(), None, *at),
            Event::Lost { clutch, at, from, .. } => About(Some(clutch), from.as_ref(), *at),
            Event::LookedAt(e) => About(Some(&e.clutch), e.from.as_ref(), e.at),
            Event::PathChosen(e) => About(Some(&e.clutch), None, e.at),
            Event::HoldEnded(e) => About(Some(&e.clutch), None, e.at),
            Event::Split(e) => About(Some(&e.clutch), Some(&e.vessel), e.at),
            Event::Merged(e) => About(Some(&e.clutch), Some(&e.vessel), e.at),
            Event::Separated(e) => About(Some(&e.clutch), Some(&e.vessel), e.at),
            Event::Escaped(e) => About(Some(&e.clutch), e.from.as_ref(), e.at),
            Event::Found(e) => About(Some(&e.clutch), Some(&e.vessel), e.at),
            Event::Culled(e) => About(Some(&e.clutch), e.from.as_ref(), e.at),
            Event::HandedOn(e) => About(Some(&e.clutch), e.from.as_ref(), e.at),
            Event::HeldBack(e) => About(Some(&e.clutch), e.vessel.as_ref(), e.at),
            Event::Recounted(e) => About(Some(&e.clutch), Some(&e.vessel), e.at),
            Event::Graded(e) => About(Some(&e.clutch), e.vessel.as_ref(), e.at),
            Event::Measured(e) => About(Some(&e.clutch), None, e.at),
            Event::Fed(e) => About(None, Some(&e.vessel), e.at),
            Event::WaterTested(e) => About(None, Some(&e.vessel), e.at),
            Event::WaterChanged(e) => About(None, Some(&e.vessel), e.at),
            Event::Treated(e) => About(None, Some(&e.vessel), e.at),
            Event::Quarantined(e) => About(None, Some(&e.vessel), e.at),
            Event::QuarantineEnded(e) => About(None, Some(&e.vessel), e.at),
            Event::ToolUsed(e) => About(None, Some(&e.vessel), e.at),
            Event::ToolCleaned(e) => About(None, None, e.at),
            Event::Installed(e) => About(None, e.vessel.as_ref(), e.at),
            Event::Retired(e) => About(None, None, e.at),
            Event::Drilled(e) => About(None, None, e.at),
            Event::Noted(e) => About(e.clutch.as_ref(), e.vessel.as_ref(), e.at),
        }
    }

    /// Which clutch or group it speaks of, if it does.
    pub fn clutch(&self) -> Option<&ClutchId> {
        self.about().0
    }

    /// Every clutch and group whose account or place it changes.
    pub fn clutches(&self) -> Vec<&ClutchId> {
        let others: &[ClutchId] = match self {
            Event::Merged(e) => &e.members,
            Event::Separated(e) => std::slice::from_ref(&e.member),
            _ => &[],
        };
        self.clutch().into_iter().chain(others).collect()
    }

    /// The vessel that it tells of, or that it puts fish into.
    pub fn vessel(&self) -> Option<&VesselId> {
        self.about().1
    }

    /// Every vessel that it names.
    pub fn vessels(&self) -> Vec<&VesselId> {
        let from = match self {
            Event::Moved { from, .. } => from.as_ref(),
            Event::Split(e) => e.from.as_ref(),
            Event::Separated(e) => e.from.as_ref(),
            Event::HeldBack(e) => e.from.as_ref(),
            Event::Graded(e) => e.from.as_ref(),
            _ => None,
        };
        self.vessel().into_iter().chain(from).collect()
    }

    /// Whether it is about the room as a whole: no clutch, no vessel, no mother.
    pub fn is_of_room(&self) -> bool {
        let of_mother = matches!(self, Event::Noted(e) if e.mother.is_some());
        self.clutch().is_none() && self.vessel().is_none() && !of_mother
    }

    /// When it happened; for an opening the middle of day 0.
    pub fn at(&self) -> Time {
        self.about().2
    }
}
