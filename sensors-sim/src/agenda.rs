//! What is still to happen, in the order of time.

use crate::chance::Chance;
use crate::{Act, Event, Fault, Routine, Scenario};
use std::collections::BTreeMap;
use units::{Span, Time};

/// Something that happens at its moment.
#[derive(Debug, Clone)]
pub(crate) enum Item {
    Begins(Fault, Option<String>),
    Ends(Fault),
    Act {
        act: Act,
        note: Option<String>,
        forgotten: bool,
    },
    /// Something that was begun goes on in another way.
    Look,
    /// A day begins; its routines are to be set.
    Day(u32),
}

/// What is to happen; things at the same time stay in the order in which they were added.
#[derive(Debug, Clone)]
pub(crate) struct Agenda {
    items: BTreeMap<(Time, u64), Item>,
    added: u64,
    routines: Vec<(Routine, Chance)>,
    start: Time,
}

impl Agenda {
    pub(crate) fn new(scenario: &Scenario, seed: u64, start: Time) -> Self {
        let chance = |i: usize| Chance::named(seed, "routine", &i.to_string());
        let routines = scenario.routines.iter().cloned().enumerate().map(|(i, r)| (r, chance(i))).collect();
        let mut agenda = Self { items: BTreeMap::new(), added: 0, routines, start };
        agenda.add(start, Item::Day(1));
        for event in &scenario.events {
            agenda.event(event);
        }
        agenda
    }

    fn event(&mut self, event: &Event) {
        let at = event.at.after(self.start);
        if let Some(fault) = &event.fault {
            self.fault(at, fault, event);
        }
        if let Some(act) = &event.act {
            self.add(at, Item::Act { act: act.clone(), note: event.note.clone(), forgotten: false });
        }
    }

    fn fault(&mut self, at: Time, fault: &Fault, event: &Event) {
        self.add(at, Item::Begins(fault.clone(), event.note.clone()));
        if let Some(lasts) = event.lasts {
            self.add(at + lasts.span(), Item::Ends(fault.clone()));
        }
    }

    pub(crate) fn add(&mut self, at: Time, item: Item) {
        self.added += 1;
        self.items.insert((at, self.added), item);
    }

    #[cfg(test)]
    pub(crate) fn len(&self) -> usize {
        self.items.len()
    }

    pub(crate) fn next(&self) -> Option<Time> {
        self.items.first_key_value().map(|((at, _), _)| *at)
    }

    /// Takes the first item that is due.
    pub(crate) fn take(&mut self, now: Time) -> Option<Item> {
        if self.next()? > now {
            return None;
        }
        self.items.pop_first().map(|(_, item)| item)
    }

    /// Sets the routines of a day, and the next day.
    pub(crate) fn set_day(&mut self, day: u32) {
        let midnight = self.start + Span::days(i64::from(day) - 1);
        let mut set = Vec::new();
        for (routine, chance) in &mut self.routines {
            let since = i64::from(day) - i64::from(routine.from_day);
            if since < 0 || since % i64::from(routine.every_days.max(1)) != 0 {
                continue;
            }
            for hour in &routine.at {
                let forgotten = chance.hits(routine.forgets);
                let late = Span::from_millis((chance.unit() * routine.late.span().millis() as f64) as i64);
                let item = Item::Act { act: routine.act.clone(), note: None, forgotten };
                set.push((midnight + hour.after_midnight() + late, item));
            }
        }
        for (at, item) in set {
            self.add(at, item);
        }
        self.add(midnight + Span::days(1), Item::Day(day + 1));
    }
}
