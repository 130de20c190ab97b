//! Other water for a clutch, asked from the page.

use super::Room;
use super::tracked::Tracked;
use development::{Ask, CAUTION, NoSteady, Projection, ProjectionError, Steady, WhatIf};
use ledger::Clutch;
use units::{ClutchId, Stage, Time};
use web::keeper::Trouble;
use web::whatif::{Change, Foreseen, OtherStage, OtherWater, Put, Reach};

/// Everything that is known so far.
const ALL: Time = Time::from_millis(i64::MAX);

impl Room {
    /// What would come of other water for a clutch.
    ///
    /// # Errors
    /// [`Trouble`]: no such clutch in hand, or a field that will not do.
    pub fn what_if(&self, id: &ClutchId, change: Change, now: Time) -> Result<Foreseen, Trouble> {
        let (clutch, tracked) = self.in_hand(id)?;
        tracked.asked(clutch, &self.setup, ALL, |ask| match change {
            Change::Always(celsius) => other(ask, development::Change::Always(celsius)),
            Change::FromNow(celsius) => other(ask, development::Change::FromNow(celsius)),
            Change::Put { at, .. } if at <= now => {
                Err(refused("at", &format!("{at} is over, it is {now}; give a later time")))
            }
            Change::Put { stage, at } => put(ask, stage, at),
        })
    }

    /// A clutch that is projected.
    pub(super) fn in_hand(&self, id: &ClutchId) -> Result<(&Clutch, &Tracked), Trouble> {
        let clutch = self.account.clutch(id);
        clutch.zip(self.tracked.get(id)).ok_or_else(|| {
            Trouble::NotFound(match clutch {
                Some(_) => format!("{id} is closed and no longer projected"),
                None => format!("there is no clutch {id} in this room"),
            })
        })
    }
}

fn refused(field: &str, reason: &impl ToString) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason: reason.to_string() }
}

fn other(ask: &Ask<'_>, change: development::Change) -> Result<Foreseen, Trouble> {
    let field = |e: ProjectionError| match e {
        ProjectionError::WaterToCome(_) => refused("celsius", &e),
        _ => Trouble::Unable(e.to_string()),
    };
    let WhatIf { as_is, changed } = development::what_if(ask, change).map_err(field)?;
    Ok(Foreseen::Water(water(as_is.as_ref(), changed, None)))
}

fn put(ask: &Ask<'_>, stage: Stage, at: Time) -> Result<Foreseen, Trouble> {
    match development::steady_for(ask, stage, at) {
        Ok(Steady { range, per_tenth, projection, .. }) => {
            let put = Put { stage, at, per_tenth, range: range.to_string() };
            Ok(Foreseen::Water(water(development::project(ask).ok().as_ref(), projection, Some(put))))
        }
        Err(NoSteady::OutOfReach { stage, wanted, earliest, latest, range }) => {
            let (range, caution) = (range.to_string(), CAUTION.to_owned());
            Ok(Foreseen::OutOfReach(Reach { stage, wanted, earliest, latest, range, caution }))
        }
        Err(e @ (NoSteady::Unknown(_) | NoSteady::Seen { .. } | NoSteady::Over { .. })) => {
            Err(refused("stage", &e))
        }
        Err(e @ NoSteady::Past { .. }) => Err(refused("at", &e)),
        Err(e @ (NoSteady::Projection(_) | NoSteady::NoRange(_))) => Err(Trouble::Unable(e.to_string())),
    }
}

fn water(as_is: Option<&Projection>, changed: Projection, put: Option<Put>) -> OtherWater {
    let stages = changed.stages.iter().filter(|w| w.seen.is_none()).map(|w| OtherStage {
        stage: w.stage,
        as_is: as_is.and_then(|p| p.stage(w.stage)).map(|w| w.likeliest),
        earliest: w.earliest,
        likeliest: w.likeliest,
        latest: w.latest,
    });
    OtherWater {
        celsius: changed.water_to_come,
        from: changed.read_until,
        put,
        stages: stages.collect(),
        warnings: changed.warnings,
        caution: CAUTION.to_owned(),
    }
}
