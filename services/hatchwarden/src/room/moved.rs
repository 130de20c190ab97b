//! What moved the dates of a clutch between two times.

use super::Room;
use development::{Part, ProjectionError, Split, split};
use ledger::{Account, Clutch};
use units::{ClutchId, Span, Time};
use web::keeper::Trouble;
use web::whatif::{Moved, PartMoved, StageMoved};

/// Longest stretch of one question, which costs a projection for each hour: longer than any of these fish take to swim
/// at the temperatures they are kept at.
const LONGEST: Span = Span::days(31);

fn refused(field: &str, reason: String) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason }
}

impl Room {
    /// What moved the dates of a clutch between what was known at `from` and at `to`: entries by when they were written
    /// down, readings by when they were measured. So none counts as having come late. Before a clutch was written down at
    /// all, its first entry is taken as known.
    ///
    /// # Errors
    /// [`Trouble`]: no such clutch in hand, or a time that will not do.
    pub fn shift(&self, id: &ClutchId, from: Time, to: Time) -> Result<Moved, Trouble> {
        let (clutch, tracked) = self.in_hand(id)?;
        check(from, to)?;
        let (then, now) = (as_of(clutch, from)?, as_of(clutch, to)?);
        let split = tracked.asked(&then, &self.setup, from, |old| {
            tracked.asked(&now, &self.setup, to, |new| split(old, new))
        });
        let stages = split.map_err(trouble)?.iter().map(stage).collect();
        Ok(Moved { from, to, stages })
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

/// The clutch as it was written down by a time.
fn as_of(clutch: &Clutch, t: Time) -> Result<Clutch, Trouble> {
    let opened = clutch.entries.first().map_or(t, |e| e.recorded);
    let mut account = Account::new();
    for entry in clutch.entries.iter().filter(|e| e.recorded <= t.max(opened)) {
        // What fitted once fits again, in the same order.
        account.apply(entry.clone()).map_err(|e| Trouble::Unable(e.to_string()))?;
    }
    account
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
