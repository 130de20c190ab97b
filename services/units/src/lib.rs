//! Words and quantities that every part of Hatchwarden shares: time, measured quantities with their
//! bounds, units, identifiers and the stages of a clutch.
//!
//! Layer 0: no clock, no socket, no file. Time is always an argument.
//!
//! ```
//! use units::{Quantity, Time, Unit};
//!
//! let t = Time::parse_rfc3339("2031-03-14T02:17:40Z").unwrap();
//! assert_eq!(t.millis(), 1_931_221_060_000);
//! assert_eq!(Unit::Fahrenheit.to_base(212.0), 100.0);
//! assert!(Quantity::Temperature.hard_band().contains(27.0));
//! ```

mod id;
mod quantity;
#[cfg(feature = "schema")]
mod schema;
mod sighting;
mod stage;
mod time;
mod unit;

pub use id::{ClutchId, IdError, MotherId, ProbeKey, RoomId, VesselId};
pub use quantity::{Band, BoundsError, Celsius, DegreeDays, LitresPerMinute, Quantity, UnknownQuantity};
pub use sighting::{Seen, Sighting, Sign};
pub use stage::{Day0, Day0Error, Grade, Stage, VesselKind};
pub use time::{Span, Time, TimeError};
pub use unit::{Unit, UnknownUnit};
