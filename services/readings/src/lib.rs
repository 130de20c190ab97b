//! From a message of a device to a reading or a refusal with its reason.
//!
//! Two steps, both pure. A [`TopicMap`] says which probe a topic speaks of and decodes the payload into a number
//! in our unit. A [`Judge`] knows what came before: it settles the time of the reading, refuses repeats and holds
//! jumps that water cannot make until a second reading agrees.
//!
//! ```
//! use readings::{Decoded, Judge, Message, TopicMap, Verdict};
//! use units::{RoomId, Time};
//!
//! let map = TopicMap::new(RoomId::new("undercroft").unwrap(), Vec::new()).unwrap();
//! let received = Time::parse_rfc3339("2031-03-14T02:17:40Z").unwrap();
//! let message = Message {
//!     topic: "hatchwarden/undercroft/V1/temperature",
//!     payload: b"26.94",
//!     retained: false,
//!     received,
//! };
//! let Some(Decoded::Value(raw)) = map.decode(&message).pop() else { panic!("a number") };
//! let Verdict::Accept(readings) = Judge::new().judge(raw, message.retained, received) else { panic!("good") };
//! assert_eq!((readings[0].value, readings[0].time, readings[0].fresh), (26.94, received, true));
//! ```
//!
//! One file holds one payload format, so that a format can be added without touching the others.

mod body;
mod entry;
mod json;
mod judge;
mod map;
mod map_error;
mod message;
mod moment;
mod number;
mod plausible;
mod pointer;
mod reading;
mod refusal;
mod shape;
mod topic;

pub use entry::{Format, MapEntry};
pub use judge::{Judge, Verdict};
pub use map::TopicMap;
pub use map_error::MapError;
pub use message::{Decoded, Message, OwnTime, Raw};
pub use reading::{Flags, Reading, TimeSource};
pub use refusal::{Reason, Refusal};
pub use topic::{filter_fault, matches};
