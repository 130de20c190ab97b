//! The topic map at work: the entries of the configuration, and those that were claimed on the page and live in the store.

use super::{Outcome, Room};
use crate::config::unknown_vessel;
use readings::trial::{self, Tried};
use readings::{MapEntry, MapError, Message, TopicMap, covers};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use units::{RoomId, Time};
use web::keeper::{Trial, Trouble};
use web::probes::{EntryView, ProbeView, ProbesView};

/// Name of the note under which claims are kept.
pub(crate) const NOTE: &str = "claims";

/// One claimed entry. It stays when it is released, so that old readings can be explained.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Claim {
    entry: MapEntry,
    by: String,
    at: Time,
    released: Option<(String, Time)>,
}

/// The map of a room without claims.
pub(super) fn configured(room: &RoomId, entries: &[MapEntry]) -> Result<TopicMap, MapError> {
    TopicMap::new(room.clone(), entries.to_vec())
}

fn refused(field: &str, reason: String) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason }
}

fn map_fault(e: &MapError) -> Trouble {
    let said =
        if e.value.is_empty() { "is missing".to_owned() } else { format!("{:?} will not do", e.value) };
    refused(e.field, format!("{said}; {}", e.cure))
}

impl Room {
    /// Which topics mean what, just now.
    pub fn map(&self) -> &TopicMap {
        &self.map
    }

    /// What is to be subscribed: the map, and what is heard beside it.
    pub fn filters(&self) -> Vec<String> {
        self.map.filters(&self.setup.listen)
    }

    fn claimed(&self) -> impl Iterator<Item = (u64, &Claim)> {
        (1..).zip(&self.claims).filter(|(_, c)| c.released.is_none())
    }

    fn map_with(&self, more: Option<&MapEntry>) -> Result<TopicMap, MapError> {
        let claimed = self.claimed().map(|(_, c)| &c.entry);
        let all = self.setup.maps.iter().chain(claimed).chain(more).cloned().collect();
        TopicMap::new(self.setup.room.clone(), all)
    }

    /// Checks an entry as if it stood in the map.
    fn fits(&self, entry: &MapEntry) -> Result<TopicMap, Trouble> {
        let map = self.map_with(Some(entry)).map_err(|e| map_fault(&e))?;
        match unknown_vessel(entry, self.setup.vessels.iter().map(|v| &v.id)) {
            Some((field, value, cure)) => Err(refused(field, format!("{value:?} will not do: {cure}"))),
            None => Ok(map),
        }
    }

    /// What a message would become by an entry alone; nothing is saved.
    ///
    /// # Errors
    /// [`Trouble`] naming the field, the value and the cure.
    pub fn try_entry(&self, trial: &Trial, now: Time) -> Result<Vec<Tried>, Trouble> {
        self.fits(&trial.entry)?;
        let map =
            configured(&self.setup.room, std::slice::from_ref(&trial.entry)).map_err(|e| map_fault(&e))?;
        let topic = trial.topic.as_deref().unwrap_or(&trial.entry.topic);
        if !readings::matches(&trial.entry.topic, topic) || topic.contains(['+', '#']) {
            let reason =
                format!("{topic:?} is no topic under {:?}; name one to try it on", trial.entry.topic);
            return Err(refused("topic", reason));
        }
        let heard = self.unmapped.payload(topic);
        let (payload, retained) = match (&trial.payload, heard) {
            (Some(given), _) => (given.as_bytes(), trial.retained),
            (None, Some(heard)) => heard,
            (None, None) => {
                let reason = format!(
                    "no whole payload of {topic:?} is at hand; wait for its next message, or give one by the API"
                );
                return Err(refused("topic", reason));
            }
        };
        Ok(trial::of(&map, &Message { topic, payload, retained, received: now }))
    }

    /// Puts an entry into the map.
    pub(super) fn claim(
        &mut self,
        entry: MapEntry,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let map = self.fits(&entry)?;
        if !self.setup.hears.iter().any(|f| covers(f, &entry.topic)) && !self.subscribed(&entry.topic) {
            let reason = format!(
                "the broker is not asked for {:?}; write a filter that holds it under listen in [mqtt] and restart",
                entry.topic
            );
            return Err(refused("topic", reason));
        }
        self.claims.push(Claim { entry, by: by.to_owned(), at: now, released: None });
        self.use_map(map, out);
        Ok(())
    }

    fn subscribed(&self, topic: &str) -> bool {
        self.subscribed.iter().any(|f| covers(f, topic))
    }

    /// Takes a claimed entry out of the map.
    pub(super) fn release(
        &mut self,
        claim: u64,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let nothing = || Trouble::NotFound(format!("there is no claim {claim} in the map"));
        let index = usize::try_from(claim).ok().and_then(|n| n.checked_sub(1)).ok_or_else(nothing)?;
        let found = self.claims.get_mut(index).filter(|c| c.released.is_none()).ok_or_else(nothing)?;
        found.released = Some((by.to_owned(), now));
        let map = self.map_with(None).map_err(|e| map_fault(&e))?;
        self.use_map(map, out);
        Ok(())
    }

    fn use_map(&mut self, map: TopicMap, out: &mut Outcome) {
        let entries: Vec<String> = map.entries().map(|e| e.topic.clone()).collect();
        self.unmapped.retain(|topic| !entries.iter().any(|f| readings::matches(f, topic)));
        self.map = Arc::new(map);
        let note = serde_json::to_string(&self.claims).unwrap_or_default();
        out.batch.notes.push((NOTE.to_owned(), note));
    }

    /// Takes in the claims of before a restart. One that does not fit the configuration any more is left out of the map.
    pub(super) fn restore_claims(&mut self, note: &str) -> Result<(), String> {
        self.claims = serde_json::from_str(note).map_err(|e| format!("note {NOTE}: {e}"))?;
        while let Err(e) = self.map_with(None) {
            let claim = e.entry.checked_sub(self.setup.maps.len() + 1);
            let Some(number) = claim.and_then(|n| self.claimed().nth(n)).map(|(number, _)| number) else {
                return Err(e.to_string());
            };
            tracing::error!(claim = number, error = %e, "a claimed entry does not fit the configuration; it is left out");
            if let Some(c) = self.claims.get_mut(number as usize - 1) {
                c.released = Some(("the configuration".to_owned(), c.at));
            }
        }
        self.map = Arc::new(self.map_with(None).map_err(|e| e.to_string())?);
        self.subscribed = self.filters();
        Ok(())
    }

    /// Everything the page of probes needs.
    pub fn probes_view(&self) -> ProbesView {
        ProbesView {
            probes: self.hearing.keys().map(|p| self.probe_view(p)).collect(),
            devices: self.device_views(),
            unmapped: self.unmapped.views(),
            map: self.entry_views(),
            comparisons: self.comparison_views(),
        }
    }

    fn probe_view(&self, probe: &units::ProbeKey) -> ProbeView {
        let (hearing, last) = (self.hearing.get(probe), self.last.get(probe));
        let (every, every_from) =
            hearing.map_or((None, web::probes::RhythmFrom::Unknown), super::hearing::Hearing::rhythm);
        ProbeView {
            probe: probe.clone(),
            value: last.map(|r| self.corrected(r)),
            raw: last.map(|r| r.value),
            offset: last.and_then(|r| self.offset_view(probe, r.time)),
            unit: probe.quantity.unit(),
            last_message: hearing.and_then(|h| h.message),
            last_accepted: self.newest_fresh.get(probe).copied(),
            every,
            every_from,
            silent_after: self.silent_after(probe),
            silent: self.is_silent(probe),
            device: self.device_of(probe).map(str::to_owned),
        }
    }

    fn entry_views(&self) -> Vec<EntryView> {
        let own = |e: &MapEntry| EntryView { claim: None, entry: e.clone(), by: None, at: None };
        let claimed = self.claimed().map(|(number, c)| EntryView {
            claim: Some(number),
            entry: c.entry.clone(),
            by: Some(c.by.clone()),
            at: Some(c.at),
        });
        self.setup.maps.iter().map(own).chain(claimed).collect()
    }
}
