//! What was seen of a clutch, after corrections.

use crate::clutch::fault;
use crate::{Clutch, Entry, Event, LedgerError};
use std::collections::BTreeSet;
use units::{Seen, Sighting, Time};

impl Event {
    /// What was seen, if this tells of it.
    pub fn sighting(&self) -> Option<Sighting> {
        let Event::StageSeen { at, stage, not_before, already, .. } = self else { return None };
        let seen = match not_before {
            _ if *already => Seen::By(*at),
            Some(before) => Seen::Between(*before, *at),
            None => Seen::At(*at),
        };
        Some(Sighting { sign: *stage, seen })
    }
}

impl Clutch {
    /// Whether an entry tells of something seen that has not been withdrawn.
    pub fn stands(&self, entry: &Entry) -> bool {
        entry.event.sighting().is_some() && !self.withdrawn().contains(&entry.id)
    }

    fn withdrawn(&self) -> BTreeSet<u64> {
        let of = |e: &Entry| if let Event::Withdrawn { entry, .. } = e.event { Some(entry) } else { None };
        self.entries.iter().filter_map(of).collect()
    }

    /// Of each sign what was entered last stands, unless it was withdrawn; in order of life.
    pub(crate) fn sightings(&self) -> Vec<Sighting> {
        let withdrawn = self.withdrawn();
        let mut seen: Vec<Sighting> = Vec::new();
        let standing = self.entries.iter().filter(|e| !withdrawn.contains(&e.id));
        for sighting in standing.filter_map(|e| e.event.sighting()) {
            seen.retain(|s| s.sign != sighting.sign);
            seen.push(sighting);
        }
        seen.sort_by_key(|s| s.sign);
        seen
    }

    /// Refuses what cannot be: a later sign that was there before an earlier one can have been. The same sign entered
    /// again corrects what was entered before.
    pub(crate) fn check_seen(
        &self,
        sighting: &Sighting,
        not_before: Option<Time>,
        already: bool,
    ) -> Result<(), LedgerError> {
        if let Some(before) = not_before {
            self.check_look(before, sighting.seen.by(), already)?;
        }
        let wrong = self.seen.iter().find(|other| {
            let (first, then) =
                if other.sign < sighting.sign { (*other, sighting) } else { (sighting, *other) };
            first.sign < then.sign && first.seen.not_before().is_some_and(|t| t > then.seen.by())
        });
        let Some(other) = wrong else { return Ok(()) };
        let (at, seen) = (sighting.seen.by(), other.seen.by());
        let order = if other.sign < sighting.sign { "before" } else { "after" };
        fault(
            "at",
            format!(
                "{} at {at} would be {order} {}, seen at {seen}; correct the time",
                sighting.sign, other.sign
            ),
        )
    }

    fn check_look(&self, before: Time, at: Time, already: bool) -> Result<(), LedgerError> {
        if already {
            let said =
                "what was past already at the first look has no look before it; leave one of the two out";
            return fault("not_before", said.to_owned());
        }
        if before > at {
            return fault("not_before", format!("{before} lies after {at}; swap the two looks"));
        }
        if before < self.day0.earliest {
            let day0 = self.day0.earliest;
            return fault(
                "not_before",
                format!("{before} is before day 0 ({day0}); write a later look, or none"),
            );
        }
        Ok(())
    }

    pub(crate) fn check_withdrawn(&self, number: u64) -> Result<(), LedgerError> {
        match self.entries.iter().find(|e| e.id == number) {
            Some(e) if self.stands(e) => Ok(()),
            Some(e) if e.event.sighting().is_some() => {
                fault("entry", format!("entry {number} was withdrawn already; nothing is left to do"))
            }
            Some(_) => fault(
                "entry",
                format!("entry {number} is no sighting; record a move, a loss or a day 0 that puts it right"),
            ),
            None => fault("entry", format!("{} has no entry {number}; the page lists them", self.id)),
        }
    }

    /// Day 0 cannot lie after anything that happened to the clutch.
    pub(crate) fn check_day0(&self, earliest: Time) -> Result<(), LedgerError> {
        let happened = |e: &&Entry| {
            !matches!(
                e.event,
                Event::ClutchOpened { .. } | Event::Withdrawn { .. } | Event::Day0Corrected { .. }
            ) && (e.event.sighting().is_none() || self.stands(e))
        };
        let first = self.entries.iter().filter(happened).map(|e| e.event.at()).min();
        match first.filter(|t| *t < earliest) {
            Some(t) => fault(
                "day0_earliest",
                format!("{earliest} lies after what was recorded at {t}; write an earlier time"),
            ),
            None => Ok(()),
        }
    }
}
