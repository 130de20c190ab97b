//! Clutches that are put together, and what is known again out of them.

use crate::account::Account;
use crate::book::Book;
use crate::check::fault;
use crate::clutch::{Clutch, Member};
use crate::event::{Merge, Separation};
use crate::{Entry, LedgerError};
use std::collections::BTreeSet;
use units::{ClutchId, Day0, Grade, Seen, Sighting, Time, VesselId};

impl Account {
    /// Whether those named can be put together under that name.
    pub(crate) fn check_merge_known(&self, e: &Merge) -> Result<(), LedgerError> {
        let group = self.clutch(&e.clutch);
        if let Some(clutch) = group.filter(|g| !g.is_group()) {
            return fault("clutch", format!("{} is a clutch; choose another name for the group", clutch.id));
        }
        let distinct: BTreeSet<&ClutchId> = e.members.iter().collect();
        if distinct.len() < e.members.len() || distinct.contains(&e.clutch) {
            return fault("members", "a clutch is named twice; name each once".to_owned());
        }
        if e.members.is_empty() || (group.is_none() && e.members.len() < 2) {
            return fault("members", "a group needs two clutches at the least; name them".to_owned());
        }
        if let Some(end) = group.and_then(|g| g.closed) {
            return fault(
                "clutch",
                format!("{} was closed at {end}; choose another name for the group", e.clutch),
            );
        }
        e.members.iter().try_for_each(|m| match self.exists(m, "members")?.closed {
            Some(end) => fault("members", format!("{m} was closed at {end}; leave it out")),
            None => Ok(()),
        })
    }

    /// Whether all of each were in that vessel then.
    pub(crate) fn check_merge_count(&self, e: &Merge) -> Result<(), LedgerError> {
        let fits = |id: &ClutchId| {
            let clutch = self.exists(id, "members")?;
            match clutch.alive {
                None => return fault("members", format!("{id} has not been counted yet; count it first")),
                Some(0) => return fault("members", format!("none of {id} are alive; leave it out")),
                Some(_) => {}
            }
            let away = clutch.counts().into_keys().find(|v| *v != &e.vessel);
            match away {
                Some(v) => fault("members", format!("{id} is in {v}; move all of it to {} first", e.vessel)),
                None => Ok(()),
            }
        };
        e.members.iter().try_for_each(fits)
    }

    pub(crate) fn merge(&mut self, entry: &Entry, e: &Merge) {
        let mut group = self.take(&e.clutch).unwrap_or_else(|| new_group(e));
        for id in &e.members {
            let Some(mut member) = self.take(id) else { continue };
            let count = member.alive.unwrap_or(0);
            group.welcome(&member, e.at, &e.vessel);
            member.give(entry, count, Some(&e.vessel), &e.clutch);
            group.receive(entry, count, id, &e.vessel);
            group.members.push(Member { clutch: id.clone(), count, at: e.at });
            self.put_back(member);
        }
        group.keep(entry.clone());
        group.seen = group.sightings();
        self.put_back(group);
    }

    pub(crate) fn check_separation(&self, e: &Separation) -> Result<(), LedgerError> {
        let group = self.exists(&e.clutch, "clutch")?;
        if e.count == 0 {
            return fault("count", "0 are none; write how many".to_owned());
        }
        if e.member == e.clutch {
            return fault("member", format!("{} is what they come from; name their own clutch", e.member));
        }
        let member = self.exists(&e.member, "member")?;
        if !group.members.iter().any(|m| m.clutch == e.member) {
            let names: Vec<&str> = group.members.iter().map(|m| m.clutch.as_str()).collect();
            let names = names.join(" and ");
            return fault("member", format!("{} is not part of {}; name one of {names}", e.member, e.clutch));
        }
        if let Some(end) = member.closed {
            return fault("member", format!("{} was closed at {end}; withdraw that entry first", e.member));
        }
        group.draw(e.count, e.from.as_ref(), "separated").map(drop)
    }

    pub(crate) fn separate(&mut self, entry: &Entry, e: &Separation) {
        let Some(mut group) = self.take(&e.clutch) else { return };
        group.give(entry, e.count, e.from.as_ref(), &e.member);
        if let Some(mut member) = self.take(&e.member) {
            member.lived_with(&group, e.at);
            member.receive(entry, e.count, &e.clutch, &e.vessel);
            member.keep(entry.clone());
            self.put_back(member);
        }
        self.put_back(group);
    }
}

fn new_group(e: &Merge) -> Clutch {
    Clutch {
        id: e.clutch.clone(),
        fish: String::new(),
        species: String::new(),
        mother: None,
        day0: Day0::seen(e.at),
        places: Vec::new(),
        taken: None,
        alive: Some(0),
        seen: Vec::new(),
        closed: None,
        path: None,
        left_her: None,
        members: Vec::new(),
        entries: Vec::new(),
        book: Book::default(),
        emptied: None,
        inherited: Vec::new(),
        struck: BTreeSet::new(),
    }
}

impl Clutch {
    /// Takes over what is known of a member. The first gives the fish, the entry it is projected by and the places.
    fn welcome(&mut self, member: &Clutch, at: Time, vessel: &VesselId) {
        let seen = |s: &Sighting| Sighting { sign: s.sign, seen: Seen::By(s.seen.by()) };
        if self.members.is_empty() {
            self.fish.clone_from(&member.fish);
            self.species.clone_from(&member.species);
            self.day0 = member.day0;
            self.taken = member.taken;
            self.places = member.places.iter().filter(|(t, _)| *t <= at).cloned().collect();
            self.inherited = member.seen.iter().map(seen).collect();
            if self.place_now() != Some(vessel) {
                self.place(at, vessel.clone());
            }
            return;
        }
        if !self.fish.split(" and ").any(|f| f == member.fish) {
            self.fish = format!("{} and {}", self.fish, member.fish);
        }
        self.taken = self.taken.max(member.taken);
        self.day0 = hull(self.day0, member.day0);
        // All of them have come so far by when the last of them had.
        let reached = |s: &Sighting| {
            let theirs = member.seen.iter().find(|m| m.sign == s.sign)?;
            Some(Sighting { sign: s.sign, seen: Seen::By(s.seen.by().max(theirs.seen.by())) })
        };
        self.inherited = self.inherited.iter().filter_map(reached).collect();
    }
}

impl Clutch {
    /// Takes over where a group was while this was part of it, and what was seen of all of them.
    fn lived_with(&mut self, group: &Clutch, at: Time) {
        let Some(since) = group.members.iter().rfind(|m| m.clutch == self.id).map(|m| m.at) else { return };
        for (t, vessel) in group.places.iter().filter(|(t, _)| *t > since && *t <= at) {
            self.place(*t, vessel.clone());
        }
        for seen in &group.seen {
            self.inherited.retain(|s| s.sign != seen.sign);
            self.inherited.push(Sighting { sign: seen.sign, seen: Seen::By(seen.seen.by()) });
        }
        self.seen = self.sightings();
    }
}

/// From the earliest to the latest of two; as sure as the less sure of them.
fn hull(a: Day0, b: Day0) -> Day0 {
    if a == b {
        return a;
    }
    let guess = a.grade == Grade::Guess || b.grade == Grade::Guess;
    let grade = if guess { Grade::Guess } else { Grade::Window };
    let (earliest, latest) = (a.earliest.min(b.earliest), a.latest.max(b.latest));
    Day0::new(earliest, latest, grade).unwrap_or(a)
}
