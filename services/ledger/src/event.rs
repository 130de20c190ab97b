//! What can happen to a clutch.

use serde::{Deserialize, Serialize};
use units::{ClutchId, Day0, MotherId, Sign, Time, VesselId};

/// Something that happened to a clutch. Serialised with the tag `event`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
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
    },
    /// Moved to another vessel, with the mother or without.
    Moved {
        /// Which clutch.
        clutch: ClutchId,
        /// When.
        at: Time,
        /// Into which vessel.
        vessel: VesselId,
    },
    /// A sign of how far it has come was seen.
    StageSeen {
        /// Which clutch.
        clutch: ClutchId,
        /// When it was there.
        at: Time,
        /// What.
        stage: Sign,
        /// The look before, when it was not there yet; without it, and not `already`, it was watched as it came.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        not_before: Option<Time>,
        /// It was past already when first looked at.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        already: bool,
    },
    /// An entry that told of something seen was a mistake. It stays, and does not count.
    Withdrawn {
        /// Which clutch.
        clutch: ClutchId,
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
    },
    /// The last fish has gone.
    Closed {
        /// Which clutch.
        clutch: ClutchId,
        /// When.
        at: Time,
    },
}

/// An event as it was written down.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
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

impl Event {
    /// Which clutch it speaks of.
    pub fn clutch(&self) -> &ClutchId {
        match self {
            Event::ClutchOpened { clutch, .. }
            | Event::Taken { clutch, .. }
            | Event::Moved { clutch, .. }
            | Event::StageSeen { clutch, .. }
            | Event::Withdrawn { clutch, .. }
            | Event::Day0Corrected { clutch, .. }
            | Event::Lost { clutch, .. }
            | Event::Closed { clutch, .. } => clutch,
        }
    }

    /// The vessel it puts the clutch into, if it does.
    pub fn vessel(&self) -> Option<&VesselId> {
        match self {
            Event::ClutchOpened { vessel, .. }
            | Event::Taken { vessel, .. }
            | Event::Moved { vessel, .. } => Some(vessel),
            _ => None,
        }
    }

    /// When it happened; for an opening the middle of day 0.
    pub fn at(&self) -> Time {
        match self {
            Event::ClutchOpened { day0, .. } => day0.middle(),
            Event::Taken { at, .. }
            | Event::Moved { at, .. }
            | Event::StageSeen { at, .. }
            | Event::Withdrawn { at, .. }
            | Event::Day0Corrected { at, .. }
            | Event::Lost { at, .. }
            | Event::Closed { at, .. } => *at,
        }
    }

    /// What happened in plain words, its times written by `clock`.
    ///
    /// ```
    /// use ledger::Event;
    /// use units::Time;
    /// let taken = Event::Taken {
    ///     clutch: "C06".parse().unwrap(), at: Time::from_millis(0), vessel: "TU1".parse().unwrap(), alive: 33, dead: 2,
    /// };
    /// assert_eq!(taken.words(&|t| t.to_string()), "taken from the mother into TU1: 33 alive, 2 dead");
    /// ```
    pub fn words(&self, clock: &dyn Fn(Time) -> String) -> String {
        match self {
            Event::ClutchOpened { fish, mother, day0, vessel, .. } => {
                let mother = mother.as_ref().map_or_else(String::new, |m| format!(" by {m}"));
                format!("{fish} spawned{mother} in {vessel} (day 0 {})", day0.grade)
            }
            Event::Taken { vessel, alive, dead: 0, .. } => {
                format!("taken from the mother into {vessel}: {alive} alive")
            }
            Event::Taken { vessel, alive, dead, .. } => {
                format!("taken from the mother into {vessel}: {alive} alive, {dead} dead")
            }
            Event::Moved { vessel, .. } => format!("moved to {vessel}"),
            Event::StageSeen { stage, not_before, already, .. } => {
                let known = match not_before {
                    _ if *already => ", past already".to_owned(),
                    Some(before) => format!(", not yet at {}", clock(*before)),
                    None => String::new(),
                };
                format!("seen: {}{known}", stage.word().replace('-', " "))
            }
            Event::Withdrawn { entry, .. } => format!("entry {entry} was a mistake"),
            Event::Day0Corrected { day0, .. } if day0.earliest == day0.latest => {
                format!("day 0 corrected to {} ({})", clock(day0.earliest), day0.grade)
            }
            Event::Day0Corrected { day0, .. } => {
                let (a, b) = (clock(day0.earliest), clock(day0.latest));
                format!("day 0 corrected to between {a} and {b} ({})", day0.grade)
            }
            Event::Lost { count, reason, .. } if reason.is_empty() => format!("{count} lost"),
            Event::Lost { count, reason, .. } => format!("{count} lost: {reason}"),
            Event::Closed { .. } => "closed".to_owned(),
        }
    }
}
