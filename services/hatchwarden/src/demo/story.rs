//! The keeper of the demo's bench: enters what was seen and done in the simulated weeks, and spills cold water.

use crate::engine::Desk;
use crate::room::Wish;
use sensors_sim::{Act, ClutchPlan, Fault, Known, Scenario, Share, Truth};
use std::collections::BTreeSet;
use units::{ClutchId, Grade, IdError, MotherId, Stage, Time, VesselId};
use web::keeper::{Keeper, NewClutch, Record, Trouble};
use web::species::SpeciesView;

/// Who enters the demo's records.
const KEEPER: &str = "keeper";

/// The entry for a fish that has none of its own.
const GENERIC: &str = "generic-mouthbrooder";

/// Whether the store already holds the demo's clutches.
pub(super) fn is_known(desk: &Desk) -> bool {
    !desk.room().borrow().clutches.is_empty()
}

/// Enters every clutch of the scenario, which began at `start`, and what really happened to it: a keeper who misses
/// nothing.
pub(super) async fn enter(
    desk: &Desk,
    scenario: &Scenario,
    start: Time,
    truth: &[Truth],
) -> Result<(), Trouble> {
    let laid = truth.iter().filter_map(|t| match &t.what {
        Known::Clutch { clutch, .. } => scenario.clutches.iter().find(|c| c.name == *clutch),
        _ => None,
    });
    let species = desk.species().await?;
    for clutch in laid {
        desk.wish(Wish::OpenClutch(opened(&species, clutch, start).map_err(|e| bad(&e))?), KEEPER).await?;
    }
    let mut taken = BTreeSet::new();
    for line in truth {
        if let Some((clutch, record)) = record(line, scenario, &mut taken).map_err(|e| bad(&e))? {
            desk.wish(Wish::Record(clutch, record), KEEPER).await?;
        }
    }
    Ok(())
}

fn opened(species: &[SpeciesView], clutch: &ClutchPlan, start: Time) -> Result<NewClutch, IdError> {
    let [earliest, latest] = clutch.noticed.unwrap_or([clutch.laid; 2]).map(|m| m.after(start));
    let known = species.iter().find(|s| s.name.starts_with(&clutch.fish));
    Ok(NewClutch {
        id: ClutchId::new(&clutch.name)?,
        fish: clutch.fish.clone(),
        species: known.map_or(GENERIC, |s| &s.key).to_owned(),
        mother: Some(MotherId::new(&clutch.mother)?),
        day0_earliest: earliest,
        day0_latest: Some(latest),
        day0_grade: if clutch.noticed.is_some() { Grade::Window } else { Grade::Seen },
        vessel: VesselId::new(&clutch.place)?,
    })
}

/// What a keeper would enter on that. `taken` holds the clutches that are not with their mothers any more.
fn record(
    line: &Truth,
    scenario: &Scenario,
    taken: &mut BTreeSet<String>,
) -> Result<Option<(ClutchId, Record)>, IdError> {
    let at = line.at;
    let (clutch, record) = match &line.what {
        Known::Act { act: Act::Move { clutch, to }, .. } => {
            let vessel = VesselId::new(to)?;
            let eggs = scenario.clutches.iter().find(|c| c.name == *clutch).map_or(0, |c| c.eggs);
            let first = taken.insert(clutch.clone());
            (
                clutch,
                if first {
                    Record::Strip { at, vessel, alive: eggs, dead: 0 }
                } else {
                    Record::Move { at, vessel }
                },
            )
        }
        Known::Fewer { clutch, count, why, .. } if taken.contains(clutch) => {
            (clutch, Record::Loss { at, count: *count, reason: why.clone() })
        }
        Known::Reached { clutch, stage, share: Share::Half }
            if *stage >= Stage::Hatch && taken.contains(clutch) =>
        {
            (clutch, Record::watched(*stage, at))
        }
        _ => return Ok(None),
    };
    Ok(Some((ClutchId::new(clutch)?, record)))
}

fn bad(e: &IdError) -> Trouble {
    Trouble::Unable(e.to_string())
}

/// Somebody fills a tank up with cold water.
pub(super) fn cold_water(tank: &str) -> Fault {
    Fault::ColdInflow { tank: tank.to_owned(), litres_per_minute: 12.0, celsius: 10.0 }
}
