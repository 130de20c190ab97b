//! From a number as sent to a number in our unit that a working probe can have sent.

use crate::number::Amount;
use crate::{Reason, plausible};
use units::{Band, Quantity, Unit};

/// How the numbers of one probe become ours.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Convert {
    pub(crate) quantity: Quantity,
    /// The unit that the map names.
    pub(crate) unit: Option<Unit>,
    pub(crate) scale: f64,
    pub(crate) zero_band: f64,
    pub(crate) hard_band: Band,
}

impl Convert {
    /// A quantity in its own unit, nothing else said.
    pub(crate) fn ours(quantity: Quantity) -> Self {
        Self { quantity, unit: None, scale: 1.0, zero_band: 0.0, hard_band: quantity.hard_band() }
    }

    /// The unit is the one in a field of its own (`stated`), else the one behind the number, else the map's, else ours.
    /// Two that contradict each other are refused: one of them is wrong, and which one is not ours to guess.
    pub(crate) fn apply(&self, amount: Amount, stated: Option<Unit>) -> Result<f64, Reason> {
        let ours = self.quantity.unit();
        let unit = match (amount.unit, stated.or(self.unit)) {
            (Some(a), Some(b)) if a != b => return Err(Reason::UnknownUnit),
            (a, b) => a.or(b).unwrap_or(ours),
        };
        // Counts are divided by their window before they come here, which makes a rate of them.
        let unit = if unit == Unit::Count { Unit::Hertz } else { unit };
        if unit.base() != ours {
            return Err(Reason::UnknownUnit);
        }
        let value = unit.to_base(amount.value * self.scale);
        let value = if value.abs() <= self.zero_band { 0.0 } else { value };
        plausible::check(self.quantity, self.hard_band, value)
    }
}
