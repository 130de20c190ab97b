//! The clutches of the demo and what goes wrong: an invented cellar fish room, cut down to two tanks.

use crate::engine::Desk;
use crate::room::Wish;
use sensors_sim::Fault;
use units::{ClutchId, Grade, IdError, MotherId, Span, Stage, Time, VesselId};
use web::keeper::{Keeper, NewClutch, Record, Trouble};

/// Who enters the demo's records.
const KEEPER: &str = "keeper";

/// One clutch of the demo; times are hours before now.
struct Story {
    clutch: &'static str,
    fish: &'static str,
    species: &'static str,
    mother: &'static str,
    day0: (i64, i64, Grade),
    /// Where the mother held.
    held_in: &'static str,
    /// When it was taken, into which tumbler, how many alive and dead.
    taken: (i64, &'static str, u32, u32),
    hatched: Option<i64>,
    lost: Option<(i64, u32, &'static str)>,
}

const STORIES: [Story; 4] = [
    Story {
        clutch: "C02",
        fish: "Labidochromis caeruleus",
        species: "generic-mouthbrooder",
        mother: "lab-01",
        day0: (323, 321, Grade::Seen),
        held_in: "V1",
        taken: (215, "TU1", 22, 0),
        hatched: Some(158),
        lost: Some((170, 4, "white, two with mould")),
    },
    Story {
        clutch: "C11",
        fish: "Astatotilapia burtoni",
        species: "generic-mouthbrooder",
        mother: "bur-03",
        day0: (141, 141, Grade::Seen),
        held_in: "V1",
        taken: (45, "TU2", 44, 0),
        hatched: None,
        lost: Some((21, 3, "white")),
    },
    Story {
        clutch: "C06",
        fish: "Pseudocrenilabrus philander",
        species: "generic-mouthbrooder",
        mother: "phi-02",
        day0: (100, 84, Grade::Window),
        held_in: "V1",
        taken: (20, "TU3", 33, 0),
        hatched: None,
        lost: None,
    },
    Story {
        clutch: "C09",
        fish: "Oreochromis niloticus",
        species: "oreochromis-niloticus",
        mother: "til-04",
        day0: (41, 30, Grade::Window),
        held_in: "V2",
        taken: (18, "TU4", 710, 0),
        hatched: None,
        lost: None,
    },
];

/// Whether the store already holds the demo's clutches.
pub(super) fn is_known(desk: &Desk) -> bool {
    !desk.room().borrow().clutches.is_empty()
}

/// Enters the clutches and what happened to them.
pub(super) async fn open_clutches(desk: &Desk, now: Time) -> Result<(), Trouble> {
    for story in &STORIES {
        enter(desk, story, now).await?;
    }
    Ok(())
}

async fn enter(desk: &Desk, s: &Story, now: Time) -> Result<(), Trouble> {
    let ago = |hours: i64| now - Span::hours(hours);
    let id = ClutchId::new(s.clutch).map_err(|e| bad(&e))?;
    let (earliest, latest, grade) = s.day0;
    let new = NewClutch {
        id: id.clone(),
        fish: s.fish.to_owned(),
        species: s.species.to_owned(),
        mother: Some(MotherId::new(s.mother).map_err(|e| bad(&e))?),
        day0_earliest: ago(earliest),
        day0_latest: Some(ago(latest)),
        day0_grade: grade,
        vessel: VesselId::new(s.held_in).map_err(|e| bad(&e))?,
    };
    desk.wish(Wish::OpenClutch(new), KEEPER).await?;
    let (taken, vessel, alive, dead) = s.taken;
    let vessel = VesselId::new(vessel).map_err(|e| bad(&e))?;
    let mut records = vec![Record::Strip { at: ago(taken), vessel, alive, dead }];
    records.extend(s.lost.map(|(at, count, why)| Record::Loss {
        at: ago(at),
        count,
        reason: why.to_owned(),
    }));
    records.extend(s.hatched.map(|at| Record::Seen { at: ago(at), stage: Stage::Hatch }));
    for record in records {
        desk.wish(Wish::Record(id.clone(), record), KEEPER).await?;
    }
    Ok(())
}

fn bad(e: &IdError) -> Trouble {
    Trouble::Unable(e.to_string())
}

/// Somebody fills a tank up with cold water.
pub(super) fn cold_water() -> Fault {
    Fault::ColdInflow { tank: "V2".to_owned(), litres_per_minute: 12.0, celsius: 10.0 }
}
