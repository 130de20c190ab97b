//! A button on MQTT: `hatchwarden/<room>/acknowledge/<vessel or alarm>` takes on what stands there, in the name that is its payload.

use super::{Outcome, Room};
use alarms::{Alarm, AlarmKey, State};
use readings::{Message, Refusal};
use std::collections::BTreeSet;
use units::{Time, VesselId};

/// Longest name that is taken from a message, in characters.
const LONGEST_NAME: usize = 40;

impl Room {
    /// Whether the message takes alarms on; then that is done. A retained one is an old one and does nothing.
    pub(in crate::room) fn acknowledged_by_message(
        &mut self,
        message: &Message<'_>,
        now: Time,
        out: &mut Outcome,
    ) -> bool {
        if !message.topic.contains("/acknowledge/") {
            return false; // every message passes here
        }
        let prefix = format!("hatchwarden/{}/acknowledge/", self.setup.room);
        let Some(target) = message.topic.strip_prefix(prefix.as_str()) else { return false };
        if message.retained {
            return true;
        }
        let keys = self.meant(target);
        if keys.is_none()
            && let Ok(vessel) = VesselId::new("acknowledge")
        {
            self.refuse(Refusal::unmapped(message, &vessel), out);
        }
        let by = name(message.payload);
        for key in keys.unwrap_or_default() {
            // It may have been taken on in this very moment; then there is nothing to do.
            let _ = self.acknowledge(&key.to_string(), &by, now, out);
        }
        true
    }

    /// Alarms that nobody has taken on: this one, or those of a vessel and of what stands for it. `None` for neither.
    fn meant(&self, target: &str) -> Option<BTreeSet<AlarmKey>> {
        let open = |a: &&Alarm| a.state == State::Unacknowledged && a.flags.is_empty();
        if let Ok(key) = target.parse::<AlarmKey>() {
            return Some(self.panel.get(&key).filter(open).map(|a| a.key.clone()).into_iter().collect());
        }
        let vessel: VesselId = target.parse().ok().filter(|v| self.setup.vessel(v).is_some())?;
        let here = |a: &&Alarm| a.key.vessel() == Some(&vessel);
        let beneath = self.panel.flagged().filter(here).filter_map(|a| self.panel.head(&a.key));
        Some(self.panel.standing().filter(here).chain(beneath).filter(open).map(|a| a.key.clone()).collect())
    }
}

fn name(payload: &[u8]) -> String {
    let text = String::from_utf8_lossy(payload);
    let name: String = text.trim().chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect();
    if name.is_empty() { "a button".to_owned() } else { name }
}
