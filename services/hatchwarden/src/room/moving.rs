//! Whether eggs move: what flow, bubbles and switch of a vessel say together. The one that says least is believed, for a
//! hose that is off behind the flow probe shows only in the bubbles.

use super::Room;
use crate::config::Vessel;
use store::ReadingRow;
use units::{ProbeKey, Quantity, VesselId};

/// What can say that eggs move.
const WITNESSES: [Quantity; 4] =
    [Quantity::AirFlow, Quantity::WaterFlow, Quantity::BubbleRate, Quantity::AirSwitch];

/// Whether a quantity says that eggs move.
pub(crate) fn is_witness(quantity: Quantity) -> bool {
    WITNESSES.contains(&quantity)
}

impl Vessel {
    /// A value of a witness as a flow, to be held against `still_at`: bubbles and switches only say whether there is one.
    pub(crate) fn as_flow(&self, quantity: Quantity, value: f64) -> f64 {
        let moves = match quantity {
            Quantity::BubbleRate => value > self.still_bubbles,
            Quantity::AirSwitch => value >= 0.5,
            _ => return value,
        };
        if moves { self.still_at + 1.0 } else { 0.0 }
    }

    /// Whether eggs lie still by this value of a witness.
    pub(crate) fn lies_still(&self, quantity: Quantity, value: f64) -> bool {
        self.as_flow(quantity, value) <= self.still_at
    }
}

impl Room {
    /// What alarms judge of a reading: of a witness, the least that it and the others of its vessel say; else its value, corrected.
    pub(super) fn judged(&self, row: &ReadingRow) -> f64 {
        let (own, probe) = (self.corrected(row), &row.probe);
        let Some(vessel) = self.setup.vessel(&probe.vessel).filter(|_| is_witness(probe.quantity)) else {
            return own;
        };
        let others = self.witnesses(&probe.vessel).filter(|r| r.probe.quantity != probe.quantity);
        let others = others.map(|r| vessel.as_flow(r.probe.quantity, self.corrected(r)));
        others.fold(vessel.as_flow(probe.quantity, own), f64::min)
    }

    /// The witness that says least, and whether eggs lie still by it; `None` while none is heard.
    pub(super) fn witness(&self, id: &VesselId) -> Option<(&ReadingRow, bool)> {
        let vessel = self.setup.vessel(id)?;
        let flow = |r: &ReadingRow| vessel.as_flow(r.probe.quantity, self.corrected(r));
        let least = self.witnesses(id).min_by(|a, b| flow(a).total_cmp(&flow(b)))?;
        Some((least, flow(least) <= vessel.still_at))
    }

    /// Whether a vessel has such a probe at all, heard or not.
    pub(super) fn has_witness(&self, vessel: &VesselId) -> bool {
        WITNESSES.iter().any(|q| self.last.contains_key(&ProbeKey::new(vessel.clone(), *q)))
    }

    /// The newest of each that is heard.
    fn witnesses(&self, vessel: &VesselId) -> impl Iterator<Item = &ReadingRow> {
        WITNESSES
            .into_iter()
            .filter_map(move |q| self.last.get(&ProbeKey::new(vessel.clone(), q)))
            .filter(|r| self.newest_fresh.contains_key(&r.probe) && !self.is_silent(&r.probe))
    }

    /// What a witness other than an air flow says of still eggs, as a sentence.
    pub(super) fn witness_words(&self, vessel: &VesselId) -> Option<String> {
        let (row, _) = self.witness(vessel).filter(|(_, still)| *still)?;
        match row.probe.quantity {
            Quantity::WaterFlow => Some(format!("Water flow {:.2} L/min.", row.value)),
            Quantity::BubbleRate => Some(format!("{:.1} bubbles a second.", row.value)),
            Quantity::AirSwitch => Some("Its air switch says that there is none.".to_owned()),
            _ => None,
        }
    }
}
