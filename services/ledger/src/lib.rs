//! The account of every clutch: a list of events, and what they add up to.
//!
//! Nothing is ever deleted: a correction is an event. The account is a double entry: every fish leaves one [`Side`] and
//! comes to another on a [`Line`], so that what came always equals what became of it. A group of clutches is kept like a
//! clutch, with its members. What happened is taken in as it happened, whenever it was written down.
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
//! enter(2, Event::Taken { clutch: clutch(), at: at(96), vessel: "TU1".parse().unwrap(), alive: 33, dead: 0,
//!     how: ledger::Way::Stripped, stages: Vec::new(), about: None }).unwrap();
//! let refused = enter(3, Event::Lost { clutch: clutch(), at: at(97), count: 40, reason: "white".to_owned(), from: None });
//! assert_eq!(refused.unwrap_err().to_string(),
//!            "count: 40 cannot be lost of 33 that are alive; write at most 33, or count again");
//! ```

mod account;
mod book;
mod care;
mod check;
mod clutch;
mod enter;
mod error;
mod event;
mod group;
mod mother;
mod passage;
mod sightings;

pub use account::Account;
pub use book::{Book, Line, Side, Statement};
pub use care::{Carrier, Contact, Equipment};
pub use clutch::{Clutch, Left, Member};
pub use error::LedgerError;
pub use event::{
    Cleaning, Cull, Drill, Ending, Entry, Escape, Event, Feed, Find, Grading, HandOver, HoldBack, HoldEnd,
    Installation, Look, Measure, Merge, Note, Path, PathChoice, Quarantine, QuarantineEnd, Recount,
    Retirement, Roll, Separation, Share, Split, StageCount, Tested, Treatment, Use, WaterChange, WaterTest,
    Way,
};
pub use mother::{Hold, Mother};
pub use passage::{Passage, SortedOut};
