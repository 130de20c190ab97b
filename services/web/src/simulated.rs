//! A simulated room: what people may break in it, and how fast its time runs. A real service has none.

use crate::keeper::{Answer, Trouble};
use serde::Serialize;
use std::sync::Arc;
use tokio::sync::watch;
use units::Time;
use utoipa::ToSchema;

/// A simulated room as the page shows it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Simulated {
    /// How many times as fast as real time its clock runs.
    pub pace: f64,
    /// What can be broken, in the order of the page.
    pub things: Vec<Thing>,
}

/// Something that can be broken, and mended again.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Thing {
    /// Identifies it in addresses: `air-tu2`.
    pub key: String,
    /// Whether it is broken.
    pub broken: bool,
    /// Since when, by the room's clock.
    pub since: Option<Time>,
    /// Words of the button that breaks it: "Stop the air of TU2".
    pub breaks: String,
    /// Words of the button that mends it.
    pub mends: String,
    /// What breaking it does and what will then be seen, in whole sentences.
    pub what: String,
}

/// A room that people may break and hurry.
pub trait SimulatedRoom: Send + Sync + 'static {
    /// What is broken and how fast time runs, replaced with each change.
    fn shown(&self) -> watch::Receiver<Arc<Simulated>>;
    /// Breaks or mends a thing. To break what is broken, or mend what is whole, changes nothing.
    fn break_thing(&self, key: String, broken: bool) -> Answer<()>;
    /// Lets the room's clock run so many times as fast as real time.
    fn pace(&self, pace: f64) -> Answer<()>;
}

/// What is said where the room is a real one.
pub(crate) fn not_simulated() -> Trouble {
    Trouble::NotFound(
        "the room behind this page is no simulated one: nothing in it can be broken or hurried from here. \
         `hatchwarden demo` starts one that is"
            .to_owned(),
    )
}
