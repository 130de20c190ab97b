//! What is delivered, where it waits, and by which ways it leaves.

use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Notify;

/// An answer to come.
pub type Step<T> = Pin<Box<dyn Future<Output = T> + Send>>;

/// A message to be delivered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item {
    /// Stays the same over all tries, so that a receiver can tell a repeat.
    pub id: String,
    /// Name of the way it is to leave by.
    pub way: String,
    /// JSON.
    pub body: String,
    /// How often it has been tried.
    pub tries: u32,
}

/// Where items wait. What is written there outlives a crash.
pub trait Outbox: Send + Sync {
    /// Items whose time has come, the oldest first.
    fn due(&self, limit: usize) -> Step<Vec<Item>>;
    /// The item has arrived.
    fn delivered(&self, id: String) -> Step<()>;
    /// The item has not arrived; it is tried again in that time, or given up.
    fn failed(&self, id: String, error: String, tries: u32, next_in: Option<Duration>) -> Step<()>;
    /// Told by [`Notify::notify_one`] when an item was put in.
    fn changed(&self) -> Arc<Notify>;
}

/// Why an item has not arrived.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Failure {
    /// It may arrive later.
    Later {
        /// Why not now.
        reason: String,
        /// How long the receiver asks to be left alone.
        after: Option<Duration>,
    },
    /// It never will.
    Never(String),
}

/// A way out.
pub trait Way: Send + Sync {
    /// Its name, as items give it.
    fn name(&self) -> &str;
    /// Tries to deliver. `unix_seconds` is the time for signatures.
    fn deliver(&self, item: &Item, unix_seconds: i64) -> Step<Result<(), Failure>>;
}
