//! Readings go in, numbers come out for the alarms that stand on them.

use super::*;
use readings::Refusal;

impl Room {
    /// Takes in a fresh reading and judges what has come to its moment.
    pub(in crate::room) fn note_monitors(&mut self, row: &ReadingRow, now: Time, out: &mut Outcome) {
        if !row.fresh {
            return self.monitors_take(row);
        }
        for (key, number) in self.monitor(row) {
            // By arrival: one alarm can stand on several probes, whose clocks differ.
            let moved = self.panel.derived(key, row.received, number, now);
            self.note_transitions(&moved, now, out);
        }
    }

    /// Takes a reading in and judges nothing.
    pub(in crate::room) fn monitors_take(&mut self, row: &ReadingRow) {
        _ = self.monitor(row);
    }

    /// The numbers that a reading is the moment for.
    fn monitor(&mut self, row: &ReadingRow) -> Vec<(AlarmKey, f64)> {
        let (vessel, quantity) = (&row.probe.vessel, row.probe.quantity);
        if row.probe.mark.is_some() {
            return self.beside(row);
        }
        let mut found = match quantity {
            Quantity::Temperature => self.water(row),
            Quantity::AirFlow | Quantity::WaterFlow => self.flow(row),
            Quantity::LinePressure | Quantity::Power => self.line(row),
            Quantity::Conductivity => self.conductivity(row),
            Quantity::DissolvedOxygen => vec![(AlarmKey::at(vessel, Condition::OxygenLow), row.value)],
            Quantity::Ammonia => self.ammonia(vessel).into_iter().collect(),
            Quantity::Ph => self.acidity(row).into_iter().chain(self.ammonia(vessel)).collect(),
            _ => Vec::new(),
        };
        found.extend(self.repeats(row));
        found
    }

    fn water(&mut self, row: &ReadingRow) -> Vec<(AlarmKey, f64)> {
        let (vessel, mut found) = (&row.probe.vessel, Vec::new());
        let fast = self.monitors.fast.entry(vessel.clone()).or_default();
        if fast.note(row.time, row.value) {
            let number = fast.judge().map_or(0.0, |change| change.number());
            found.push((AlarmKey::at(vessel, Condition::ChangingFast), number));
        }
        if self.monitors.limit.is_none() {
            self.monitors.limit = drift_limit(self.setup.vessels.len());
        }
        let fresh = self.monitors.limit.map(Drift::new);
        if let std::collections::btree_map::Entry::Vacant(place) = self.monitors.drift.entry(vessel.clone())
            && let Some(fresh) = fresh
        {
            place.insert(fresh);
        }
        if let Some(drift) = self.monitors.drift.get_mut(vessel)
            && drift.note(row.time, row.value)
        {
            let number = drift.judge().map_or(0.0, |drifted| drifted.number());
            found.push((AlarmKey::at(vessel, Condition::Drifting), number));
        }
        let value = self.corrected(row);
        if let Some((_, apart)) = self.monitors.apart.get_mut(vessel) {
            apart.note_first(row.time, value);
        }
        found
    }

    fn flow(&mut self, row: &ReadingRow) -> Vec<(AlarmKey, f64)> {
        let (vessel, mut found) = (&row.probe.vessel, Vec::new());
        let line = self.setup.vessel(vessel).map(|v| v.air_line.clone()).unwrap_or_default();
        self.monitors.lines.entry(line.clone()).or_default().note_flow(vessel, row.time, row.value);
        let weak = self.monitors.weak.entry(vessel.clone()).or_default();
        if weak.note(row.time, row.value) {
            let judged = weak.judge();
            if let Some(step) = judged.and_then(|w| w.stepped) {
                // To the line a valve that was turned is a stone that clogs.
                self.monitors.lines.entry(line).or_default().rearrange(step.at);
            }
            let still = self.is_still(vessel);
            let number = judged.filter(|_| !still).map_or(0.0, |w| w.number());
            found.push((AlarmKey::at(vessel, Condition::AirWeak), number));
            found.push((AlarmKey::at(vessel, Condition::AirStrong), self.rise(vessel, judged.as_ref())));
        }
        found
    }

    /// How far the air of a tumbler flows over its usual; nought where that has its cause elsewhere on the line.
    fn rise(&self, vessel: &VesselId, judged: Option<&Weak>) -> f64 {
        let weak = self.monitors.weak.get(vessel).zip(judged);
        let own = weak.and_then(|(weak, judged)| weak.rise(judged)).filter(|rise| rise.number() >= 1.0);
        let Some(own) = own else { return 0.0 };
        let rise_of = |id: &VesselId| {
            let weak = self.monitors.weak.get(id)?;
            weak.rise(&weak.judge()?)
        };
        let line = self.setup.vessel(vessel).map(|v| &v.air_line);
        let beside = self.setup.vessels.iter().filter(|v| Some(&v.air_line) == line && v.id != *vessel);
        let others: Vec<Rise> = beside.filter_map(|v| rise_of(&v.id)).collect();
        if own.is_explained_by(&others) { 0.0 } else { own.number() }
    }

    fn line(&mut self, row: &ReadingRow) -> Vec<(AlarmKey, f64)> {
        let Some(name) = self.setup.vessel(&row.probe.vessel).map(|v| v.air_line.clone()) else {
            return Vec::new();
        };
        let still = self.setup.vessels.iter().filter(|v| v.air_line == name).any(|v| self.is_still(&v.id));
        let line = self.monitors.lines.entry(name.clone()).or_default();
        if row.probe.quantity == Quantity::Power {
            line.note_power(row.time, row.value);
        } else {
            line.note_pressure(row.time, row.value);
        }
        // While air stands still that is the alarm, and what the line shows is told with it.
        let number = if still { 0.0 } else { line.judge(row.time).number() };
        vec![(AlarmKey::of(Place::Line(name), Condition::LineFault), number)]
    }

    fn conductivity(&mut self, row: &ReadingRow) -> Vec<(AlarmKey, f64)> {
        let usual = self.monitors.usual.entry(row.probe.vessel.clone()).or_default();
        if !usual.note(row.time, row.value) {
            return Vec::new();
        }
        let number = usual.judge().map_or(0.0, |moved| moved.number());
        vec![(AlarmKey::at(&row.probe.vessel, Condition::ConductivityChanged), number)]
    }

    /// Un-ionised ammonia, mg/L as nitrogen, by the last test, if that is not too old.
    fn ammonia(&self, vessel: &VesselId) -> Option<(AlarmKey, f64)> {
        Some((AlarmKey::at(vessel, Condition::AmmoniaHigh), self.ammonia_in(vessel)?.un_ionised))
    }

    fn acidity(&self, row: &ReadingRow) -> Option<(AlarmKey, f64)> {
        let band = self.setup.vessel(&row.probe.vessel)?.ph_band?;
        let outside = (band.low - row.value).max(row.value - band.high);
        Some((AlarmKey::at(&row.probe.vessel, Condition::Acidity), outside))
    }

    fn repeats(&mut self, row: &ReadingRow) -> Option<(AlarmKey, f64)> {
        if !matches!(row.probe.quantity, Quantity::Temperature | Quantity::AirFlow | Quantity::WaterFlow) {
            return None;
        }
        if let Some(refused) = self.monitors.refused.get_mut(&row.probe) {
            refused.note(row.received, false);
        }
        let stuck =
            self.monitors.stuck.entry(row.probe.clone()).or_insert_with(|| stuck_of(row.probe.quantity));
        stuck.note(row.time, row.value).then(|| self.doubt_of(&row.probe, row.received))
    }

    /// A second thermometer in the same water.
    fn beside(&mut self, row: &ReadingRow) -> Vec<(AlarmKey, f64)> {
        let Some((vessel, mark)) = self.setup.vessel(&row.probe.vessel).zip(row.probe.mark.as_ref()) else {
            return Vec::new();
        };
        if row.probe.quantity != Quantity::Temperature {
            return Vec::new();
        }
        let (id, accuracy, value) = (vessel.id.clone(), vessel.probe_accuracy, self.corrected(row));
        let sister = self.monitors.stuck.entry(row.probe.clone()).or_insert_with(Stuck::of_water);
        sister.note(row.time, row.value);
        if let std::collections::btree_map::Entry::Vacant(place) = self.monitors.apart.entry(id.clone())
            && let Some(new) = Disagree::new(accuracy, accuracy)
        {
            place.insert((mark.clone(), new));
        }
        let own = ProbeKey::new(id.clone(), Quantity::Temperature);
        match self.monitors.apart.get_mut(&id) {
            Some((known, apart)) if known == mark => {
                let moment = apart.note_second(row.time, value);
                if moment { vec![self.doubt_of(&own, row.received)] } else { Vec::new() }
            }
            _ => Vec::new(),
        }
    }

    /// A message about a probe was refused.
    pub(in crate::room) fn note_refused(&mut self, refusal: &Refusal, now: Time, out: &mut Outcome) {
        let known = refusal
            .place
            .parse()
            .ok()
            .filter(|p: &ProbeKey| p.mark.is_none() && self.newest_fresh.contains_key(p));
        if let Some(probe) = known {
            self.monitors.refused.entry(probe.clone()).or_default().note(refusal.at, true);
            let (key, number) = self.doubt_of(&probe, refusal.at);
            let moved = self.panel.derived(key, refusal.at, number, now);
            self.note_transitions(&moved, now, out);
        }
    }

    /// The most that speaks against a probe; 1 is too much.
    fn doubt_of(&self, probe: &ProbeKey, at: Time) -> (AlarmKey, f64) {
        let m = &self.monitors;
        let own = m.stuck.get(probe);
        let key = AlarmKey::probe(&probe.vessel, Condition::Implausible, probe.quantity);
        let before = self.panel.get(&key).filter(|a| a.state.standing()).map(|_| 1.0);
        let alone = match own {
            Some(stuck) if stuck.is_brief() => None,
            Some(stuck) if stuck.has_forgotten() => before,
            _ => own.and_then(Stuck::judge).map(|r| r.number()),
        };
        let sister = m.apart.get(&probe.vessel).filter(|_| probe.quantity == Quantity::Temperature);
        let beside = sister
            .and_then(|(mark, _)| {
                m.stuck.iter().find(|(p, _)| p.mark.as_ref() == Some(mark) && p.vessel == probe.vessel)
            })
            .and_then(|(_, sister)| own?.beside(sister))
            .map(|b| b.number());
        let apart = sister.and_then(|(_, d)| d.judge()).map(|a| a.number() / a.allowed);
        let refused = m.refused.get(probe).map(|r| r.share(at).number() / REFUSED);
        let most = [alone, beside, apart, refused].into_iter().flatten().fold(0.0, f64::max);
        (key, most)
    }

    pub(super) fn is_still(&self, vessel: &VesselId) -> bool {
        let key = AlarmKey::at(vessel, Condition::AirStopped);
        self.panel.get(&key).is_some_and(|alarm| alarm.state.standing())
    }
}

fn stuck_of(quantity: Quantity) -> Stuck {
    if quantity == Quantity::Temperature { Stuck::of_water() } else { Stuck::of_air() }
}

/// The limit for so many vessels, so that together they bring one false page in the wanted nights.
fn drift_limit(vessels: usize) -> Option<DriftLimit> {
    let many = f64::from(u32::try_from(vessels.clamp(1, 100)).unwrap_or(1));
    let usual = || DriftLimit::nights(DriftLimit::NIGHTS);
    DriftLimit::nights(DriftLimit::NIGHTS * many).or_else(usual)
}
