//! Whether eggs move: what flow, bubbles and switch of a vessel say together. The one that says least is believed, for a
//! hose that is off behind the flow probe shows only in the bubbles.

use super::Room;
use crate::config::Vessel;
use alarms::{AlarmKey, Condition, State};
use store::ReadingRow;
use units::{ProbeKey, Quantity, Time, VesselId};

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
    /// What alarms judge of a reading, and the time that they judge it by. Of a witness: the least that it and the others of its
    /// vessel say; where there are others it goes by arrival, for the clocks of their devices differ.
    pub(super) fn judged(&self, row: &ReadingRow) -> (Time, f64) {
        let (own, probe) = (self.corrected(row), &row.probe);
        let Some(vessel) = self.setup.vessel(&probe.vessel).filter(|_| is_witness(probe.quantity)) else {
            return (row.time, own);
        };
        let other = |r: &&ReadingRow| r.probe.quantity != probe.quantity;
        let least = self
            .believed(&probe.vessel)
            .filter(other)
            .map(|r| vessel.as_flow(r.probe.quantity, self.corrected(r)))
            .fold(vessel.as_flow(probe.quantity, own), f64::min);
        let alone = !self.ever_heard(&probe.vessel).any(|r| other(&r));
        (if alone { row.time } else { row.received }, least)
    }

    /// Tells the alarms the newest reading that they know from before a restart, or before its offset changed.
    pub(super) fn recall_row(&mut self, row: &ReadingRow, latest: Time) {
        let probe = &row.probe;
        if is_witness(probe.quantity) && self.newest_witness(&probe.vessel) != Some(probe) {
            return; // of several witnesses the newest speaks for all
        }
        let (t, value) = self.judged(row);
        self.panel.recall(&probe.vessel, probe.quantity, t.min(latest), value);
    }

    /// The witness that spoke last; one that is silent only where all of them are.
    fn newest_witness(&self, vessel: &VesselId) -> Option<&ProbeKey> {
        let newest = self.ever_heard(vessel).max_by_key(|r| (!self.is_silent(&r.probe), r.received))?;
        Some(&newest.probe)
    }

    /// The witness that says least, and whether eggs lie still by it; `None` while none is believed.
    pub(super) fn witness(&self, id: &VesselId) -> Option<(&ReadingRow, bool)> {
        let vessel = self.setup.vessel(id)?;
        let flow = |r: &ReadingRow| vessel.as_flow(r.probe.quantity, self.corrected(r));
        let least = self.believed(id).min_by(|a, b| flow(a).total_cmp(&flow(b)))?;
        Some((least, flow(least) <= vessel.still_at))
    }

    /// Whether a vessel has such a probe at all, heard or not.
    pub(super) fn has_witness(&self, vessel: &VesselId) -> bool {
        WITNESSES.iter().any(|q| self.last.contains_key(&ProbeKey::new(vessel.clone(), *q)))
    }

    /// The newest of each that has ever been heard.
    fn ever_heard(&self, vessel: &VesselId) -> impl Iterator<Item = &ReadingRow> {
        WITNESSES
            .into_iter()
            .filter_map(move |q| self.last.get(&ProbeKey::new(vessel.clone(), q)))
            .filter(|r| self.newest_fresh.contains_key(&r.probe))
    }

    /// Those that are heard; and while nobody has taken it on that eggs lie still, whoever said so and fell silent since: silence
    /// is not health.
    fn believed(&self, vessel: &VesselId) -> impl Iterator<Item = &ReadingRow> {
        let stopped = self.panel.get(&AlarmKey::at(vessel, Condition::AirStopped));
        let since = stopped.filter(|a| a.state == State::Unacknowledged).and_then(|a| a.since);
        let setup = self.setup.vessel(vessel);
        let said_so = move |r: &ReadingRow| {
            let still = setup.is_some_and(|v| v.lies_still(r.probe.quantity, r.value));
            still && since.is_some_and(|since| r.received >= since)
        };
        self.ever_heard(vessel).filter(move |r| !self.is_silent(&r.probe) || said_so(r))
    }

    /// What was measured of still eggs, as a sentence; empty if it says nothing of them just now.
    pub(super) fn witness_words(&self, vessel: &VesselId) -> Option<String> {
        let (row, still) = self.witness(vessel)?;
        Some(match row.probe.quantity {
            Quantity::AirFlow => format!("Air flow {:.2} L/min.", row.value),
            Quantity::WaterFlow => format!("Water flow {:.2} L/min.", row.value),
            Quantity::BubbleRate if still => format!("{:.1} bubbles a second.", row.value),
            Quantity::AirSwitch if still => "Its air switch says that there is none.".to_owned(),
            _ => String::new(),
        })
    }
}
