//! What all events add up to.

use crate::book::Book;
use crate::check::{day0_in_order, fault};
use crate::{Clutch, Entry, Event, LedgerError};
use std::collections::{BTreeMap, BTreeSet};
use units::{ClutchId, Time, VesselId};

/// The account of a room. It is a function of its entries alone: what happened first comes first, whenever it was
/// written down.
#[derive(Debug, Default, Clone, PartialEq)]
pub struct Account {
    clutches: BTreeMap<ClutchId, Clutch>,
    entries: BTreeMap<u64, Entry>,
    struck: BTreeSet<u64>,
    /// The latest happening that is taken in.
    latest: Option<Key>,
}

/// Order in which entries are taken in: openings, then what is known of day 0, then everything as it happened.
type Key = (u8, Time, u64);

fn key(entry: &Entry) -> Key {
    let zero = Time::from_millis(0);
    match &entry.event {
        Event::ClutchOpened { .. } => (0, zero, entry.id),
        Event::Day0Corrected { .. } => (1, zero, entry.id),
        event => (2, event.at(), entry.id),
    }
}

impl Account {
    /// An account without entries.
    pub fn new() -> Self {
        Self::default()
    }

    /// An account of entries that were accepted before.
    pub fn restored(entries: impl IntoIterator<Item = Entry>) -> Self {
        let entries: BTreeMap<u64, Entry> = entries.into_iter().map(|e| (e.id, e)).collect();
        let withdrawn =
            |e: &Entry| if let Event::Withdrawn { entry, .. } = e.event { Some(entry) } else { None };
        let struck = entries.values().filter_map(withdrawn).collect();
        let mut account = Self { entries, struck, ..Self::default() };
        for entry in account.in_order() {
            account.put(&entry);
        }
        account
    }

    /// Whether an event fits what was entered so far.
    ///
    /// # Errors
    /// [`LedgerError`] naming the field, the value and the cure.
    pub fn check(&self, event: &Event) -> Result<(), LedgerError> {
        let last = self.entries.keys().next_back().copied().unwrap_or(0);
        let entry = Entry { id: last + 1, recorded: event.at(), by: String::new(), event: event.clone() };
        self.clone().apply(entry)
    }

    /// Enters an event.
    ///
    /// # Errors
    /// As [`Account::check`]; nothing is changed then.
    pub fn apply(&mut self, entry: Entry) -> Result<(), LedgerError> {
        if self.entries.contains_key(&entry.id) {
            return fault("entry", format!("there is an entry {} already; take the next number", entry.id));
        }
        self.check_known(&entry.event)?;
        if let Event::Withdrawn { entry: number, .. } = entry.event {
            let mut struck = self.struck.clone();
            struck.insert(number);
            let rests = format!("entry {number} cannot be withdrawn");
            *self = self.anew(Some(entry), struck, &rests)?;
            return Ok(());
        }
        let in_order = entry.event.clutches().is_empty()
            || matches!(entry.event, Event::ClutchOpened { .. })
            || self.latest.is_none_or(|l| l < key(&entry));
        if !in_order {
            *self = self.anew(Some(entry), self.struck.clone(), "that does not fit what happened later")?;
            return Ok(());
        }
        self.check_count(&entry.event)?;
        self.put(&entry);
        self.entries.insert(entry.id, entry);
        Ok(())
    }

    /// The account with one entry more, every count checked in the order in which things happened.
    fn anew(&self, entry: Option<Entry>, struck: BTreeSet<u64>, why: &str) -> Result<Self, LedgerError> {
        let new = entry.as_ref().map(|e| e.id);
        let mut entries = self.entries.clone();
        entries.extend(entry.map(|e| (e.id, e)));
        let mut fresh = Self { entries, struck, ..Self::default() };
        for entry in fresh.in_order() {
            if !fresh.struck.contains(&entry.id)
                && let Err(e) = fresh.check_count(&entry.event)
            {
                return if new == Some(entry.id) {
                    Err(e)
                } else {
                    let words = entry.event.words(&|t| t.to_string());
                    fault("entry", format!("{why}: entry {} ({words}) needs it; {e}", entry.id))
                };
            }
            fresh.put(&entry);
        }
        Ok(fresh)
    }

    fn in_order(&self) -> Vec<Entry> {
        let mut all: Vec<Entry> = self.entries.values().cloned().collect();
        all.sort_by_key(key);
        all
    }

    fn check_known(&self, event: &Event) -> Result<(), LedgerError> {
        event.check_alone()?;
        match event {
            Event::Withdrawn { entry, clutch, .. } => self.check_withdrawn(*entry, clutch.as_ref()),
            Event::Merged(e) => self.check_merge_known(e),
            Event::ClutchOpened { clutch, day0, .. } if self.clutch(clutch).is_none() => day0_in_order(day0),
            event => match event.clutch() {
                Some(id) => self.exists(id, "clutch")?.check_known(event),
                None => Ok(()),
            },
        }
    }

    fn check_count(&self, event: &Event) -> Result<(), LedgerError> {
        match event {
            Event::Merged(e) => self.check_merge_count(e),
            Event::Separated(e) => self.check_separation(e),
            Event::ClutchOpened { .. } | Event::Withdrawn { .. } => Ok(()),
            event => match event.clutch() {
                Some(id) => self.exists(id, "clutch")?.check_count(event),
                None => Ok(()),
            },
        }
    }

    fn check_withdrawn(&self, number: u64, clutch: Option<&ClutchId>) -> Result<(), LedgerError> {
        let Some(entry) = self.entries.get(&number) else {
            return fault("entry", format!("there is no entry {number}; the page lists them"));
        };
        if clutch.is_some_and(|c| !entry.event.clutches().contains(&c)) {
            return fault(
                "entry",
                format!("entry {number} is not about that clutch; the page lists those that are"),
            );
        }
        if self.struck.contains(&number) {
            return fault("entry", format!("entry {number} was withdrawn already; nothing is left to do"));
        }
        if matches!(entry.event, Event::Withdrawn { .. }) {
            return fault(
                "entry",
                format!("entry {number} is itself a correction; enter again what was withdrawn"),
            );
        }
        Ok(())
    }

    /// Takes an entry in. One that was withdrawn is only kept with its clutch.
    fn put(&mut self, entry: &Entry) {
        if !entry.event.clutches().is_empty() {
            self.latest = self.latest.max(Some(key(entry)));
        }
        if self.struck.contains(&entry.id) {
            for id in entry.event.clutches() {
                if let Some(clutch) = self.clutches.get_mut(id) {
                    clutch.struck.insert(entry.id);
                    clutch.keep(entry.clone());
                }
            }
            return;
        }
        match &entry.event {
            Event::ClutchOpened { .. } => self.open(entry),
            Event::Merged(e) => self.merge(entry, e),
            Event::Separated(e) => self.separate(entry, e),
            event => {
                if let Some(clutch) = event.clutch().and_then(|id| self.clutches.get_mut(id)) {
                    clutch.add(entry.clone());
                }
            }
        }
    }

    fn open(&mut self, entry: &Entry) {
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
            path: None,
            left_her: None,
            members: Vec::new(),
            entries: vec![entry.clone()],
            book: Book::default(),
            emptied: None,
            inherited: Vec::new(),
            struck: BTreeSet::new(),
        };
        self.clutches.insert(clutch, opened);
    }

    pub(crate) fn take(&mut self, id: &ClutchId) -> Option<Clutch> {
        self.clutches.remove(id)
    }

    pub(crate) fn put_back(&mut self, clutch: Clutch) {
        self.clutches.insert(clutch.id.clone(), clutch);
    }

    pub(crate) fn exists(&self, id: &ClutchId, field: &'static str) -> Result<&Clutch, LedgerError> {
        match self.clutches.get(id) {
            Some(clutch) => Ok(clutch),
            None => fault(field, format!("there is no clutch {id}; open it first")),
        }
    }

    /// Every clutch and group, those that ended too, by name.
    pub fn clutches(&self) -> impl Iterator<Item = &Clutch> {
        self.clutches.values()
    }

    /// The clutch or group of that name.
    pub fn clutch(&self, id: &ClutchId) -> Option<&Clutch> {
        self.clutches.get(id)
    }

    /// Clutches and groups of which some are in a vessel now.
    pub fn in_vessel<'a>(&'a self, vessel: &'a VesselId) -> impl Iterator<Item = &'a Clutch> {
        self.clutches.values().filter(move |c| c.in_hand() && c.lives_in(vessel))
    }

    /// Everything entered, in the order of entering.
    pub fn entries(&self) -> impl DoubleEndedIterator<Item = &Entry> {
        self.entries.values()
    }

    /// Every clutch and group whose account, place or dates an event changes, by what was entered so far.
    pub fn touched(&self, event: &Event) -> Vec<ClutchId> {
        let withdrawn = match event {
            Event::Withdrawn { entry, .. } => self.entries.get(entry).map(|e| &e.event),
            _ => None,
        };
        let mut all: Vec<ClutchId> = withdrawn.unwrap_or(event).clutches().into_iter().cloned().collect();
        let mut next = 0;
        while let Some(id) = all.get(next).cloned() {
            // What is known of a member is known of its group.
            let of = |g: &&Clutch| g.members.iter().any(|m| m.clutch == id) && !all.contains(&g.id);
            let groups: Vec<ClutchId> = self.clutches.values().filter(of).map(|g| g.id.clone()).collect();
            all.extend(groups);
            next += 1;
        }
        all
    }

    /// Whether an entry counts: it was not withdrawn.
    pub fn stands(&self, entry: u64) -> bool {
        !self.struck.contains(&entry)
    }

    /// What counts of everything entered, in the order in which it happened.
    pub(crate) fn happened(&self) -> Vec<&Entry> {
        let mut all: Vec<&Entry> = self.entries.values().filter(|e| self.stands(e.id)).collect();
        all.sort_by_key(|e| key(e));
        all
    }
}
