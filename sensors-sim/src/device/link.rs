//! The way of a device to the broker: lost and found again, with what it kept meanwhile, and the broker's last word.

use crate::chance::Chance;
use crate::output::{Happening, Kind, Sent};
use crate::truth::{Known, Truth};
use crate::{DevicePlan, Wifi};
use std::collections::VecDeque;
use std::fmt;
use std::sync::Arc;
use units::{Span, Time};

/// From the last sign of life to the broker's word that a device is gone: one and a half times the keep-alive (MQTT
/// 3.1.1, 3.1.2.10) of 20 s.
pub(crate) const WILL_AFTER: Span = Span::seconds(30);

/// Why a device cannot be heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cut {
    NoPower,
    Network,
    Wifi,
    Restart,
}

impl fmt::Display for Cut {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoPower => "no power",
            Self::Network => "the network is down",
            Self::Wifi => "it has lost the Wi-Fi",
            Self::Restart => "it starts anew",
        })
    }
}

#[derive(Debug, Clone)]
pub(super) struct Link {
    /// Its state topic, where it tells it.
    state: Option<Arc<str>>,
    up: bool,
    kept: VecDeque<Sent>,
    keeps: usize,
    will_due: Option<Time>,
    wifi: Option<Wifi>,
    chance: Chance,
    /// When the Wi-Fi goes or comes by itself.
    toggle: Option<Time>,
    wifi_gone: bool,
}

impl Link {
    pub(super) fn new(plan: &DevicePlan, room: &str, chance: &mut Chance, start: Time) -> Self {
        let topic = || Arc::from(format!("hatchwarden/{room}/{}/availability", plan.name));
        let mut chance = chance.clone();
        let toggle = plan.wifi.as_ref().map(|w| start + chance.wait(w.lost_every.span()));
        Self {
            state: plan.will.then(topic),
            up: true,
            kept: VecDeque::new(),
            keeps: plan.keeps,
            will_due: None,
            wifi: plan.wifi.clone(),
            chance,
            toggle,
            wifi_gone: false,
        }
    }

    pub(super) fn is_up(&self) -> bool {
        self.up
    }

    pub(super) fn next(&self) -> Option<Time> {
        [self.will_due, self.toggle].into_iter().flatten().min()
    }

    /// What is due by itself. True when the Wi-Fi went or came.
    pub(super) fn act(&mut self, at: Time, device: &Arc<str>, out: &mut Vec<Happening>) -> bool {
        if self.will_due.is_some_and(|due| due <= at) {
            self.will(at, device, out);
        }
        let (Some(wifi), true) = (&self.wifi, self.toggle.is_some_and(|t| t <= at)) else { return false };
        self.wifi_gone = !self.wifi_gone;
        let mean = if self.wifi_gone { wifi.lasts } else { wifi.lost_every };
        self.toggle = Some(at + self.chance.wait(mean.span()).max(Span::seconds(1)));
        true
    }

    fn will(&mut self, at: Time, device: &Arc<str>, out: &mut Vec<Happening>) {
        self.will_due = None;
        out.extend(self.status("offline", Kind::Will, at, device).map(Happening::Sent));
    }

    /// The broker keeps words on the state.
    pub(super) fn status(&self, word: &str, kind: Kind, at: Time, device: &Arc<str>) -> Option<Sent> {
        let topic = self.state.clone()?;
        let payload = word.as_bytes().to_vec();
        Some(Sent { at, device: device.clone(), topic, payload, retain: true, qos: 1, kind })
    }

    /// Takes note of what stands between the device and the broker.
    pub(super) fn feel(&mut self, at: Time, cut: Option<Cut>, device: &Arc<str>, out: &mut Vec<Happening>) {
        let cut = cut.or(self.wifi_gone.then_some(Cut::Wifi));
        match (self.up, cut) {
            (true, Some(why)) => self.lose(at, why, device, out),
            (false, None) => self.find(at, device, out),
            _ => {}
        }
    }

    fn lose(&mut self, at: Time, why: Cut, device: &Arc<str>, out: &mut Vec<Happening>) {
        self.up = false;
        self.will_due = self.state.is_some().then_some(at + WILL_AFTER);
        out.push(Happening::Link { at, device: device.clone(), up: false });
        let (device, why) = (device.to_string(), why.to_string());
        out.push(Happening::Truth(Truth { at, what: Known::Away { device, why } }));
    }

    fn find(&mut self, at: Time, device: &Arc<str>, out: &mut Vec<Happening>) {
        self.up = true;
        if self.will_due.is_some() {
            // The same client comes again: the broker gives up the old connection, and its will is published.
            self.will(at, device, out);
        }
        out.push(Happening::Link { at, device: device.clone(), up: true });
        out.push(Happening::Truth(Truth { at, what: Known::Back { device: device.to_string() } }));
        out.extend(self.status("online", Kind::Status, at, device).map(Happening::Sent));
        out.extend(self.kept.drain(..).map(|sent| Happening::Sent(Sent { at, ..sent })));
    }

    #[cfg(test)]
    pub(super) fn kept(&self) -> usize {
        self.kept.len()
    }

    /// What was kept is lost.
    pub(super) fn forget(&mut self) {
        self.kept.clear();
    }

    pub(super) fn send(&mut self, sent: Sent, out: &mut Vec<Happening>) {
        if self.up {
            out.push(Happening::Sent(sent));
        } else if self.keeps > 0 {
            if self.kept.len() == self.keeps {
                self.kept.pop_front();
            }
            self.kept.push_back(sent);
        }
    }
}
