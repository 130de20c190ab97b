//! How long people may sleep on what stands already: a device that is out of reach for some minutes is no reason to get up.

use super::*;
use alarms::{Alarm, Place};

/// How long for a silence on which no clutch hangs. A planning value.
const NOTHING_HANGS: Span = Span::hours(1);

impl Room {
    /// How long people are left alone after an alarm has been raised. Silence waits three quarters of the time that the young
    /// have without moving air, as long as other devices have been heard since: then there is power, and mostly it is the Wi-Fi.
    /// A planning value. Nothing else waits.
    pub(super) fn patience(&self, key: &AlarmKey, now: Time) -> Span {
        let silent = self.panel.get(key).filter(|_| key.condition == Condition::Silent);
        let Some(alarm) = silent.filter(|alarm| self.hears_beside(alarm, now)) else { return Span::ZERO };
        let least = self.hanging(alarm, now).first().map(|clutch| self.time_left(clutch, now));
        least.map_or(NOTHING_HANGS, |left| Span::from_millis(left.millis() / 4 * 3))
    }

    /// Whether another device has spoken while this one should have: later than a third of the time that has passed, for the
    /// last words of all may lie a rhythm apart when the power goes.
    fn hears_beside(&self, alarm: &Alarm, now: Time) -> bool {
        let since = alarm.since.unwrap_or(now);
        let late = since + Span::from_millis((now - since).millis() / 3);
        let gone = self.silent_devices(alarm);
        self.newest_fresh.iter().any(|(p, heard)| *heard > late && !gone.contains(&self.device_of(p)))
    }

    /// The devices that a silence is about.
    fn silent_devices<'a>(&'a self, alarm: &'a Alarm) -> BTreeSet<Option<&'a str>> {
        let parts: Vec<&AlarmKey> =
            self.panel.under(&alarm.key).map(|part| &part.key).chain([&alarm.key]).collect();
        let is_part = |p: &ProbeKey| {
            parts.iter().any(|k| k.vessel() == Some(&p.vessel) && k.quantity == Some(p.quantity))
        };
        let mut devices: BTreeSet<Option<&str>> =
            self.newest_fresh.keys().filter(|p| is_part(p)).map(|p| self.device_of(p)).collect();
        if let Place::Device(name) = &alarm.key.place {
            devices.insert(Some(name));
        }
        devices
    }
}
