//! Takes an event that fits into a clutch: its lines, its places, its dates.

use crate::book::{Line, Side};
use crate::clutch::Left;
use crate::{Clutch, Entry, Event};
use units::{ClutchId, Time, VesselId};

/// When, by which entry and why a line is written.
struct Because<'a> {
    at: Time,
    entry: u64,
    why: &'a str,
}

impl Clutch {
    /// Takes in an event that fits.
    pub(crate) fn add(&mut self, entry: Entry) {
        let (at, words) = (entry.event.at(), entry.event.words(&|t| t.to_string()));
        let because = Because { at, entry: entry.id, why: &words };
        self.count(&entry.event, &because);
        self.note(&entry.event);
        self.keep(entry);
        self.seen = self.sightings();
        self.settle(at);
    }

    /// Entries stand in the order of entering, whenever what they tell of happened.
    pub(crate) fn keep(&mut self, entry: Entry) {
        let i = self.entries.partition_point(|e| e.id < entry.id);
        self.entries.insert(i, entry);
    }

    /// What an event says beside counts.
    fn note(&mut self, event: &Event) {
        match event {
            Event::Taken { at, vessel, how, .. } => {
                self.taken = Some(*at);
                self.left_her = Some((*at, Left::Taken(*how)));
                self.place(*at, vessel.clone());
            }
            Event::Moved { at, vessel, from: None, .. } => self.place(*at, vessel.clone()),
            Event::Moved { at, vessel, from: Some(from), .. } if self.place_now() == Some(from) => {
                self.place(*at, vessel.clone());
            }
            Event::Closed { at, .. } => self.closed = Some(*at),
            Event::HoldEnded(e) => {
                self.left_her = Some((e.at, Left::Ended(e.how)));
                self.closed = Some(e.at);
            }
            Event::PathChosen(e) => self.path = Some(e.path),
            Event::Day0Corrected { day0, .. } => {
                self.day0 = *day0;
                // She was in her first place from spawning on, whenever that was.
                if let Some(first) = self.places.first_mut() {
                    first.0 = day0.earliest;
                }
            }
            _ => {}
        }
    }

    fn count(&mut self, event: &Event, b: &Because<'_>) {
        match event {
            Event::Taken { vessel, alive, dead, .. } => {
                self.line(b, *alive, Side::Mother, Side::Vessel(vessel.clone()));
                self.line(b, *dead, Side::Mother, Side::Dead);
                self.alive = Some(0);
            }
            Event::Moved { vessel, from, counted, .. } => {
                self.count_moved(b, from.as_ref(), vessel, *counted);
            }
            Event::Lost { count, from, .. } => self.leave(b, *count, from.as_ref(), &Side::Dead),
            Event::LookedAt(e) => self.leave(b, e.dead, e.from.as_ref(), &Side::Dead),
            Event::Split(e) => self.leave(b, e.count, e.from.as_ref(), &Side::Vessel(e.vessel.clone())),
            Event::Escaped(e) => self.leave(b, e.count - e.caught, e.from.as_ref(), &Side::Escaped),
            Event::Culled(e) => self.leave(b, e.count, e.from.as_ref(), &Side::Culled),
            Event::HandedOn(e) => self.leave(b, e.count, e.from.as_ref(), &Side::HandedOn),
            Event::HeldBack(e) => {
                let Ok(from) = self.draw(e.count, e.from.as_ref(), "") else { return };
                let into = e.vessel.clone().unwrap_or_else(|| from.clone());
                self.line(b, e.count, Side::Vessel(from), Side::HeldBack(into));
            }
            Event::Graded(e) => {
                if let Some(into) = &e.vessel {
                    self.leave(b, e.runts, e.from.as_ref(), &Side::Vessel(into.clone()));
                }
            }
            Event::Recounted(e) => self.count_again(b, &e.vessel, e.count),
            Event::Found(e) => {
                let escaped = u32::try_from(self.book.on(&Side::Escaped)).unwrap_or(0).min(e.count);
                self.line(b, escaped, Side::Escaped, Side::Vessel(e.vessel.clone()));
                self.line(b, e.count - escaped, Side::Unexplained, Side::Vessel(e.vessel.clone()));
            }
            _ => {}
        }
    }

    fn line(&mut self, b: &Because<'_>, count: u32, from: Side, to: Side) {
        self.book.write(Line { at: b.at, entry: b.entry, count, from, to, why: b.why.to_owned() });
    }

    /// Some leave the vessel they are in.
    fn leave(&mut self, b: &Because<'_>, count: u32, from: Option<&VesselId>, to: &Side) {
        if count > 0
            && let Ok(from) = self.draw(count, from, "")
        {
            self.leave_vessel(b, count, &from, to);
        }
    }

    /// Those held back leave a vessel only when no others are left there; in another vessel they stay what they are.
    fn leave_vessel(&mut self, b: &Because<'_>, count: u32, from: &VesselId, to: &Side) {
        let growing = Side::Vessel(from.clone());
        let first = u32::try_from(self.book.on(&growing)).unwrap_or(0).min(count);
        self.line(b, first, growing, to.clone());
        let still = match to {
            Side::Vessel(v) => Side::HeldBack(v.clone()),
            other => other.clone(),
        };
        self.line(b, count - first, Side::HeldBack(from.clone()), still);
    }

    fn count_moved(&mut self, b: &Because<'_>, from: Option<&VesselId>, to: &VesselId, counted: Option<u32>) {
        let counts = self.counts().into_iter().filter(|(v, _)| *v != to && from.is_none_or(|f| f == *v));
        let leaving: Vec<(VesselId, u32)> = counts.map(|(v, n)| (v.clone(), n)).collect();
        let before = self.count_in(to).unwrap_or(0);
        let came: u32 = leaving.iter().map(|(_, n)| n).sum();
        for (vessel, n) in leaving {
            self.leave_vessel(b, n, &vessel, &Side::Vessel(to.clone()));
        }
        if let Some(counted) = counted {
            let there = if came == 0 { 0 } else { before };
            self.count_again(b, to, there.saturating_add(counted));
        }
    }

    /// What a count differs by is unexplained; the first count of all is where they come from.
    fn count_again(&mut self, b: &Because<'_>, vessel: &VesselId, count: u32) {
        let here = Side::Vessel(vessel.clone());
        if self.alive.is_none() {
            self.alive = Some(0);
            return self.line(b, count, Side::Mother, here);
        }
        let known = self.count_in(vessel).unwrap_or(0);
        if count > known {
            self.line(b, count - known, Side::Unexplained, here);
        } else {
            self.leave_vessel(b, known - count, vessel, &Side::Unexplained);
        }
    }

    /// So many go over to another clutch or a group.
    pub(crate) fn give(&mut self, entry: &Entry, count: u32, from: Option<&VesselId>, to: &ClutchId) {
        let words = entry.event.words(&|t| t.to_string());
        let b = Because { at: entry.event.at(), entry: entry.id, why: &words };
        self.leave(&b, count, from, &Side::With(to.clone()));
        self.keep(entry.clone());
        self.settle(b.at);
    }

    /// So many come from another clutch or a group.
    pub(crate) fn receive(&mut self, entry: &Entry, count: u32, from: &ClutchId, vessel: &VesselId) {
        let words = entry.event.words(&|t| t.to_string());
        let b = Because { at: entry.event.at(), entry: entry.id, why: &words };
        self.line(&b, count, Side::With(from.clone()), Side::Vessel(vessel.clone()));
        self.alive = self.alive.or(Some(0));
        self.settle(b.at);
    }

    /// Brings what follows from the lines up to date.
    fn settle(&mut self, at: Time) {
        if self.alive.is_none() {
            return;
        }
        let alive = self.book.alive();
        match (self.alive, alive) {
            (_, 0) if self.emptied.is_none() => self.emptied = Some(at),
            (_, 0) => {}
            _ => self.emptied = None,
        }
        self.alive = Some(alive);
        let counts = self.counts();
        if self.place_now().is_some_and(|v| counts.contains_key(v)) {
            return;
        }
        let most =
            counts.iter().max_by_key(|(v, n)| (**n, std::cmp::Reverse(**v))).map(|(v, _)| (*v).clone());
        if let Some(vessel) = most {
            self.place(at, vessel);
        }
    }
}
