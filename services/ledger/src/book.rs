//! The double entry: every fish leaves one side and comes to another.

use serde::Serialize;
use std::collections::BTreeMap;
use units::{ClutchId, Time, VesselId};

/// Where fish of a clutch can be by the account. All sides of one clutch together always come to nought.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(tag = "side", content = "name", rename_all = "kebab-case")]
pub enum Side {
    /// With the mother, whence all of them come: what has been taken stands here as less than nought.
    Mother,
    /// Alive in a vessel.
    Vessel(VesselId),
    /// Alive in a vessel, kept as future breeders.
    HeldBack(VesselId),
    /// Dead.
    Dead,
    /// Taken out for good.
    Culled,
    /// Handed on.
    HandedOn,
    /// Got out, and not found.
    Escaped,
    /// Missing without a recorded reason; less than nought when more were counted than there should be.
    Unexplained,
    /// Counted for another clutch or a group.
    With(ClutchId),
}

impl Side {
    /// The vessel in which they live, if they do.
    pub fn vessel(&self) -> Option<&VesselId> {
        match self {
            Side::Vessel(v) | Side::HeldBack(v) => Some(v),
            _ => None,
        }
    }

    /// In words: "alive in TU1", "dead".
    pub fn words(&self) -> String {
        match self {
            Side::Mother => "mother".to_owned(),
            Side::Vessel(v) => format!("alive in {v}"),
            Side::HeldBack(v) => format!("held back in {v}"),
            Side::Dead => "dead".to_owned(),
            Side::Culled => "culled".to_owned(),
            Side::HandedOn => "handed on".to_owned(),
            Side::Escaped => "escaped".to_owned(),
            Side::Unexplained => "unexplained".to_owned(),
            Side::With(c) => format!("with {c}"),
        }
    }
}

/// One line: so many went from one side to the other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = AccountLine))]
pub struct Line {
    /// When.
    pub at: Time,
    /// Number of the entry that it comes from.
    pub entry: u64,
    /// How many.
    pub count: u32,
    /// From where.
    pub from: Side,
    /// To where.
    pub to: Side,
    /// Why, in words.
    pub why: String,
}

/// The lines of one clutch and what they come to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Book {
    lines: Vec<Line>,
    sums: BTreeMap<Side, i64>,
}

/// What all lines of a clutch come to. `came + received` always equals the rest together.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Statement {
    /// Taken from the mother, dead ones too.
    pub came: i64,
    /// From other clutches, for a group.
    pub received: i64,
    /// Dead.
    pub dead: i64,
    /// Culled.
    pub culled: i64,
    /// Handed on.
    pub handed_on: i64,
    /// Escaped and not found.
    pub escaped: i64,
    /// Missing without a reason; less than nought when more were found than there should be.
    pub unexplained: i64,
    /// Given into groups, or to clutches that they were known to belong to.
    pub given: i64,
    /// Alive and kept as future breeders.
    pub held_back: i64,
    /// Alive otherwise.
    pub growing: i64,
}

impl Statement {
    /// Alive in all.
    pub fn alive(&self) -> i64 {
        self.held_back + self.growing
    }

    /// Whether every fish that came is accounted for.
    pub fn balances(&self) -> bool {
        let gone = self.dead + self.culled + self.handed_on + self.escaped + self.unexplained + self.given;
        self.came + self.received == gone + self.alive()
    }
}

impl Book {
    /// Writes a line; one of no fish is not written.
    pub(crate) fn write(&mut self, line: Line) {
        if line.count == 0 || line.from == line.to {
            return;
        }
        *self.sums.entry(line.from.clone()).or_default() -= i64::from(line.count);
        *self.sums.entry(line.to.clone()).or_default() += i64::from(line.count);
        self.sums.retain(|_, n| *n != 0);
        self.lines.push(line);
    }

    /// All lines in the order of entering.
    pub fn lines(&self) -> &[Line] {
        &self.lines
    }

    /// What stands on one side.
    pub fn on(&self, side: &Side) -> i64 {
        self.sums.get(side).copied().unwrap_or(0)
    }

    /// How many live in each vessel, those held back among them.
    pub fn alive_by_vessel(&self) -> BTreeMap<&VesselId, u32> {
        let mut all = BTreeMap::new();
        for (vessel, n) in self.sums.iter().filter_map(|(side, n)| Some((side.vessel()?, *n))) {
            let there: &mut u32 = all.entry(vessel).or_default();
            *there = there.saturating_add(u32::try_from(n).unwrap_or(0));
        }
        all
    }

    /// How many are alive.
    pub fn alive(&self) -> u32 {
        self.alive_by_vessel().values().fold(0, |all: u32, n| all.saturating_add(*n))
    }

    /// What it all comes to.
    pub fn statement(&self) -> Statement {
        let mut s = Statement::default();
        for (side, n) in &self.sums {
            match side {
                Side::Mother => s.came -= n,
                Side::Vessel(_) => s.growing += n,
                Side::HeldBack(_) => s.held_back += n,
                Side::Dead => s.dead += n,
                Side::Culled => s.culled += n,
                Side::HandedOn => s.handed_on += n,
                Side::Escaped => s.escaped += n,
                Side::Unexplained => s.unexplained += n,
                Side::With(_) if *n < 0 => s.received -= n,
                Side::With(_) => s.given += n,
            }
        }
        s
    }
}
