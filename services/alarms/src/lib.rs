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
//! Not yet: shelved, suppressed and out of service. They are flags over the six states and belong into [`Alarm`], not
//! into [`step`].

mod alarm;
mod condition;
mod detector;
mod life;
mod panel;
mod settings;
pub mod statistics;
mod urgency;
mod words;

pub use alarm::{Alarm, Transition};
pub use condition::{AlarmKey, Condition, UnknownAlarm};
pub use life::{Rules, State, Trigger, step};
pub use panel::{AlarmError, Panel};
pub use settings::{Settings, Side};
pub use urgency::{act_within, priority};
pub use words::{Context, first_step, sentence, subject};
