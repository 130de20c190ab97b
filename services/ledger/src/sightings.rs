//! What was seen of a clutch, after corrections.

use crate::check::fault;
use crate::event::Share;
use crate::{Clutch, Entry, Event, LedgerError};
use units::{Seen, Sighting, Sign, Time};

impl Event {
    /// What was seen of half of a clutch, if this tells of it.
    pub fn sighting(&self) -> Option<Sighting> {
        let Event::StageSeen { at, stage, share: Share::Half, not_before, already, .. } = self else {
            return None;
        };
        let seen = match not_before {
            _ if *already => Seen::By(*at),
            Some(before) => Seen::Between(*before, *at),
            None => Seen::At(*at),
        };
        Some(Sighting { sign: *stage, seen })
    }
}

impl Clutch {
    /// Whether an entry counts: it was not withdrawn.
    pub fn stands(&self, entry: &Entry) -> bool {
        !self.struck.contains(&entry.id)
    }

    /// Of each sign what was entered last stands, unless it was withdrawn; in order of life. A sign that was seen only in
    /// the first and in the last had come to half of them between the two.
    pub(crate) fn sightings(&self) -> Vec<Sighting> {
        let standing: Vec<&Event> =
            self.entries.iter().filter(|e| self.stands(e)).map(|e| &e.event).collect();
        let mut seen = self.inherited.clone();
        for sighting in standing.iter().filter_map(|e| e.sighting()) {
            seen.retain(|s| s.sign != sighting.sign);
            seen.push(sighting);
        }
        let shares = shares(&standing);
        let apart = shares.iter().filter(|(sign, ..)| seen.iter().all(|s| s.sign != *sign));
        let between: Vec<Sighting> =
            apart.filter_map(|(sign, first, last)| half(*sign, *first, *last)).collect();
        seen.extend(between);
        seen.sort_by_key(|s| s.sign);
        seen
    }

    /// The first cannot come after the last, nor half of them outside the two.
    pub(crate) fn check_share(&self, share: Share, sign: Sign, at: Time) -> Result<(), LedgerError> {
        let standing = self.entries.iter().filter(|e| self.stands(e));
        let wrong = standing.filter_map(|e| share_seen(&e.event)).find(|(other, of, t)| {
            *of == sign && ((*other < share && *t > at) || (*other > share && *t < at))
        });
        let Some((other, _, t)) = wrong else { return Ok(()) };
        let (share, other) = (share.word(), other.word());
        fault(
            "at",
            format!("{sign} of the {share} at {at} does not go with the {other} at {t}; correct the time"),
        )
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

    /// Day 0 cannot lie after anything that happened to the clutch.
    pub(crate) fn check_day0(&self, earliest: Time) -> Result<(), LedgerError> {
        let happened = |e: &&Entry| {
            !matches!(
                e.event,
                Event::ClutchOpened { .. } | Event::Withdrawn { .. } | Event::Day0Corrected { .. }
            ) && self.stands(e)
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

/// In which of them a sign was seen, and by when.
fn share_seen(event: &Event) -> Option<(Share, Sign, Time)> {
    match event {
        Event::StageSeen { stage, share, at, .. } => Some((*share, *stage, *at)),
        _ => None,
    }
}

/// Of each sign that was seen in the first or the last of them: when, by what was entered last.
fn shares(standing: &[&Event]) -> Vec<(Sign, Option<Time>, Option<Time>)> {
    let mut all: Vec<(Sign, Option<Time>, Option<Time>)> = Vec::new();
    for (share, sign, at) in standing.iter().filter_map(|e| share_seen(e)) {
        let i = all.iter().position(|(s, ..)| *s == sign).unwrap_or_else(|| {
            all.push((sign, None, None));
            all.len() - 1
        });
        match share {
            Share::First => all[i].1 = Some(at),
            Share::Last => all[i].2 = Some(at),
            Share::Half => {}
        }
    }
    all
}

/// When half of them had come so far, by when the first and the last had.
fn half(sign: Sign, first: Option<Time>, last: Option<Time>) -> Option<Sighting> {
    let seen = match (first, last) {
        (Some(a), Some(b)) if a <= b => Seen::Between(a, b),
        (_, Some(b)) => Seen::By(b),
        _ => return None,
    };
    Some(Sighting { sign, seen })
}
