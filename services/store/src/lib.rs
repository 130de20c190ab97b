//! The store: one SQLite file that keeps what a room has measured, decided and still has to say.
//!
//! One thread writes; it takes everything that has arrived since its last commit into one transaction, so that a
//! commit costs one flush of the disk however many callers wait for it. [`Store::commit`] returns when the rows are
//! on disk, and gives the batch back when they are not. Readers have read-only connections of their own, see only
//! what is committed, and never wait for the writer.
//!
//! No clock is read here: every time comes from the caller. `DESIGN.md` beside this crate tells file, tables and
//! settings and why.
//!
//! ```
//! # tokio_test::block_on(async {
//! use store::{Batch, Options, ReadingRow, Store};
//! use units::Time;
//!
//! let folder = tempfile::tempdir().unwrap();
//! let store = Store::open(&folder.path().join("room.db"), Options::default()).unwrap();
//! let time = Time::from_millis(1_931_221_060_000);
//! let reading = ReadingRow {
//!     probe: "V1/temperature".parse().unwrap(),
//!     time,
//!     value: 26.4,
//!     received: time,
//!     sequence: None,
//!     fresh: true,
//!     flags: 0,
//! };
//! let batch = Batch { readings: vec![reading.clone(), reading.clone()], ..Batch::default() };
//! let done = store.commit(batch).await.unwrap();
//! assert_eq!((done.new_readings, done.repeats), (1, 1));
//! assert_eq!(store.reader().unwrap().last_readings().unwrap(), [reading]);
//! store.close();
//! # });
//! ```

pub mod access;
mod answers;
mod apply;
mod beside;
mod error;
mod filling;
mod fold;
mod open;

mod pool;
mod reader;

mod rows;
mod schema;
mod store;
mod table;
mod writer;

pub use answers::{ANSWERS_KEPT, AnswerRow};
pub use beside::Beside;
pub use error::{CommitError, CommitFailed, OpenError, ReadError};
pub use filling::{Filling, Placed};
pub use open::Options;
pub use reader::Reader;
pub use rows::{
    AlarmLogItem, AlarmRow, Batch, Committed, EntryRow, OutboxChange, OutboxFate, OutboxItem, OutboxRow,
    ProjectionRow, ReadingRow, RefusalCount, RefusalRow, RefusedBetween, ShiftRow,
};
pub use store::{ASIDE_ROWS, Store};
