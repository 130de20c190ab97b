//! Who hangs on an alarm.

use super::Room;
use alarms::{Alarm, Condition, Context};
use ledger::Clutch;
use units::{ProbeKey, Span, Time, VesselId};

impl Room {
    /// The clutch that has the least time when something is wrong at a vessel: in it, or in what hangs in it.
    pub(super) fn most_urgent(&self, vessel: &VesselId, now: Time) -> Option<&Clutch> {
        self.clutches_sharing(vessel).min_by_key(|c| (self.time_left(c, now), c.id.clone()))
    }

    /// Clutches in a vessel or in what hangs in it.
    pub(super) fn clutches_sharing(&self, vessel: &VesselId) -> impl Iterator<Item = &Clutch> + use<'_> {
        self.setup.sharing(vessel).into_iter().flat_map(|v| self.account.in_vessel(v))
    }

    fn time_left(&self, clutch: &Clutch, now: Time) -> Span {
        alarms::act_within(self.stage_of(clutch, now), self.water_now(clutch))
    }

    /// Temperature of a clutch's water now, °C, if it is heard.
    fn water_now(&self, clutch: &Clutch) -> Option<f64> {
        self.celsius(self.setup.water_of(clutch.place_now()?))
    }

    /// The planning time that belongs to an alarm, if one does: only moving air has one.
    pub(super) fn act_within(&self, alarm: &Alarm, clutch: Option<&Clutch>, now: Time) -> Option<Span> {
        (alarm.key.condition == Condition::AirStopped)
            .then(|| clutch.map(|c| self.time_left(c, now)))
            .flatten()
    }

    pub(super) fn context(&self, alarm: &Alarm, clutch: Option<&Clutch>, now: Time) -> Context {
        Context {
            clutch: clutch.map(|c| c.id.clone()),
            fish: clutch.map(|c| c.fish.clone()).unwrap_or_default(),
            stage: clutch.map(|c| self.stage_of(c, now)),
            count: clutch.and_then(|c| c.alive).unwrap_or(0),
            celsius: clutch.and_then(|c| self.water_now(c)),
            leaving: alarm
                .key
                .vessel
                .as_ref()
                .filter(|_| alarm.key.condition == Condition::LeavingBand)
                .and_then(|v| self.leaving_words(v)),
            trouble: self.troubles.get(&alarm.key.condition).cloned().unwrap_or_default(),
            gone: self.gone_device(alarm),
        }
    }

    /// The device of a silent probe, if it has said that it is gone.
    fn gone_device(&self, alarm: &Alarm) -> Option<String> {
        let (vessel, quantity) = alarm.key.vessel.clone().zip(alarm.key.quantity)?;
        self.gone(&ProbeKey::new(vessel, quantity)).map(str::to_owned)
    }

    /// Since when a tumbler's air alarm stands.
    pub(super) fn air_stopped_since(&self, vessel: &VesselId) -> Option<Time> {
        self.panel
            .standing()
            .find(|a| a.key.condition == Condition::AirStopped && a.key.vessel.as_ref() == Some(vessel))
            .and_then(|a| a.since)
    }
}
