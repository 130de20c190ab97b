//! What finished clutches of a room teach about its next ones.
//!
//! ln(had / required) of clutch c of mother m at stage s is taken as
//!
//! room_s + mother_ms + clutch_cs + error_cs
//!
//! with all four normal around 0. The variance σ_s² is the one that the entry gives the stage as its spread (that of both
//! sides in the middle): [`ROOM_SHARE`] of it lies between rooms, [`MOTHER_SHARE`] between mothers of one room, the rest
//! between clutches of one mother. So a room of which nothing is known has just the entry's spread, and what is learnt
//! can only narrow it. At each of the three levels one half is one pace for all stages and the other half the stage's
//! own, as in the windows of a single clutch: a clutch that was late at hatch and at free swimming counts less than two
//! clutches would, and a stage never seen learns half from the others. Errors of measurement are alike by half between
//! the stages of a clutch too: day 0 and the probe are the same, the looks are not. That half is a planning value.
//!
//! All of it is one normal distribution, so what is known afterwards is plain algebra.

mod adapt;
mod evidence;
mod figure;
mod matrix;
mod pool;

pub use evidence::{Evidence, MOST_UNREAD, evidence};
pub use figure::LearntFigure;
pub use pool::{MOTHER_SHARE, ROOM_SHARE, WILD};

use crate::species::Species;
use pool::Pool;

/// One species entry as the clutches of one room have taught it.
///
/// Evidence of stages that the entry does not know or gives no spread, with a value that is not finite or a negative
/// variance is left out, and so is a second one of the same clutch and stage.
///
/// ```
/// use development::{Evidence, Learnt, SpeciesTable};
/// use units::Stage;
/// let table = SpeciesTable::shipped();
/// let entry = table.get("generic-mouthbrooder").unwrap();
/// let slow = |clutch: &str| Evidence {
///     clutch: clutch.to_owned(),
///     mother: None,
///     stage: Stage::Hatch,
///     y: 0.10, // 10 % more degree-days than the entry says
///     variance: 0.0004, // known to ±2 %
/// };
/// let learnt = Learnt::of(entry, &[slow("c1"), slow("c2"), slow("c3"), slow("c4")]);
/// let was = entry.required(Stage::Hatch, 14.0).unwrap();
/// let is = learnt.species(None).required(Stage::Hatch, 14.0).unwrap();
/// assert!(is > 1.06 * was && is < 1.10 * was);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Learnt {
    entry: Species,
    pool: Pool,
}

impl Learnt {
    /// Pools what the clutches of a room tell; the order in which they are given makes no difference.
    ///
    /// A clutch that fits the others badly pulls no harder than one [`WILD`] standard deviations off, so that a wrong note or
    /// another fish moves the requirement of the room by at most 1.01 σ of the entry where it is the only one (17 % where
    /// the spread is ±20 %) and by about a fifth of that where it is one of five; that of its own mother a tenth more.
    pub fn of(entry: &Species, evidence: &[Evidence]) -> Self {
        Self { entry: entry.clone(), pool: Pool::of(entry, evidence) }
    }
}
