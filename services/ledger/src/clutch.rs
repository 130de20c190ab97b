//! One clutch, or a group of clutches, as its events make it.

use crate::book::{Book, Statement};
use crate::event::{Ending, Path, Way};
use crate::{Entry, Line};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use units::{ClutchId, Day0, MotherId, Sighting, Time, VesselId};

/// One clutch, or a group that clutches were put together into.
#[derive(Debug, Clone, PartialEq)]
pub struct Clutch {
    /// Its name.
    pub id: ClutchId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// Key of the species entry it is projected by.
    pub species: String,
    /// Her code.
    pub mother: Option<MotherId>,
    /// Spawning; of a group from the earliest to the latest of its members.
    pub day0: Day0,
    /// Where it has been since the earliest day 0: since when, which vessel; in order of time. Of one in several vessels
    /// where most were, or where they were first.
    pub places: Vec<(Time, VesselId)>,
    /// When it was taken from the mother.
    pub taken: Option<Time>,
    /// Alive by the account; `None` until counted.
    pub alive: Option<u32>,
    /// What was seen, after corrections; one of each sign, in order of life.
    pub seen: Vec<Sighting>,
    /// When it was closed.
    pub closed: Option<Time>,
    /// What is to become of it, as the keeper chose last.
    pub path: Option<Path>,
    /// How the young left her, and when.
    pub left_her: Option<(Time, Left)>,
    /// Clutches that it was put together from, for a group.
    pub members: Vec<Member>,
    /// Everything entered, in the order of entering.
    pub entries: Vec<Entry>,
    pub(crate) book: Book,
    /// When the last of those alive had gone.
    pub(crate) emptied: Option<Time>,
    /// What its members had been seen to reach.
    pub(crate) inherited: Vec<Sighting>,
    /// Numbers of entries that were withdrawn.
    pub(crate) struck: BTreeSet<u64>,
}

/// How young left the mother.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Left {
    /// They were had.
    Taken(Way),
    /// They were not.
    Ended(Ending),
    /// It was not written down.
    Unknown,
}

impl Left {
    /// In words: "spat and saved", "swallowed".
    pub fn words(self) -> &'static str {
        match self {
            Left::Taken(way) => way.words(),
            Left::Ended(how) => how.words(),
            Left::Unknown => "not written down",
        }
    }
}

/// A clutch that became part of a group.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Member {
    /// Which.
    pub clutch: ClutchId,
    /// How many came from it.
    pub count: u32,
    /// When.
    pub at: Time,
}

impl Clutch {
    /// Where it was at a time; `None` before day 0.
    pub fn place_at(&self, t: Time) -> Option<&VesselId> {
        self.places.iter().rev().find(|(from, _)| *from <= t).map(|(_, vessel)| vessel)
    }

    /// Where it is now.
    pub fn place_now(&self) -> Option<&VesselId> {
        self.places.last().map(|(_, vessel)| vessel)
    }

    /// Whether there is anything of it to look after: not closed, and not counted down to none.
    pub fn in_hand(&self) -> bool {
        self.closed.is_none() && self.alive != Some(0)
    }

    /// When there was nothing of it any more to look after.
    pub fn ended(&self) -> Option<Time> {
        self.closed.or(self.emptied.filter(|_| self.alive == Some(0)))
    }

    /// How many live in a vessel by the account. One that was never counted is where it was last put, uncounted.
    pub fn count_in(&self, vessel: &VesselId) -> Option<u32> {
        match self.alive {
            Some(_) => self.book.alive_by_vessel().get(vessel).copied(),
            None => None,
        }
    }

    /// Whether some of it live in a vessel.
    pub fn lives_in(&self, vessel: &VesselId) -> bool {
        match self.alive {
            Some(_) => self.count_in(vessel).is_some_and(|n| n > 0),
            None => self.place_now() == Some(vessel),
        }
    }

    /// Every vessel in which some of it live, and how many; `None` where they were never counted.
    pub fn where_alive(&self) -> Vec<(&VesselId, Option<u32>)> {
        match self.alive {
            Some(_) => self.counts().into_iter().map(|(v, n)| (v, Some(n))).collect(),
            None => self.place_now().map(|v| (v, None)).into_iter().collect(),
        }
    }

    pub(crate) fn counts(&self) -> BTreeMap<&VesselId, u32> {
        let mut all = self.book.alive_by_vessel();
        all.retain(|_, n| *n > 0);
        all
    }

    /// Since when it has been in a vessel without a break; `None` where it is not.
    pub fn there_since(&self, vessel: &VesselId) -> Option<Time> {
        if self.alive.is_none() {
            return self.places.last().filter(|(_, v)| v == vessel).map(|(t, _)| *t);
        }
        let (mut count, mut since) = (0_i64, None);
        for line in self.book.lines() {
            let before = count;
            count += i64::from(line.count) * i64::from(line.to.vessel() == Some(vessel));
            count -= i64::from(line.count) * i64::from(line.from.vessel() == Some(vessel));
            since = if count <= 0 {
                None
            } else if before <= 0 {
                Some(line.at)
            } else {
                since
            };
        }
        since
    }

    /// Whether it was put together from clutches.
    pub fn is_group(&self) -> bool {
        !self.members.is_empty()
    }

    /// The count, line by line, in the order of entering.
    pub fn lines(&self) -> &[Line] {
        self.book.lines()
    }

    /// What the lines come to.
    pub fn statement(&self) -> Statement {
        self.book.statement()
    }

    /// Events may be entered late: places stay in order of when they began.
    pub(crate) fn place(&mut self, at: Time, vessel: VesselId) {
        let i = self.places.partition_point(|(from, _)| *from <= at);
        self.places.insert(i, (at, vessel));
    }
}
