//! Sirens and lamps: a retained word on a topic for as long as something is wrong.

use super::{Outcome, Room};
use crate::config::Siren;
use crate::room::Word;

impl Room {
    /// Says what has changed for sirens and lamps.
    pub(super) fn tell_sirens(&mut self, out: &mut Outcome) {
        for siren in &self.setup.clone().sirens {
            let on = self.is_called_for(siren);
            if self.calls.sirens.insert(siren.topic.clone(), on) != Some(on) {
                self.calls.changed = true;
                out.words.push(word(siren, on));
            }
        }
    }

    /// What every siren and lamp is to know, for a start.
    pub fn siren_words(&self) -> Vec<Word> {
        self.setup.sirens.iter().map(|siren| word(siren, self.is_called_for(siren))).collect()
    }

    fn is_called_for(&self, siren: &Siren) -> bool {
        let taken = |a: &alarms::Alarm| a.state == alarms::State::Acknowledged;
        self.panel.standing().any(|a| {
            a.state.standing()
                && (siren.until_over || !taken(a))
                && self.priority_of(a, a.since.unwrap_or(self.moment)) <= siren.priority
        })
    }
}

fn word(siren: &Siren, on: bool) -> Word {
    let text = if on { &siren.on } else { &siren.off };
    Word { topic: siren.topic.clone(), text: text.clone() }
}
