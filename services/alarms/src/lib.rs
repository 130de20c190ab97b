//! Conditions with deadband and delays, the life cycle of ISA-18.2, and the words for somebody half asleep.
//!
//! Pure: time is an argument; [`Panel::next_due`] says when to call [`Panel::tick`] again.
//!
//! ```
//! use alarms::{AlarmKey, Condition, Panel, Settings, State};
//! use units::{Quantity, Span, Time, VesselId};
//!
//! let tu3 = VesselId::new("TU3").unwrap();
//! let key = AlarmKey::at(&tu3, Condition::AirStopped);
//! let start = Time::from_millis(0);
//! let mut panel = Panel::new();
//! panel.watch(key.clone(), Settings::air_stopped(0.15), start);
//!
//! assert!(panel.reading(&tu3, Quantity::AirFlow, start, 0.0, start).is_empty());
//! let raised = panel.tick(start + Span::seconds(20)); // the on-delay has run out
//! assert!(raised[0].announce && raised[0].since == start);
//! assert_eq!(panel.get(&key).unwrap().state, State::Unacknowledged);
//! ```
//!
//! While somebody works at the tumbler, its alarm is shelved: it is judged as ever, but calls nobody until the shelving
//! ends. Then an alarm whose condition stands is announced as a fresh one. Shelved, suppressed and out of service are
//! flags over the six main states ([`Flag`], [`Flagging`]), and belong into [`Alarm`], not into [`step`].
//!
//! ```
//! use alarms::{AlarmKey, Condition, Flag, Flagging, Panel, Settings, Shown, State};
//! # use units::{Quantity, Span, Time, VesselId};
//! # let tu3 = VesselId::new("TU3").unwrap();
//! # let key = AlarmKey::at(&tu3, Condition::AirStopped);
//! # let start = Time::from_millis(0);
//! # let mut panel = Panel::new();
//! # panel.watch(key.clone(), Settings::air_stopped(0.15), start);
//! let until = start + Span::minutes(20);
//! panel.flag(&key, Flag::Shelved, Flagging::new("keeper", "cleaning the stone", start).until(until)).unwrap();
//! panel.reading(&tu3, Quantity::AirFlow, start, 0.0, start);
//! assert!(panel.tick(start + Span::seconds(20)).iter().all(|moved| !moved.announce));
//! assert_eq!(panel.get(&key).unwrap().shown(), Shown::Under(Flag::Shelved));
//!
//! assert_eq!(panel.next_due(), Some(until)); // the hose was forgotten
//! let back = panel.tick(until);
//! assert!(back[0].announce && back[0].since == start);
//! assert_eq!(panel.get(&key).unwrap().shown(), Shown::As(State::Unacknowledged));
//! ```
//!
//! An alarm that stands and that nobody takes on calls again after [`Settings::again_after`].
//!
//! When the clock itself has jumped, [`Panel::shift`] takes every delay along.
//!
//! Not yet: figures about many alarms (rate, floods, chatter). They are read from a log of [`Transition`]s, not from here.

mod acts;
mod alarm;
mod cause;
mod condition;
mod detector;
mod error;
mod flags;
mod life;
pub mod monitors;
mod panel;
mod quiet;
mod settings;
mod shift;
pub mod statistics;
mod transition;
mod urgency;
mod words;

pub use alarm::Alarm;
pub use cause::{GRACE, TOGETHER};
pub use condition::{AlarmKey, Condition, Place, UnknownAlarm};
pub use error::AlarmError;
pub use flags::{Flag, Flagging, Flags, Shown};
pub use life::{Rules, State, Trigger, step};
pub use panel::{GONE, Panel};
pub use settings::{Settings, Side};
pub use transition::{Cause, Transition};
pub use urgency::{Deadlines, priority};
pub use words::{Context, first_step, quiet, sentence, subject};
