//! Who is called for an alarm, by which way and when: routes by priority and hours, the next one when nobody takes it on, one
//! message that lists instead of fifty, and the all-clear to everybody who was told.
//!
//! What is to be sent goes into the outbox in the same transaction as the alarm itself; what is gathered for a moment, and who
//! has been told, is kept with it as one note.

mod by_message;
mod drill;
mod lane;
mod letter;
mod link;
mod page;
mod patience;
mod siren;

pub use link::LinkView;
pub(crate) use link::NOTE as LINK_NOTE;

use super::{Outcome, Room, is_witness};
use crate::config::{Call, Hours, NightMail};
use alarms::{AlarmKey, Cause, Condition, Flag, State, Transition};
use chrono_tz::Tz;
use lane::{Lane, Notice};
use letter::Kind;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use units::{ProbeKey, Span, Time};
use web::view::AlarmView;

/// Name of the note under which it is kept.
pub(crate) const NOTE: &str = "calls";

/// What is known of calls that are under way.
#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(default)]
pub(super) struct Calls {
    /// Alarms for which somebody is called.
    told: BTreeMap<String, Told>,
    /// By the name of the call.
    lanes: BTreeMap<String, Lane>,
    /// What lamps and sirens were told last, by topic.
    sirens: BTreeMap<String, bool>,
    /// From when drills are counted.
    began: Option<Time>,
    drills: Vec<drill::Drill>,
    tries: Vec<drill::Try>,
    #[serde(skip)]
    changed: bool,
    /// When somebody is to be called next. Asked at every turn of the engine, so it is kept until something moves.
    #[serde(skip)]
    due: Option<Time>,
    #[serde(skip)]
    due_known: bool,
    /// Ways by which nothing arrives just now, and why.
    #[serde(skip)]
    failing: BTreeMap<String, String>,
}

/// Who has been called for an alarm since it stands.
#[derive(Debug, Serialize, Deserialize)]
struct Told {
    /// When people are first called for it; later times of escalation count from here.
    called: Time,
    /// The same as a mark in links, which stays what it is when the clock is set.
    mark: i64,
    /// By the name of the call: the id of the first message, to which later ones belong.
    by: BTreeMap<String, String>,
}

impl Calls {
    /// The clock was set: what waits goes on waiting as long as before.
    pub(super) fn shift(&mut self, by: Span) {
        self.told.values_mut().for_each(|told| told.called += by);
        self.lanes.values_mut().for_each(|lane| lane.shift(by));
        self.changed = true;
    }

    fn is_failing(&self, call: &Call) -> bool {
        self.failing.contains_key(&call.way)
    }
}

impl Room {
    /// An alarm has moved: whoever is to know is told when the batch is closed.
    pub(super) fn call_for(&mut self, t: &Transition, alarm: &AlarmView, out: &mut Outcome) {
        self.calls.due_known = false;
        let Some(kind) = Kind::of(t) else { return };
        let key = t.key.to_string();
        if kind == Kind::Raised {
            let called = self.called_from(t);
            let told = Told { called, mark: t.at.millis(), by: BTreeMap::new() };
            self.calls.told.insert(key.clone(), told);
            self.calls.changed = true;
        }
        let waits = self.calls.told.get(&key).is_some_and(|told| told.called > t.at);
        for call in &self.setup.clone().calls {
            let told = self.calls.told.get(&key).is_some_and(|told| told.by.contains_key(&call.name));
            let first = kind.calls()
                && call.after == Span::ZERO
                && (call.program || !waits)
                && self.reaches(call, &t.key, alarm.priority, t.at);
            if told || first {
                self.tell(call, kind, t.at, alarm, out);
            }
        }
        if t.to == State::Normal {
            self.calls.changed |= self.calls.told.remove(&key).is_some();
        }
    }

    /// Whether a call is for such an alarm at that time.
    fn reaches(&self, call: &Call, key: &AlarmKey, priority: u8, at: Time) -> bool {
        let by_failing_way = key.condition == Condition::CannotDeliver && self.calls.is_failing(call);
        let drill = key.condition == Condition::Drill;
        (drill || priority <= call.priority)
            && call.hours.is_none_or(|h| h.hold(at, self.setup.zone))
            && !by_failing_way
    }

    fn tell(&mut self, call: &Call, kind: Kind, at: Time, alarm: &AlarmView, out: &mut Outcome) {
        let id = letter::id(self.setup.room.as_str(), &call.name, &alarm.id, at, kind);
        let mut thread = None;
        if let Some(told) = self.calls.told.get_mut(&alarm.id) {
            thread = Some(told.by.entry(call.name.clone()).or_insert_with(|| id.clone()).clone());
            self.calls.changed = true;
        }
        let notice = Notice { id, kind, at, thread, alarm: alarm.clone() };
        if call.program {
            let row = letter::row(self, call, &[notice]);
            out.batch.outbox.push(row);
        } else {
            self.calls.lanes.entry(call.name.clone()).or_default().waiting.push(notice);
            self.calls.changed = true;
        }
    }

    /// Calls the first person for what could wait, the next one for what nobody has taken on, and whoever's hours have begun.
    pub(super) fn escalate(&mut self, now: Time, out: &mut Outcome) {
        self.end_patience(now);
        let due = self.due_calls(Some(now));
        // Whoever is called in the same moment as the first has not been waited for.
        let known: BTreeSet<AlarmKey> =
            due.iter().map(|(key, _)| key).filter(|key| self.somebody_knows(key)).cloned().collect();
        for (key, call) in due {
            let view = self.panel.get(&key).map(|alarm| self.alarm_view(alarm, now));
            if let Some(view) = view {
                let kind = if known.contains(&key) { Kind::Escalated } else { Kind::Raised };
                self.tell(&call, kind, now, &view, out);
            }
        }
    }

    /// Whether a person, and not a program alone, has been called for an alarm.
    fn somebody_knows(&self, alarm: &AlarmKey) -> bool {
        let told = self.calls.told.get(&alarm.to_string());
        let people = self.setup.calls.iter().filter(|call| !call.program);
        told.is_some_and(|told| people.into_iter().any(|call| told.by.contains_key(&call.name)))
    }

    /// Calls that have not been made for alarms that nobody has taken on: those that are due at a time, or every one of them.
    fn due_calls(&self, at: Option<Time>) -> Vec<(AlarmKey, Call)> {
        let mut due = Vec::new();
        for (name, told) in &self.calls.told {
            let Some(alarm) = name.parse().ok().and_then(|key: AlarmKey| self.panel.get(&key)) else {
                continue;
            };
            if alarm.state != State::Unacknowledged || !alarm.flags.is_empty() {
                continue;
            }
            let priority = self.priority_of(alarm, told.called);
            for call in self.setup.calls.iter().filter(|call| !told.by.contains_key(&call.name)) {
                let when = at.unwrap_or_else(|| call.next(told.called, self.setup.zone));
                if call.next(told.called, self.setup.zone) <= when
                    && self.reaches(call, &alarm.key, priority, when)
                {
                    due.push((alarm.key.clone(), call.clone()));
                }
            }
        }
        due
    }

    /// When somebody is to be called next.
    pub(super) fn next_call(&self) -> Option<Time> {
        self.calls.due
    }

    /// Works that out anew, where something has moved or its time has come.
    fn note_next_call(&mut self, now: Time) {
        let known = self.calls.due_known && !self.calls.changed;
        if !known || self.calls.due.is_some_and(|due| due <= now) {
            self.calls.due = self.find_next_call();
            self.calls.due_known = true;
        }
    }

    fn find_next_call(&self) -> Option<Time> {
        let due = |(key, call): (AlarmKey, Call)| {
            let told = self.calls.told.get(&key.to_string())?;
            Some(call.next(told.called, self.setup.zone))
        };
        let escalations = self.due_calls(None).into_iter().filter_map(due);
        escalations.chain(self.calls.lanes.values().filter_map(Lane::due)).chain(self.drill_due()).min()
    }

    /// Puts what was gathered into the outbox, and keeps who was told.
    pub(super) fn send_calls(&mut self, now: Time, out: &mut Outcome) {
        for call in &self.setup.clone().calls {
            let gathered = self.calls.lanes.get_mut(&call.name).and_then(|lane| lane.take(now));
            if let Some(notices) = gathered {
                out.batch.outbox.push(letter::row(self, call, &notices));
                self.calls.changed = true;
            }
        }
        self.tell_sirens(out);
        self.note_next_call(now);
        if std::mem::take(&mut self.calls.changed) {
            let note = serde_json::to_string(&self.calls).unwrap_or_default();
            out.batch.notes.push((NOTE.to_owned(), note));
        }
    }

    /// By these ways nothing arrives just now, with the reasons: that is an alarm for those that are left.
    pub fn cannot_deliver(&mut self, failing: BTreeMap<String, String>, now: Time, out: &mut Outcome) {
        let mut used: BTreeSet<String> = self.setup.calls.iter().map(|call| call.way.clone()).collect();
        used.extend(self.setup.night.iter().flat_map(NightMail::ways));
        let failing: BTreeMap<String, String> =
            failing.into_iter().filter(|(way, _)| used.contains(way)).collect();
        let words: Vec<String> = failing.iter().map(|(way, why)| format!("{way}: {why}")).collect();
        (self.calls.failing, self.calls.due_known) = (failing, false);
        let words = (!words.is_empty()).then(|| words.join("; "));
        self.trouble(Condition::CannotDeliver, words.as_deref(), now, out);
    }

    /// An alarm is not watched any more.
    pub(super) fn forget_call(&mut self, key: &AlarmKey) {
        self.calls.changed |= self.calls.told.remove(&key.to_string()).is_some();
    }

    /// Takes in who was told before a restart.
    pub(super) fn restore_calls(&mut self, note: &str) -> Result<(), String> {
        self.calls = serde_json::from_str(note).map_err(|e| format!("note {NOTE}: {e}"))?;
        Ok(())
    }
}

impl Kind {
    /// What a move of an alarm is to people. `None` for what goes on beneath a flag.
    fn of(t: &Transition) -> Option<Self> {
        Some(match (t.cause, t.to) {
            (Cause::Flagged(Flag::Suppressed), _) => return None,
            (Cause::Flagged(_), _) => Kind::Shelved,
            _ if t.flag.is_some() => return None,
            (Cause::Again, _) => Kind::Repeated,
            (_, State::Unacknowledged) => Kind::Raised,
            (_, State::Acknowledged) => Kind::Acknowledged,
            // Somebody has looked at what was over already.
            (Cause::Person, _) => return None,
            _ => Kind::Cleared,
        })
    }
}

impl Call {
    /// When it is made for an alarm of which somebody was first told then.
    fn next(&self, called: Time, zone: Tz) -> Time {
        let at = called + self.after;
        self.hours.map_or(at, |hours: Hours| hours.next(at, zone))
    }
}
