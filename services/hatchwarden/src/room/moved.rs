//! What moved the dates of a clutch between two times.

use super::offsets::doubts;
use super::tracked::Tracked;
use super::{Room, Setup, Wanted};
use development::{Part, ProjectionError, Split, split};
use ledger::{Account, Clutch};
use std::sync::Arc;
use store::{ReadError, ReadingRow};
use units::{ClutchId, ProbeKey, Quantity, Span, Time};
use web::keeper::Trouble;
use web::whatif::{Moved, PartMoved, StageMoved};

/// Longest stretch of one question, which costs a projection for each hour: longer than any of these fish take to swim
/// at the temperatures they are kept at.
pub(super) const LONGEST: Span = Span::days(31);

fn refused(field: &str, reason: String) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason }
}

/// What was known of a clutch at a time: entries, comparisons, species entries and what was learnt, by when they were written
/// down; readings, which are in the store, by when they arrived. Before a clutch was written down at all, its first entry
/// is taken as known.
#[derive(Debug)]
pub struct Known {
    at: Time,
    clutch: Clutch,
    tracked: Tracked,
    wanted: Wanted,
}

impl Known {
    fn read(&self, read: &Read<'_>) -> Result<Vec<ReadingRow>, ReadError> {
        let mut rows = Vec::new();
        for (vessel, from, to) in &self.wanted.spans {
            let probe = ProbeKey::new(vessel.clone(), Quantity::Temperature);
            rows.extend(read(&probe, *from, *to)?.into_iter().filter(|r| r.time < *to));
        }
        Ok(rows)
    }

    fn fill(&mut self, rows: &[ReadingRow]) {
        let offsets = &self.wanted.offsets;
        let celsius = |r: &ReadingRow| offsets.corrected(&r.probe, r.time, r.value);
        let points = self.arrived(rows).map(|r| (r.time, celsius(r))).collect();
        self.tracked.refill(&self.clutch, points);
    }

    /// Those that were there. If nothing had come in by then, history was loaded later on; then all that had been measured
    /// counts.
    fn arrived<'a>(&self, rows: &'a [ReadingRow]) -> impl Iterator<Item = &'a ReadingRow> + use<'a> {
        let (at, any) = (self.at, rows.iter().any(|r| r.received <= self.at));
        rows.iter().filter(move |r| if any { r.received <= at } else { r.time <= at })
    }
}

/// Gives the readings of a probe between two times, both included.
type Read<'a> = dyn Fn(&ProbeKey, Time, Time) -> Result<Vec<ReadingRow>, ReadError> + 'a;

/// What moved the dates of a clutch from one knowledge to another. Takes its time: all the water of the clutch is read, and
/// each hour costs a projection.
///
/// # Errors
/// [`Trouble`] if the water cannot be read, or had not been by one of the times.
pub fn moved(setup: &Setup, (mut old, mut new): (Known, Known), read: &Read<'_>) -> Result<Moved, Trouble> {
    let unread = |e: ReadError| Trouble::Unable(e.to_string());
    let rows = new.read(read).map_err(unread)?;
    new.fill(&rows);
    if old.wanted.spans == new.wanted.spans {
        old.fill(&rows);
    } else {
        old.fill(&old.read(read).map_err(unread)?);
    }
    let split = old.tracked.asked(&old.clutch, setup, old.at, |then| {
        new.tracked.asked(&new.clutch, setup, new.at, |now| split(then, now))
    });
    let stages = split.map_err(trouble)?.iter().map(stage).collect();
    Ok(Moved { from: old.at, to: new.at, stages })
}

impl Room {
    /// What was known of a clutch at two times, but for its water.
    ///
    /// # Errors
    /// [`Trouble`]: no such clutch in hand, or a time that will not do.
    pub fn known(&self, id: &ClutchId, from: Time, to: Time) -> Result<(Known, Known), Trouble> {
        self.in_hand(id)?;
        check(from, to)?;
        Ok((self.known_at(id, from)?, self.known_at(id, to)?))
    }

    fn known_at(&self, id: &ClutchId, at: Time) -> Result<Known, Trouble> {
        let (clutch, tracked) = self.in_hand(id)?;
        let clutch = as_of(&self.account, clutch, at)?;
        let offsets = Arc::new(self.offsets_known(at));
        let species = self.entry_then(&clutch, at).unwrap_or_else(|| tracked.species.clone());
        let mut tracked = Tracked::new(species, &clutch);
        tracked.doubts = doubts(&self.setup, &offsets, &clutch);
        let wanted = self.wanted_for(&clutch, offsets);
        Ok(Known { at, clutch, tracked, wanted })
    }
}

fn check(from: Time, to: Time) -> Result<(), Trouble> {
    if from > to {
        return Err(refused("from", format!("{from} lies after to, {to}; swap the two")));
    }
    if to - from > LONGEST {
        return Err(refused(
            "from",
            format!("{from} lies more than {LONGEST} before {to}; give a later time"),
        ));
    }
    Ok(())
}

fn trouble(e: ProjectionError) -> Trouble {
    match e {
        ProjectionError::NoReading => {
            refused("from", "the water had not been read yet then; give a later time".to_owned())
        }
        e => Trouble::Unable(e.to_string()),
    }
}

/// The clutch as it was written down by a time. A group is nothing without the clutches it was put together from, so the
/// whole account is taken in.
fn as_of(account: &Account, clutch: &Clutch, t: Time) -> Result<Clutch, Trouble> {
    let opened = clutch.entries.first().map_or(t, |e| e.recorded);
    let known = account.entries().filter(|e| e.recorded <= t.max(opened)).cloned();
    Account::restored(known)
        .clutch(&clutch.id)
        .cloned()
        .ok_or_else(|| Trouble::NotFound(format!("{} was never opened", clutch.id)))
}

fn stage(s: &Split) -> StageMoved {
    StageMoved {
        stage: s.stage,
        before: s.before,
        after: s.after,
        gained: s.gained(),
        parts: s.parts.iter().map(part).collect(),
    }
}

fn part(p: &Part) -> PartMoved {
    let kind = p.cause.word().to_owned();
    PartMoved { kind, from: p.from, to: p.to, gained: p.gained, cause: p.cause.to_string() }
}
