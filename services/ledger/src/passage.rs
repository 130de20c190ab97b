//! How clutches fared where they were, and what was sorted out of them.

use crate::{Account, Clutch, Event, Side};
use serde::Serialize;
use units::{ClutchId, Time, VesselId};

/// A clutch's stay in one vessel.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Passage {
    /// When the first came in.
    pub from: Time,
    /// When the last had left it; `None` while some are there.
    pub until: Option<Time>,
    /// How many came in.
    pub came: u32,
    /// How many of those died there, got out or are missing; never more than came.
    pub lost: u32,
}

impl Passage {
    /// Of a hundred that came in, how many were not lost there.
    ///
    /// ```
    /// use ledger::Passage;
    /// use units::Time;
    /// let passage = Passage { from: Time::from_millis(0), until: None, came: 640, lost: 55 };
    /// assert_eq!(passage.kept_percent().round(), 91.0);
    /// ```
    pub fn kept_percent(&self) -> f64 {
        100.0 * f64::from(self.came - self.lost) / f64::from(self.came.max(1))
    }
}

impl Clutch {
    /// Its stay in a vessel; `None` where it was never counted into it.
    pub fn passage(&self, vessel: &VesselId) -> Option<Passage> {
        let here = |side: &Side| side.vessel() == Some(vessel);
        let astray = |side: &Side| matches!(side, Side::Escaped | Side::Unexplained);
        let (mut from, mut until) = (None, None);
        let (mut came, mut dead, mut missing, mut there) = (0_u32, 0_u32, 0_u32, 0_i64);
        for line in self.lines() {
            let count = line.count;
            match (here(&line.from), here(&line.to)) {
                (false, true) => {
                    there += i64::from(count);
                    from = from.or(Some(line.at));
                    // What was missing and is there again had come in before, or was on its way elsewhere.
                    let again = if astray(&line.from) { count } else { 0 };
                    missing -= again.min(missing);
                    came += count - again;
                }
                (true, false) => {
                    there -= i64::from(count);
                    dead += if line.to == Side::Dead { count } else { 0 };
                    missing += if astray(&line.to) { count } else { 0 };
                }
                _ => continue,
            }
            until = Some(line.at).filter(|_| there <= 0);
        }
        let lost = (dead + missing).min(came);
        from.filter(|_| came > 0).map(|from| Passage { from, until, came, lost })
    }
}

/// What a grading found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SortedOut {
    /// The clutch, or the group that it was in: of whom they are is then not known.
    pub of: ClutchId,
    /// Runts.
    pub runts: u32,
    /// With a bent spine or another fault.
    pub faulty: u32,
}

impl Account {
    /// What gradings found of a clutch, and of groups that it is in, in the order of time.
    pub fn sorted_out(&self, clutch: &ClutchId) -> Vec<SortedOut> {
        let of_it = |id: &ClutchId| {
            id == clutch
                || self.clutch(id).is_some_and(|group| group.members.iter().any(|m| m.clutch == *clutch))
        };
        self.entries()
            .filter(|e| self.stands(e.id))
            .filter_map(|e| match &e.event {
                Event::Graded(g) if of_it(&g.clutch) && g.runts + g.faulty > 0 => {
                    Some(SortedOut { of: g.clutch.clone(), runts: g.runts, faulty: g.faulty })
                }
                _ => None,
            })
            .collect()
    }
}
