//! Devices and what they say of themselves. Nothing follows from it for air or water.

use super::{Outcome, Room};
use readings::Sender;
use serde_json::json;
use std::collections::BTreeMap;
use units::{ProbeKey, Time};
use web::probes::DeviceView;

/// Name of the note under which the words of devices are kept.
pub(crate) const NOTE: &str = "devices";
/// Most devices that are known; a publisher that invents names must not fill the memory.
const MOST: usize = 1_000;

/// One device.
#[derive(Debug, Default, Clone, PartialEq)]
pub(crate) struct Device {
    /// Whether it says that it is connected, and since when.
    pub(super) said: Option<(bool, Time)>,
    /// Its last sign of life that was no reading.
    pub(super) alive: Option<Time>,
}

impl Room {
    /// A device has said that it comes or goes. When it goes, its probes are silent unless they are soon heard again.
    pub(super) fn device_says(&mut self, name: &str, online: bool, now: Time, out: &mut Outcome) {
        let Some(device) = self.device(name) else { return };
        if device.said.is_some_and(|(was, _)| was == online) {
            return;
        }
        device.said = Some((online, now));
        out.batch.notes.push((NOTE.to_owned(), self.devices_note()));
        for probe in self.probes_of(name) {
            if online {
                self.panel.returned(&probe.vessel, probe.quantity);
            } else {
                self.panel.gone(&probe.vessel, probe.quantity, now);
            }
        }
    }

    /// A sign of life that is no reading.
    pub(super) fn device_alive(&mut self, name: &str, retained: bool, now: Time) {
        if let Some(device) = self.device(name).filter(|_| !retained) {
            device.alive = Some(now);
        }
    }

    fn device(&mut self, name: &str) -> Option<&mut Device> {
        if self.devices.len() >= MOST && !self.devices.contains_key(name) {
            return None;
        }
        Some(self.devices.entry(name.to_owned()).or_default())
    }

    /// The device of a probe: as the map names it, or the one that publishes for its vessel.
    pub(super) fn device_of<'a>(&'a self, probe: &'a ProbeKey) -> Option<&'a str> {
        match &self.hearing.get(probe)?.sender {
            Sender::Device(name) => Some(name),
            Sender::Vessel => Some(probe.vessel.as_str()),
            Sender::Unknown => None,
        }
    }

    /// The device of a probe, if it has said that it is gone.
    pub(super) fn gone<'a>(&'a self, probe: &'a ProbeKey) -> Option<&'a str> {
        let name = self.device_of(probe)?;
        self.says_gone(name).then_some(name)
    }

    /// Whether a device has said that it goes, and not that it is back.
    pub(super) fn says_gone(&self, name: &str) -> bool {
        self.devices.get(name).and_then(|d| d.said).is_some_and(|(online, _)| !online)
    }

    fn probes_of(&self, device: &str) -> Vec<ProbeKey> {
        let watched = self.newest_fresh.keys().filter(|p| p.mark.is_none());
        watched.filter(|p| self.device_of(p) == Some(device)).cloned().collect()
    }

    pub(super) fn devices_note(&self) -> String {
        let said: BTreeMap<&str, (bool, Time)> =
            self.devices.iter().filter_map(|(n, d)| Some((n.as_str(), d.said?))).collect();
        json!(said).to_string()
    }

    /// Takes in what the devices had said before a restart.
    pub(super) fn restore_devices(&mut self, note: &str) -> Result<(), String> {
        let said: BTreeMap<String, (bool, Time)> =
            serde_json::from_str(note).map_err(|e| format!("note {NOTE}: {e}"))?;
        let device = |said| Device { said: Some(said), alive: None };
        self.devices = said.into_iter().map(|(name, s)| (name, device(s))).collect();
        Ok(())
    }

    pub(super) fn device_views(&self) -> Vec<DeviceView> {
        let mut all: BTreeMap<&str, DeviceView> = BTreeMap::new();
        let blank = |name: &str| DeviceView {
            name: name.to_owned(),
            online: None,
            since: None,
            last_message: None,
            probes: Vec::new(),
        };
        for (name, device) in &self.devices {
            let view = all.entry(name).or_insert_with(|| blank(name));
            (view.online, view.since) = device.said.unzip();
            view.last_message = device.alive;
        }
        for (probe, hearing) in &self.hearing {
            let Some(name) = self.device_of(probe) else { continue };
            // A vessel's own device is listed only once it has said something.
            if hearing.sender == Sender::Vessel && !self.devices.contains_key(name) {
                continue;
            }
            let view = all.entry(name).or_insert_with(|| blank(name));
            view.last_message = view.last_message.max(hearing.message);
            view.probes.push(probe.clone());
        }
        all.into_values().collect()
    }
}
