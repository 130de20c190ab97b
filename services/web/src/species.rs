//! What the page shows of species entries.

use crate::view::{Figure, LearntView};
use serde::Serialize;
use units::{Stage, Time};
use utoipa::ToSchema;

/// Where an entry comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum EntryFrom {
    /// It was written on the page.
    Page {
        /// By whom.
        by: String,
        /// When.
        at: Time,
        /// Its text, TOML.
        text: String,
    },
    /// It stands in the file that the configuration names.
    File,
    /// It comes with the program.
    Shipped,
}

/// One species entry.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SpeciesView {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Whether it broods its young in the mouth.
    pub mouthbrooder: bool,
    /// Where it comes from.
    pub from: EntryFrom,
    /// Degree-days (°C·d) from fertilisation over the base temperature, for each stage that it knows.
    pub stages: Vec<(Stage, f64)>,
    /// The base temperature, °C.
    pub base: f64,
    /// What clutches of this room have taught of it.
    pub learnt: Vec<LearntView>,
    /// Every figure with its source.
    pub figures: Vec<Figure>,
}
