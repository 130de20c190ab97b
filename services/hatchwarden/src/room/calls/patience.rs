//! How long people may sleep on what stands already: a device that is out of reach for some minutes is no reason to get up.

use super::*;
use alarms::{Alarm, Place};

/// How long for the silence of what watches no moving air, or none on which a clutch hangs: water turns within hours. A planning
/// value.
const NO_AIR: Span = Span::hours(1);

impl Room {
    /// From when on people are called for an alarm that has been raised. Silence waits four fifths of the time that the young
    /// have without moving air, from the last that was heard, as long as other devices have been heard since: then there is
    /// power, and mostly it is the Wi-Fi. A planning value. Nothing else waits.
    pub(super) fn called_from(&self, raised: &Transition) -> Time {
        let silent = self.panel.get(&raised.key).filter(|_| raised.key.condition == Condition::Silent);
        let Some(alarm) = silent.filter(|alarm| self.hears_beside(alarm, raised.at)) else {
            return raised.at;
        };
        // It has stood beneath another alarm, and people believe by now that this is over.
        let since = alarm.since.unwrap_or(raised.at);
        if raised.at - since > self.silence_due(alarm) + Span::minutes(1) {
            return raised.at;
        }
        let air = self.silent_probes(alarm).iter().any(|p| is_witness(p.quantity));
        let clutches = self.hanging(alarm, raised.at);
        let least = clutches.first().filter(|_| air).map(|clutch| self.time_left(clutch, raised.at));
        let patience = least.map_or(NO_AIR, |left| Span::from_millis(left.millis() / 5 * 4));
        raised.at.max(since + patience)
    }

    /// Calls now for silences beside which nothing is heard any more.
    pub(super) fn end_patience(&mut self, now: Time) {
        let is_over = |key: &AlarmKey| {
            let silent = self.panel.get(key).filter(|_| key.condition == Condition::Silent);
            silent.is_some_and(|alarm| !self.hears_beside(alarm, now))
        };
        let waiting = self.calls.told.iter().filter(|(_, told)| told.called > now);
        let over: Vec<String> = waiting
            .filter(|(name, _)| name.parse().is_ok_and(|key| is_over(&key)))
            .map(|(name, _)| name.clone())
            .collect();
        for name in over {
            if let Some(told) = self.calls.told.get_mut(&name) {
                (told.called, self.calls.changed) = (now, true);
            }
        }
    }

    /// After how long without a word the silence of its probes stands.
    fn silence_due(&self, alarm: &Alarm) -> Span {
        let parts = self.silent_probes(alarm).into_iter().map(|p| self.silent_after(p));
        parts.max().unwrap_or(crate::config::SILENT_AFTER)
    }

    /// Whether another device is heard, and has spoken while this one should have: later than a third of the time that has
    /// passed, for the last words of all may lie a rhythm apart when the power goes.
    fn hears_beside(&self, alarm: &Alarm, now: Time) -> bool {
        let since = alarm.since.unwrap_or(now);
        let late = since + Span::from_millis((now - since).millis() / 3);
        let gone = self.silent_devices(alarm);
        self.newest_fresh
            .iter()
            .any(|(p, heard)| *heard > late && !self.is_silent(p) && !gone.contains(&self.device_of(p)))
    }

    /// The devices that a silence is about.
    fn silent_devices<'a>(&'a self, alarm: &'a Alarm) -> BTreeSet<Option<&'a str>> {
        let mut devices: BTreeSet<Option<&str>> =
            self.silent_probes(alarm).into_iter().map(|p| self.device_of(p)).collect();
        if let Place::Device(name) = &alarm.key.place {
            devices.insert(Some(name));
        }
        devices
    }

    /// The probes that a silence is about.
    fn silent_probes(&self, alarm: &Alarm) -> Vec<&ProbeKey> {
        let parts: Vec<&AlarmKey> =
            self.panel.under(&alarm.key).map(|part| &part.key).chain([&alarm.key]).collect();
        let is_part = |p: &&ProbeKey| {
            parts.iter().any(|k| k.vessel() == Some(&p.vessel) && k.quantity == Some(p.quantity))
        };
        self.newest_fresh.keys().filter(is_part).collect()
    }
}
