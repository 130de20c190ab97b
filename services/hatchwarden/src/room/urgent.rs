//! Who hangs on an alarm.

use super::Room;
use alarms::{Alarm, AlarmKey, Condition, Context, Place};
use ledger::Clutch;
use std::collections::BTreeSet;
use units::{ProbeKey, Span, Time, VesselId};

/// So many clutches are named beside the most urgent one; a message that lists thirty is read by nobody.
const MOST_NAMED: usize = 6;
/// So many parts of one cause are named.
const MOST_PARTS: usize = 8;

/// Whether an alarm of the room is about what lives there, and not about the watcher alone.
fn concerns_fish(alarm: &Alarm) -> bool {
    matches!(alarm.key.condition, Condition::PowerCut | Condition::Silent | Condition::BrokerLost)
}

/// How many of a clutch an alarm is about: those in its vessel, where some live there.
pub(super) fn count_at(alarm: &Alarm, clutch: &Clutch) -> Option<u32> {
    alarm.key.vessel().and_then(|v| clutch.count_in(v)).or(clutch.alive)
}

impl Room {
    /// Clutches in a vessel or in what hangs in it.
    pub(super) fn clutches_sharing(&self, vessel: &VesselId) -> impl Iterator<Item = &Clutch> + use<'_> {
        self.setup.sharing(vessel).into_iter().flat_map(|v| self.account.in_vessel(v))
    }

    pub(super) fn time_left(&self, clutch: &Clutch, now: Time) -> Span {
        let per_litre = clutch
            .place_now()
            .and_then(|v| self.setup.vessel(v)?.litres)
            .map(|litres| f64::from(clutch.alive.unwrap_or(0)) / litres);
        self.setup.deadlines.act_within(self.stage_of(clutch, now), self.water_now(clutch), per_litre)
    }

    /// Temperature of a clutch's water now, °C, if it is heard.
    fn water_now(&self, clutch: &Clutch) -> Option<f64> {
        self.celsius(self.setup.water_of(clutch.place_now()?))
    }

    /// Clutches that hang on an alarm, the one with the least time first: those at its vessel, on its line, by its device, or in
    /// the whole room.
    pub(super) fn hanging(&self, alarm: &Alarm, now: Time) -> Vec<&Clutch> {
        let vessels: Vec<&VesselId> = match &alarm.key.place {
            Place::Vessel(v) if alarm.key.condition != Condition::PowerCut => self.setup.sharing(v),
            Place::Line(_) => self.panel.under(&alarm.key).filter_map(|a| a.key.vessel()).collect(),
            Place::Device(name) => {
                let probes = self.newest_fresh.keys().filter(|p| self.device_of(p) == Some(name));
                probes.flat_map(|p| self.setup.sharing(&p.vessel)).collect()
            }
            _ if !concerns_fish(alarm) => Vec::new(),
            _ => self.setup.vessels.iter().map(|v| &v.id).collect(),
        };
        let vessels: BTreeSet<&VesselId> = vessels.into_iter().collect();
        let mut all: Vec<&Clutch> = vessels.into_iter().flat_map(|v| self.account.in_vessel(v)).collect();
        all.sort_by_key(|c| (self.time_left(c, now), c.id.clone()));
        all
    }

    /// The planning time that belongs to an alarm, if one does: only moving air has one.
    pub(super) fn act_within(&self, alarm: &Alarm, clutch: Option<&Clutch>, now: Time) -> Option<Span> {
        let air = matches!(alarm.key.condition, Condition::AirStopped | Condition::PowerCut);
        clutch.filter(|_| air).map(|c| self.time_left(c, now))
    }

    pub(super) fn context(&self, alarm: &Alarm, clutches: &[&Clutch], now: Time) -> Context {
        let clutch = clutches.first().copied();
        let of = |condition| (alarm.key.condition == condition).then(|| alarm.key.vessel()).flatten();
        Context {
            clutch: clutch.map(|c| c.id.clone()),
            at: clutch.and_then(|c| c.place_now().cloned()),
            fish: clutch.map(|c| c.fish.clone()).unwrap_or_default(),
            stage: clutch.map(|c| self.stage_of(c, now)),
            count: clutch.and_then(|c| count_at(alarm, c)).unwrap_or(0),
            celsius: clutch.and_then(|c| self.water_now(c)),
            within: self.act_within(alarm, clutch, now),
            leaving: of(Condition::LeavingBand).and_then(|v| self.leaving_words(v)),
            measured: of(Condition::AirStopped).and_then(|v| self.witness_words(v)),
            trouble: self.troubles.get(&alarm.key).cloned().or_else(|| self.found(alarm)).unwrap_or_default(),
            gone: self.gone_device(alarm),
            parts: self.parts(alarm),
            others: self.others(clutches, now),
        }
    }

    /// What hangs on an alarm beside the most urgent: some in full, of the rest the places.
    fn others(&self, clutches: &[&Clutch], now: Time) -> Vec<String> {
        let mut others: Vec<String> =
            clutches.iter().skip(1).take(MOST_NAMED).map(|c| self.named(c, now)).collect();
        let rest = clutches.iter().skip(1 + MOST_NAMED).filter_map(|c| c.place_now());
        let rest: Vec<&str> = rest.map(VesselId::as_str).collect();
        if !rest.is_empty() {
            others.push(rest.join(", "));
        }
        others
    }

    /// What an alarm stands for, by name.
    fn parts(&self, alarm: &Alarm) -> Vec<String> {
        if alarm.key.condition == Condition::PowerCut {
            return Vec::new();
        }
        let name = |a: &Alarm| match (a.key.vessel(), a.key.quantity) {
            (Some(vessel), Some(quantity)) => format!("{vessel} {}", quantity.word().replace('-', " ")),
            (Some(vessel), None) => vessel.to_string(),
            _ => a.key.to_string(),
        };
        let mut parts: Vec<String> = self.panel.under(&alarm.key).map(name).collect();
        if parts.len() > MOST_PARTS {
            let more = parts.len() - MOST_PARTS;
            parts.truncate(MOST_PARTS);
            parts.push(format!("{more} more"));
        }
        parts
    }

    /// A clutch with its place and its time: "TU4: C06, 30 eggs of Tropheus duboisi (2 h)".
    fn named(&self, clutch: &Clutch, now: Time) -> String {
        let place = clutch.place_now().map(|v| format!("{v}: ")).unwrap_or_default();
        let young = self.stage_of(clutch, now).young();
        let count = clutch.alive.filter(|n| *n > 0).map(|n| format!("{n} ")).unwrap_or_default();
        format!("{place}{}, {count}{young} of {} ({})", clutch.id, clutch.fish, self.time_left(clutch, now))
    }

    /// The device of a silent probe, if it has said that it is gone.
    fn gone_device(&self, alarm: &Alarm) -> Option<String> {
        if let Place::Device(name) = &alarm.key.place {
            return self.says_gone(name).then(|| name.clone());
        }
        let (vessel, quantity) = alarm.key.vessel().zip(alarm.key.quantity)?;
        self.gone(&ProbeKey::new(vessel.clone(), quantity)).map(str::to_owned)
    }

    /// Since when a tumbler's air alarm stands.
    pub(super) fn air_stopped_since(&self, vessel: &VesselId) -> Option<Time> {
        self.panel
            .get(&AlarmKey::at(vessel, Condition::AirStopped))
            .filter(|a| a.state.standing())
            .and_then(|a| a.since)
    }
}
