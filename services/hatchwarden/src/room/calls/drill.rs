//! Drills: once a month a call through the whole chain to somebody's ear, and one way tried at once when somebody asks for it.

use super::letter::{self, Kind};
use super::{Calls, Outcome, Room};
use crate::config::{Call, Drills, Hours};
use alarms::{AlarmKey, Condition, State};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use serde_json::json;
use store::OutboxRow;
use units::{Span, Time};
use web::calls::{DrillView, TryView};
use web::keeper::Trouble;

/// A drill that nobody has answered in this time is over: nobody was reached. A planning value, longer than any escalation should be.
const ANSWER_WITHIN: Span = Span::hours(1);
/// So many are kept: a year of drills, and some tries.
const KEPT: usize = 24;

/// One drill.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Drill {
    at: Time,
    /// Who answered, and when.
    answered: Option<(String, Time)>,
}

/// One way that was tried.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Try {
    /// The id of its message.
    id: String,
    call: String,
    at: Time,
    by: String,
}

impl Room {
    /// Begins and ends drills.
    pub(in crate::room) fn drill(&mut self, now: Time, out: &mut Outcome) {
        let key = AlarmKey::room(Condition::Drill);
        let standing = self.panel.get(&key).filter(|a| a.state.standing());
        let answered = standing.and_then(|a| a.acknowledged.clone());
        let begun = standing.and_then(|a| a.since);
        match begun {
            Some(_) if answered.is_some() => self.end_drill(answered, now, out),
            Some(since) if now >= since + ANSWER_WITHIN => self.end_drill(None, now, out),
            None if self.next_drill().is_some_and(|due| due <= now) => {
                self.calls.drills.push(Drill { at: now, answered: None });
                trim(&mut self.calls.drills);
                self.calls.changed = true;
                self.trouble(Condition::Drill, Some("It is tried whether calls arrive"), now, out);
            }
            _ => {}
        }
    }

    fn end_drill(&mut self, answered: Option<(String, Time)>, now: Time, out: &mut Outcome) {
        if let Some(drill) = self.calls.drills.last_mut() {
            drill.answered = answered;
        }
        self.calls.changed = true;
        self.trouble(Condition::Drill, None, now, out);
    }

    /// When a drill begins or ends by itself next.
    pub(super) fn drill_due(&self) -> Option<Time> {
        let standing = self.panel.get(&AlarmKey::room(Condition::Drill)).filter(|a| a.state.standing());
        match standing {
            Some(alarm) if alarm.state == State::Acknowledged => alarm.since,
            Some(alarm) => alarm.since.map(|since| since + ANSWER_WITHIN),
            None => self.next_drill(),
        }
    }

    /// When the next drill begins; none where nobody is called.
    pub(super) fn next_drill(&self) -> Option<Time> {
        let drills = self.setup.drills.filter(|_| !self.setup.calls.is_empty())?;
        let from = self.calls.drills.last().map(|d| d.at).or(self.calls.began)?;
        Some(drills.next(from, self.setup.zone))
    }

    /// Drills are counted from the first start of the service with somebody to call.
    pub fn begin_drills(&mut self, now: Time) {
        if self.calls.began.is_none() && !self.setup.calls.is_empty() {
            self.calls.began = Some(now);
            self.calls.changed = true;
        }
    }

    /// Sends a message by one call now, whatever its hours.
    ///
    /// # Errors
    /// [`Trouble::NotFound`] when there is no such call.
    pub(in crate::room) fn try_call(
        &mut self,
        name: &str,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let setup = self.setup.clone();
        let call = setup.calls.iter().find(|c| c.name == name).ok_or_else(|| {
            let known: Vec<&str> = setup.calls.iter().map(|c| c.name.as_str()).collect();
            Trouble::NotFound(format!(
                "there is no call {name:?} in this room; there is {}",
                known.join(", ")
            ))
        })?;
        let id = letter::id(setup.room.as_str(), &call.name, "try", now, Kind::Raised);
        out.batch.outbox.push(tried(setup.room.as_str(), call, &id, by, now));
        self.calls.tries.push(Try { id, call: call.name.clone(), at: now, by: by.to_owned() });
        trim(&mut self.calls.tries);
        self.calls.changed = true;
        Ok(())
    }
}

fn tried(room: &str, call: &Call, id: &str, by: &str, now: Time) -> OutboxRow {
    let subject = format!("A test of {room}: nothing is wrong");
    let whom = call.person.as_deref().unwrap_or("this receiver");
    let message = format!(
        "{by} tries whether calls of {room} reach {whom} by {}. They do, if you read this. Nothing is wrong, and nothing needs to be done.",
        call.way
    );
    // Every key that an alarm has: a template that suits one is tried by this too.
    let data = json!({
        "id": "room.try", "room": room, "place": "room", "vessel": null, "condition": "drill", "state": "normal",
        "standing": false, "since": now, "ended": null, "priority": 5, "headline": subject, "subject": subject,
        "text": message, "message": message, "first_step": "Nothing needs to be done.", "clutch": null,
        "act_within": null, "acknowledged": null, "thread": null, "link": null
    });
    let body = json!({ "type": "call.tried", "timestamp": now, "data": data }).to_string();
    OutboxRow { id: id.to_owned(), way: call.way.clone(), created: now, next_try: now, body }
}

fn trim<T>(all: &mut Vec<T>) {
    if all.len() > KEPT {
        all.remove(0);
    }
}

impl Calls {
    /// Drills, the newest first.
    pub(super) fn drill_views(&self) -> Vec<DrillView> {
        self.drills.iter().rev().map(|d| DrillView { at: d.at, answered: d.answered.clone() }).collect()
    }

    /// Ways that were tried, the newest first.
    pub(super) fn try_views(&self) -> Vec<TryView> {
        let view = |t: &Try| TryView {
            id: t.id.clone(),
            call: t.call.clone(),
            at: t.at,
            by: t.by.clone(),
            fate: None,
        };
        self.tries.iter().rev().map(view).collect()
    }
}

impl Drills {
    /// The first such hour that many days after a time.
    fn next(&self, from: Time, zone: Tz) -> Time {
        let minute = Hours { from: self.at, to: (self.at + 1) % (24 * 60) };
        // A day less, and then the hour: a drill that began a little late does not wander.
        minute.next(from + Span::days(i64::from(self.every_days)) - Span::hours(12), zone)
    }
}
