//! What holds for the readings of one probe, where its map entry says so.

use crate::Outliers;
use units::{Band, Quantity, Span};

/// Furthest that water may move within [`WITHIN`], in kelvin.
const MAX_STEP: f64 = 2.0;
/// After a longer gap a step is no jump.
const WITHIN: Span = Span::seconds(30);

/// What is believed of one probe.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// Values that a working probe can send, in our unit.
    pub hard_band: Band,
    /// Furthest step believed at once, in our unit, and the time within which it counts; `None` believes any.
    pub max_step: Option<(f64, Span)>,
    /// Refuses single outliers.
    pub outliers: Option<Outliers>,
    /// Time between two readings, where it is set.
    pub every: Option<Span>,
}

impl Rules {
    /// What holds where the map says nothing.
    ///
    /// ```
    /// use readings::Rules;
    /// assert_eq!(Rules::of(units::Quantity::AirFlow).max_step, None);
    /// ```
    pub fn of(quantity: Quantity) -> Self {
        let max_step = (quantity == Quantity::Temperature).then_some((MAX_STEP, WITHIN));
        Self { hard_band: quantity.hard_band(), max_step, outliers: None, every: None }
    }
}
