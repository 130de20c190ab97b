//! The account of every clutch: a list of events, and what they add up to.
//!
//! Nothing is ever deleted: a correction is an event. Every fish that comes or goes stands on a line of its own, so that
//! the counts balance.
//!
//! ```
//! use ledger::{Account, Entry, Event};
//! use units::{Day0, Time};
//!
//! let at = |hour: i64| Time::from_millis(hour * 3_600_000);
//! let clutch = || "C06".parse().unwrap();
//! let mut account = Account::new();
//! let mut enter = |id, event| account.apply(Entry { id, recorded: at(100), by: "keeper".to_owned(), event });
//!
//! enter(1, Event::ClutchOpened {
//!     clutch: clutch(),
//!     fish: "Pseudocrenilabrus philander".to_owned(),
//!     species: "generic-mouthbrooder".to_owned(),
//!     mother: None,
//!     day0: Day0::seen(at(0)),
//!     vessel: "V1".parse().unwrap(),
//! }).unwrap();
//! enter(2, Event::Taken { clutch: clutch(), at: at(96), vessel: "TU1".parse().unwrap(), alive: 33, dead: 0 }).unwrap();
//! let refused = enter(3, Event::Lost { clutch: clutch(), at: at(97), count: 40, reason: "white".to_owned() });
//! assert_eq!(refused.unwrap_err().to_string(),
//!            "count: 40 cannot be lost of 33 that are alive; write at most 33, or count again");
//! ```

mod account;
mod clutch;
mod error;
mod event;
mod sightings;

pub use account::Account;
pub use clutch::{Clutch, Line};
pub use error::LedgerError;
pub use event::{Entry, Event};
