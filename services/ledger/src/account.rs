//! What all events add up to.

use crate::{Clutch, Entry, Event, LedgerError};
use std::collections::BTreeMap;
use units::{ClutchId, VesselId};

/// Every clutch of a room.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub struct Account {
    clutches: BTreeMap<ClutchId, Clutch>,
}

impl Account {
    /// An account without entries.
    pub fn new() -> Self {
        Self::default()
    }

    /// Whether an event fits what was entered so far.
    ///
    /// # Errors
    /// [`LedgerError`] naming the field, the value and the cure.
    pub fn check(&self, event: &Event) -> Result<(), LedgerError> {
        match (self.clutches.get(event.clutch()), event) {
            (Some(clutch), event) => clutch.check(event),
            (None, Event::ClutchOpened { .. }) => Ok(()),
            (None, event) => {
                let reason = format!("there is no clutch {}; open it first", event.clutch());
                Err(LedgerError::new("clutch", reason))
            }
        }
    }

    /// Enters an event.
    ///
    /// # Errors
    /// As [`Account::check`]; nothing is changed then.
    pub fn apply(&mut self, entry: Entry) -> Result<(), LedgerError> {
        self.check(&entry.event)?;
        match &entry.event {
            Event::ClutchOpened { .. } => self.open(entry),
            event => {
                if let Some(clutch) = self.clutches.get_mut(event.clutch()) {
                    clutch.add(entry);
                }
            }
        }
        Ok(())
    }

    fn open(&mut self, entry: Entry) {
        let Event::ClutchOpened { clutch, fish, species, mother, day0, vessel } = entry.event.clone() else {
            return;
        };
        let opened = Clutch {
            id: clutch.clone(),
            fish,
            species,
            mother,
            day0,
            places: vec![(day0.earliest, vessel)],
            taken: None,
            alive: None,
            seen: Vec::new(),
            closed: None,
            entries: vec![entry],
        };
        self.clutches.insert(clutch, opened);
    }

    /// Every clutch, closed ones too, by name.
    pub fn clutches(&self) -> impl Iterator<Item = &Clutch> {
        self.clutches.values()
    }

    /// The clutch of that name.
    pub fn clutch(&self, id: &ClutchId) -> Option<&Clutch> {
        self.clutches.get(id)
    }

    /// Clutches that are in a vessel now.
    pub fn in_vessel<'a>(&'a self, vessel: &'a VesselId) -> impl Iterator<Item = &'a Clutch> {
        self.clutches.values().filter(move |c| c.closed.is_none() && c.place_now() == Some(vessel))
    }
}
