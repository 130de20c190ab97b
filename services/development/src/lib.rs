//! How far a clutch has come: degree-days of the water it really had, and the windows in which each stage is
//! due.
//!
//! * A [`Species`] says how much warmth each stage needs, from a table in which every figure has its source.
//! * A [`Course`] keeps the temperature that one clutch had and sums it exactly, gaps marked and filled.
//! * [`project`] turns both into windows; [`shifts`] says what moved between two projections, and why.
//! * [`split`] splits a shift into parts that add up to it.
//! * [`what_if`] tries other water, [`steady_for`] finds the water for a date.
//! * [`Learnt`] makes an entry fit the room in which clutches were seen.
//! * [`tasks`] says what there is to do in these windows.
//!
//! Layer 1, pure: no clock, no file, no socket. There is no "now" in it; a projection follows from data alone.
//!
//! ```
//! use development::{Ask, Course, Doubts, SpeciesTable, project};
//! use units::{Day0, Span, Stage, Time};
//!
//! let table = SpeciesTable::shipped();
//! let species = table.get("oreochromis-niloticus").unwrap();
//! let spawned = Time::parse_rfc3339("2031-03-10T06:00:00Z").unwrap();
//! let mut course = Course::new(species, spawned);
//! for quarter in 0..96 {
//!     course.insert(spawned + Span::minutes(15 * quarter), 28.0);
//! }
//! let ask = Ask {
//!     species,
//!     course: &course,
//!     until: None,
//!     day0: Day0::seen(spawned),
//!     seen: &[],
//!     water_to_come: None,
//!     doubts: Doubts::USUAL,
//! };
//! let projection = project(&ask).unwrap();
//! // 78 h at 28 °C: Subasinghe & Sommerville 1992, abstract.
//! let hatch = projection.stage(Stage::Hatch).unwrap();
//! assert!(((hatch.likeliest - spawned).as_hours() - 78.0).abs() < 0.01);
//! ```

mod ahead;
mod cause;
mod course;
mod culprit;
mod doubt;
mod entry;
mod fill;
mod find;
pub mod fit;
mod integral;
mod law;
mod learn;
mod observed;
mod parse;
mod parts;
mod project;
mod projection;
mod rest;
mod retell;
mod series;
mod shift;
mod species;
mod table;
mod walk;
mod warn;
mod weigh;
mod whatif;
mod work;

pub use cause::Cause;
pub use course::{Course, Inserted};
pub use doubt::Doubts;
pub use fill::{GAP_AFTER, GAP_DOUBT};
pub use find::UnknownSpecies;
pub use integral::degree_days;
pub use law::EXTRAPOLATION_DOUBT;
pub use learn::{Evidence, Learnt, LearntFigure, MOST_UNREAD, MOTHER_SHARE, ROOM_SHARE, WILD, evidence};
pub use parse::{Fault, SpeciesError};
pub use parts::{Part, PartCause, SMALL_HOUR, Split, TRIFLE, split};
pub use project::{Ask, PROBABILITY, ProjectionError, likely_day0, project};
pub use projection::{Projection, StageWindow};
pub use retell::{Gap, Piece, ThreeSums};
pub use series::{FEEDING, Series};
pub use shift::{Changed, SHIFT_OVER, Shift, What, shifts};
pub use species::{BaseTemperature, Choice, Figure, Form, Law, Need, Requirement, Species, Spread};
pub use table::SpeciesTable;
pub use whatif::{CAUTION, Change, NoSteady, Range, Steady, WhatIf, steady_for, what_if};
pub use work::{LeadTimes, Task, TaskKind, done, tasks};
