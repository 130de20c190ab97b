//! A simulated room for keepers of mouthbrooding fish: tanks that lose heat, heaters, an air line, devices that carry
//! probes, and what goes wrong with all of them. [`publish`] sends it over real MQTT.
//!
//! Time is an argument and chance is seeded: the same plan, seed and start give the same messages to the byte, in
//! whatever steps the room is advanced, on every platform (no mathematics beyond IEEE 754 basic operations is used).
//! Every device has its own source of chance and draws from it whether or not something is wrong, so a fault changes
//! nothing but what it breaks.
//!
//! ```
//! use sensors_sim::{Fault, Plan, Room};
//! use units::{Span, Time};
//!
//! let start = Time::parse_rfc3339("2031-03-14T00:00:00Z").unwrap();
//! let mut room = Room::new(Plan::undercroft_cut(), 7, start);
//! room.inject(start + Span::minutes(5), Fault::AirStop { outlet: "TU2".to_owned() }).unwrap();
//! let sent = room.advance(start + Span::minutes(10));
//! assert_eq!(sent.len(), 60); // six probes, once a minute
//! assert_eq!(sent[0].qos, 1);
//! assert_eq!(room.flow("TU2"), Some(0.0));
//! ```
//!
//! Not simulated yet: heaters that stick, power cuts, pumps that age, water level, oxygen, device clocks that drift.

mod air;
mod chance;
mod changes;
mod check;
mod device;
mod fault;
mod maths;
mod plan;
pub mod publish;
mod room;
mod shipped;
mod tank;
mod world;

pub use changes::UnknownPlace;
pub use fault::{Fault, Wish};
pub use plan::{
    CountedFrom, DevicePlan, Event, OutletPlan, Plan, PlanError, ProbePlan, PumpPlan, RoomAirPlan, Shape,
    TankPlan,
};
pub use room::{Room, Sent};
pub use shipped::{Shipped, shipped};
