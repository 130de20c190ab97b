//! What a person wants done: an alarm taken on, a clutch opened, something recorded.

use super::tracked::Tracked;
use super::{Outcome, Room};
use alarms::{AlarmKey, Flag, Flagging};
use development::Changed;
use ledger::{Clutch, Entry, Event, Share, Way};
use readings::MapEntry;
use store::EntryRow;
use units::{ClutchId, Day0, Grade, Span, Time};
use web::keeper::{NewClutch, NewComparison, NewSpecies, Record, Shelving, Trouble};

/// A wish of a person.
#[derive(Debug, Clone)]
pub enum Wish {
    /// Take the alarm with this id on.
    Acknowledge(String),
    /// Take the alarm on that a link in a message is about.
    UseLink(String),
    /// A message by the call of that name, now.
    TryCall(String),
    /// The alarm with this id is to call nobody for a while.
    Shelve(String, Shelving),
    /// It is to call again as ever.
    Unshelve(String),
    /// A new clutch.
    OpenClutch(NewClutch),
    /// Something seen or done to a clutch.
    Record(ClutchId, Record),
    /// Anything that can be written into the account.
    Enter(Box<Event>),
    /// An entry for the topic map.
    Claim(Box<MapEntry>),
    /// A claimed entry is to leave the map.
    Release(u64),
    /// A probe was compared with a reference.
    Compare(NewComparison),
    /// A comparison was a mistake.
    WithdrawComparison(u64),
    /// A species entry.
    EnterSpecies(Box<NewSpecies>),
    /// A species entry of the page is to leave the table.
    WithdrawSpecies(String),
    /// Calendars are to ask under this token, which nobody can guess, and no more under the one before.
    NewAddress(String),
}

/// Longest entry of the account, bytes.
const LONGEST_ENTRY: usize = 8 * 1024;
/// A time a little ahead is a slip between two clocks; more than this is a slip of the pen.
const AHEAD: Span = Span::minutes(5);

impl Room {
    /// Carries a wish out or says why not; nothing is changed then.
    ///
    /// # Errors
    /// [`Trouble`] naming the field, the value and the cure.
    pub fn wish(&mut self, wish: Wish, by: &str, now: Time, out: &mut Outcome) -> Result<(), Trouble> {
        match wish {
            Wish::Acknowledge(id) => self.acknowledge(&id, by, now, out),
            Wish::UseLink(token) => self.use_link(&token, now, out),
            Wish::TryCall(name) => self.try_call(&name, by, now, out),
            Wish::Shelve(id, shelving) => self.shelve(&id, &shelving, by, now, out),
            Wish::Unshelve(id) => self.unshelve(&id, now, out),
            Wish::Claim(entry) => self.claim(*entry, by, now, out),
            Wish::Release(claim) => self.release(claim, by, now, out),
            Wish::Compare(new) => self.compare(new, by, now, out),
            Wish::EnterSpecies(new) => self.enter_species(&new, by, now, out),
            Wish::WithdrawSpecies(key) => self.withdraw_species(&key, by, now, out),
            Wish::WithdrawComparison(number) => self.withdraw_comparison(number, by, now, out),
            Wish::NewAddress(token) => {
                self.set_address(token, Some(by), now, out);
                Ok(())
            }
            Wish::OpenClutch(new) => self.enter_checked(opening(new, now)?, by, now, out),
            Wish::Record(clutch, what) => {
                if self.account.clutch(&clutch).is_none() {
                    return Err(Trouble::NotFound(format!("there is no clutch {clutch} in this room")));
                }
                self.enter_checked(recording(clutch, what, now)?, by, now, out)
            }
            Wish::Enter(event) => self.enter_checked(*event, by, now, out),
        }
    }

    pub(super) fn acknowledge(
        &mut self,
        id: &str,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let nothing = || Trouble::NotFound(format!("no alarm {id} stands in this room"));
        let key = id.parse().map_err(|_| nothing())?;
        if self.panel.get(&key).is_none() {
            return Err(nothing());
        }
        let moved = self.panel.acknowledge(&key, by, now).map_err(|e| refused("alarm", &e))?;
        self.note_transitions(&moved, now, out);
        Ok(())
    }

    fn shelve(
        &mut self,
        id: &str,
        shelving: &Shelving,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let key = self.watched(id)?;
        let until = now + Span::minutes(i64::from(shelving.minutes));
        let flagging = Flagging::new(by, shelving.why.trim(), now).until(until);
        let longest = self.panel.get(&key).map(|a| a.settings.may_be_shelved_for());
        if let Some(longest) = longest.filter(|longest| until - now > *longest) {
            let reason =
                format!("{} is too long; this alarm may be shelved for {longest} at most", until - now);
            return Err(refused("minutes", reason));
        }
        let field = if shelving.why.trim().is_empty() { "why" } else { "minutes" };
        let moved = self.panel.flag(&key, Flag::Shelved, flagging).map_err(|e| refused(field, &e))?;
        self.note_transitions(&moved, now, out);
        Ok(())
    }

    fn unshelve(&mut self, id: &str, now: Time, out: &mut Outcome) -> Result<(), Trouble> {
        let key = self.watched(id)?;
        let moved = self.panel.unflag(&key, Flag::Shelved, now).map_err(|e| refused("alarm", &e))?;
        self.note_transitions(&moved, now, out);
        Ok(())
    }

    /// The alarm of that id, whether it stands or not.
    fn watched(&self, id: &str) -> Result<AlarmKey, Trouble> {
        let key = id.parse().ok().filter(|key| self.panel.get(key).is_some());
        key.ok_or_else(|| Trouble::NotFound(format!("no alarm {id} is watched in this room")))
    }

    /// Writes down what the room has nothing against: the time has come, vessels and species entry are known.
    fn enter_checked(&mut self, event: Event, by: &str, now: Time, out: &mut Outcome) -> Result<(), Trouble> {
        match &event {
            Event::ClutchOpened { fish, species, day0, .. } => {
                self.known_species(species)?;
                if fish.trim().is_empty() {
                    return Err(refused("fish", "say what fish it is, e.g. Astatotilapia burtoni"));
                }
                not_ahead("day0_earliest", day0.earliest, now)?;
                not_ahead("day0_latest", day0.latest, now)?;
            }
            Event::Day0Corrected { day0, .. } => {
                not_ahead("day0_earliest", day0.earliest, now)?;
                not_ahead("day0_latest", day0.latest, now)?;
            }
            event => not_ahead("at", event.at(), now)?,
        }
        event.vessels().into_iter().try_for_each(|v| self.known_vessel(v))?;
        self.enter(event, by, now, out)
    }

    fn known_species(&self, species: &str) -> Result<(), Trouble> {
        if self.species.get(species).is_some() {
            return Ok(());
        }
        let known: Vec<&str> = self.species.iter().map(|s| s.key.as_str()).collect();
        let reason = format!("{species:?} is not a species entry; use one of {}", known.join(", "));
        Err(Trouble::Refused { field: "species".to_owned(), reason })
    }

    fn known_vessel(&self, vessel: &units::VesselId) -> Result<(), Trouble> {
        if self.setup.vessel(vessel).is_some() {
            return Ok(());
        }
        let known: Vec<&str> = self.setup.vessels.iter().map(|v| v.id.as_str()).collect();
        let reason = format!("{vessel} is not a vessel of this room; use one of {}", known.join(", "));
        Err(Trouble::Refused { field: "vessel".to_owned(), reason })
    }

    /// Writes an event into the account; what follows for courses and watches follows at once.
    ///
    /// # Errors
    /// [`Trouble`] naming what the account says against it.
    pub(crate) fn enter(
        &mut self,
        event: Event,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let clutches = self.account.touched(&event);
        let changed = event.clutch().and_then(|id| changed(&event, self.account.clutch(id)));
        let json = serde_json::to_string(&event).map_err(|e| Trouble::Unable(e.to_string()))?;
        if json.len() > LONGEST_ENTRY {
            return Err(refused(
                "event",
                format!("it is longer than {LONGEST_ENTRY} bytes; shorten its words"),
            ));
        }
        let entry = Entry { id: self.next_entry, recorded: now, by: by.to_owned(), event };
        self.account.apply(entry).map_err(|e| refused(e.field(), e.reason()))?;
        out.batch.entries.push(EntryRow { id: self.next_entry, recorded: now, by: by.to_owned(), json });
        self.next_entry += 1;
        if clutches.is_empty() {
            return Ok(());
        }
        self.follow(&clutches, changed);
        self.watch_all(now);
        self.unwatch_empty(now, out);
        Ok(())
    }

    /// Follows clutches whose account has changed, the first of them for a reason of its own.
    fn follow(&mut self, clutches: &[ClutchId], changed: Option<Changed>) {
        clutches.iter().for_each(|id| self.track(id));
        if let Some(tracked) = clutches.first().and_then(|id| self.tracked.get_mut(id)) {
            tracked.changed = changed.or(tracked.changed.take());
        }
        self.wanted.extend(clutches.iter().cloned());
    }

    /// Begins to follow a clutch that is in hand.
    pub(super) fn track(&mut self, id: &ClutchId) {
        let Some(clutch) = self.account.clutch(id) else {
            self.tracked.remove(id); // The entry that it began with was withdrawn.
            return;
        };
        if self.tracked.get(id).is_some_and(|t| t.species.key != clutch.species) {
            self.tracked.remove(id);
        }
        if clutch.closed.is_some() {
            self.tracked.remove(id);
        } else if !self.tracked.contains_key(id)
            && let Some(species) = self.entry_of(clutch)
        {
            self.tracked.insert(id.clone(), Tracked::new(species, clutch));
        }
        self.doubt(id);
    }
}

fn opening(new: NewClutch, now: Time) -> Result<Event, Trouble> {
    let day0 = day0(new.day0_earliest, new.day0_latest, new.day0_grade, now)?;
    let NewClutch { id: clutch, fish, species, mother, vessel, .. } = new;
    Ok(Event::ClutchOpened { clutch, fish: fish.trim().to_owned(), species, mother, day0, vessel })
}

fn recording(clutch: ClutchId, what: Record, now: Time) -> Result<Event, Trouble> {
    Ok(match what {
        Record::Strip { at, vessel, alive, dead } => {
            let (how, stages, about) = (Way::Stripped, Vec::new(), None);
            Event::Taken { clutch, at, vessel, alive, dead, how, stages, about }
        }
        Record::Move { at, vessel } => Event::Moved { clutch, at, vessel, from: None, counted: None },
        Record::Seen { at, stage, not_before, already } => {
            Event::StageSeen { clutch, at, stage, share: Share::Half, not_before, already }
        }
        Record::Withdraw { entry } => Event::Withdrawn { clutch: Some(clutch), at: now, entry },
        Record::Day0 { earliest, latest, grade } => {
            Event::Day0Corrected { clutch, at: now, day0: day0(earliest, latest, grade, now)? }
        }
        Record::Loss { at, count, reason } => Event::Lost { clutch, at, count, reason, from: None },
    })
}

/// Day 0 as a keeper gives it.
fn day0(earliest: Time, latest: Option<Time>, grade: Grade, now: Time) -> Result<Day0, Trouble> {
    let latest = latest.unwrap_or(earliest);
    not_ahead("day0_earliest", earliest, now)?;
    not_ahead("day0_latest", latest, now)?;
    Day0::new(earliest, latest, grade).map_err(|e| refused("day0_latest", e))
}

/// What an entry can have moved a date by, of a clutch as it was before.
fn changed(event: &Event, before: Option<&Clutch>) -> Option<Changed> {
    match event {
        Event::StageSeen { stage, .. } if before.is_some_and(|c| c.seen.iter().any(|s| s.sign == *stage)) => {
            Some(Changed::Corrected)
        }
        Event::Withdrawn { .. } => Some(Changed::Corrected),
        Event::Day0Corrected { .. } => Some(Changed::Day0),
        Event::Taken { vessel, .. } | Event::Moved { vessel, .. } => {
            Some(Changed::Moved { to: vessel.to_string() })
        }
        Event::StageSeen { stage, at, .. } => Some(Changed::Seen { stage: *stage, at: *at }),
        _ => None,
    }
}

fn refused(field: &str, reason: impl std::fmt::Display) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason: reason.to_string() }
}

pub(super) fn not_ahead(field: &str, t: Time, now: Time) -> Result<(), Trouble> {
    if t <= now + AHEAD {
        return Ok(());
    }
    Err(refused(field, format!("{t} has not come yet (now is {now}); write when it happened")))
}
