//! A fish room in a box: tanks that lose heat, heaters, air lines and jars, mains and Wi-Fi, people, devices that carry
//! probes, eggs that develop and die by a law of their own, and what goes wrong with all of them. [`publish`] sends it
//! over real MQTT.
//!
//! Time is an argument and chance is seeded: the same scenario, seed and start give the same messages and the same
//! truth to the byte, in whatever steps the room is advanced, on every platform (mathematics beyond IEEE 754 basic
//! operations is that of the `libm` crate, which is software). Everything has its own source of chance by its name and
//! draws from it whether or not something is wrong, so a fault changes the noise of nothing else.
//!
//! ```
//! use sensors_sim::{Fault, Room, Scenario};
//! use units::{Quantity, Span, Time};
//!
//! let start = Time::parse_rfc3339("2031-03-14T00:00:00Z").unwrap();
//! let mut room = Room::new(Scenario::undercroft_cut(), 7, start);
//! room.inject(start + Span::minutes(5), Fault::AirStop("TU2".to_owned())).unwrap();
//! let sent = room.advance(start + Span::minutes(10));
//! assert_eq!(sent.iter().filter(|s| s.topic.ends_with("/TU2/air-flow")).count(), 10); // once a minute
//! assert_eq!(room.truth("TU2", Quantity::AirFlow), Some(0.0));
//! ```

mod agenda;
mod chance;
mod device;
mod fish;
mod output;
pub mod publish;
pub mod record;
mod room;
mod scenario;
pub mod story;
mod truth;
mod watch;
mod when;
mod world;

pub use output::{Happening, Kind, Sent};
pub use room::Room;
pub use scenario::{
    Act, CircuitPlan, ClockPlan, ClutchPlan, Cover, Deaths, DevicePlan, Event, Fault, GasState, Glitches,
    JarPlan, LawPlan, LinePlan, Lives, LoopPlan, Neighbour, NetworkPlan, OutletKind, OutletPlan, ProbePlan,
    PumpPlan, Role, RoomAirPlan, Routine, Scenario, ScenarioError, Shape, Shipped, TankPlan, UnknownPlace,
    Wifi, shipped,
};
pub use truth::{Known, Share, Truth};
use units::Span;
pub use watch::configuration;
pub use when::{HourOfDay, Lapse, Moment, WhenError};
pub use world::Energy;

/// Something that is asked of a running room.
#[derive(Debug, Clone, PartialEq)]
pub enum Wish {
    /// Let this go wrong.
    Inject(Fault),
    /// Put this right. The amounts of the fault do not matter; mending what is not broken does nothing.
    Mend(Fault),
    /// Let somebody do this.
    Do(Act),
    /// Let every device measure this often, from its last reading on; not faster than every 100 ms.
    Rhythm(Span),
}
