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
//! [`MapEntry`] names the formats: a plain number, JSON by pointers, SenML (RFC 8428) as JSON and CBOR, words, comma
//! lists, key=value pairs and bare floats. What a message means is never guessed: a topic without an entry is refused
//! by name.

mod body;
pub mod case;
mod checked;
mod convert;
mod entry;
mod json;
mod judge;
mod map;
mod map_error;
mod message;
mod moment;
mod number;
mod offset;
mod place;
mod plausible;
mod pointer;
mod reader;
mod reading;
mod refusal;
mod rules;
mod senml;
mod shape;
mod text_formats;
mod topic;
pub mod trial;

pub use entry::{Format, MapEntry, Outliers, Says};
pub use judge::{Judge, MOST_PROBES, Verdict};
pub use map::TopicMap;
pub use map_error::MapError;
pub use message::{Decoded, Message, OwnTime, Raw, Sender};
pub use offset::{COMPARED, Comparison, ComparisonError, MOST_OFF, Offset, Offsets};
pub use reading::{Flags, Reading, TimeSource};
pub use refusal::{Reason, Refusal};
pub use rules::Rules;
pub use topic::{covers, filter_fault, matches};
