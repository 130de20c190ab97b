//! The room, driven by a record.

use super::recording::{Line, What};
use crate::room::{Outcome, Room, Setup, Wanted, Wish};
use alarms::AlarmKey;
use readings::Message;
use serde_json::json;
use std::collections::BTreeMap;
use std::sync::Arc;
use store::{AlarmRow, Batch};
use units::{ProbeKey, Quantity, Time};

/// One transition of an alarm.
#[derive(Debug)]
pub(super) struct Change {
    pub(super) at: Time,
    /// The same on the room's clock.
    pub(super) clock: String,
    pub(super) key: AlarmKey,
    pub(super) from: String,
    pub(super) to: String,
    pub(super) text: String,
}

/// A room without a store: what a course needs again is remembered here.
pub(super) struct Play {
    room: Room,
    now: Time,
    /// Temperatures as they were read, by the time they were measured.
    read: BTreeMap<ProbeKey, BTreeMap<Time, f64>>,
    changes: Vec<Change>,
    /// What had no effect, and how often.
    passed_over: BTreeMap<String, u64>,
}

impl Play {
    pub(super) fn new(setup: Setup) -> Result<Self, String> {
        let room = Room::new(Arc::new(setup)).map_err(|e| e.to_string())?;
        let now = Time::from_millis(i64::MIN);
        Ok(Self { room, now, read: BTreeMap::new(), changes: Vec::new(), passed_over: BTreeMap::new() })
    }

    /// Lets time pass up to a line, and takes it in. What falls due at its very moment is judged after it, as it is live.
    pub(super) fn line(&mut self, line: &Line) -> Result<(), String> {
        self.pass(line.arrived, false);
        self.now = line.arrived;
        let mut out = Outcome::default();
        let taken = self.take(&line.what, &mut out);
        self.close(out);
        taken
    }

    fn take(&mut self, what: &What, out: &mut Outcome) -> Result<(), String> {
        match what {
            What::Reading { probe, .. } if probe.mark.is_some() => Ok(()),
            What::Reading { probe, time, value } => {
                let payload = json!({ "v": value, "t": time }).to_string();
                self.message(&format!("{}/{}", probe.vessel, probe.quantity), &payload, out);
                Ok(())
            }
            What::Availability { vessel, online } => {
                let said = if *online { "online" } else { "offline" };
                self.message(&format!("{vessel}/availability"), said, out);
                Ok(())
            }
            What::Event { event, by } => {
                self.room.enter((**event).clone(), by, self.now, out).map_err(|e| e.to_string())
            }
            What::Compare { comparison, by } => {
                let taken = self.room.take_comparison(comparison, by, self.now, out);
                taken.map_err(|e| e.to_string())
            }
            What::WithdrawComparison { number, by } => self
                .room
                .wish(Wish::WithdrawComparison(*number), by, self.now, out)
                .map_err(|e| e.to_string()),
            What::Acknowledge { alarm, by } => {
                // By other settings than those of the record it may not stand at all; that is what was to be found out.
                let wish = Wish::Acknowledge(alarm.to_string());
                if self.room.wish(wish, by, self.now, out).is_err() {
                    self.pass_over(format!("{alarm}: acknowledged then, and it does not stand here"));
                }
                Ok(())
            }
        }
    }

    fn pass_over(&mut self, what: String) {
        *self.passed_over.entry(what).or_default() += 1;
    }

    fn message(&mut self, place: &str, payload: &str, out: &mut Outcome) {
        let topic = format!("hatchwarden/{}/{place}", self.room.setup().room);
        let message =
            Message { topic: &topic, payload: payload.as_bytes(), retained: false, received: self.now };
        self.room.message(&message, self.now, out);
    }

    /// Lets time pass after the last line: what falls due at its moment, and up to `until`.
    pub(super) fn end(&mut self, until: Option<Time>) {
        self.pass(until.unwrap_or(self.now).max(self.now), true);
    }

    /// Does what falls due before `to`, or up to it, each at its own moment.
    fn pass(&mut self, to: Time, with_end: bool) {
        while let Some(due) = self.room.next_due().filter(|due| *due < to || (with_end && *due <= to)) {
            self.now = due.max(self.now);
            let mut out = Outcome::default();
            self.room.tick(self.now, &mut out);
            self.close(out);
        }
    }

    fn close(&mut self, mut out: Outcome) {
        self.room.close_batch(self.now, &mut out);
        self.keep(out.batch);
        let wanted = self.room.take_wanted();
        if wanted.is_empty() {
            return;
        }
        for w in wanted {
            let points = self.points(&w);
            self.room.fill_course(&w.clutch, points);
        }
        let mut out = Outcome::default();
        self.room.close_batch(self.now, &mut out);
        self.keep(out.batch);
    }

    fn keep(&mut self, batch: Batch) {
        for r in batch.readings.into_iter().filter(|r| r.probe.quantity == Quantity::Temperature) {
            self.read.entry(r.probe).or_default().insert(r.time, r.value);
        }
        for r in batch.refusals {
            self.pass_over(format!("{}: refused as it would be live, {}", r.place, r.reason));
        }
        // One that only calls again has not changed.
        for row in batch.alarm_log.into_iter().filter(|row| row.from != row.to) {
            self.changes.extend(self.change(row));
        }
    }

    fn change(&self, row: AlarmRow) -> Option<Change> {
        let AlarmRow { key, at, from, to, text } = row;
        let key = key.parse().ok()?; // the room writes no other
        Some(Change { at, clock: self.room.setup().day_text(at), key, from, to, text })
    }

    /// The temperatures of a clutch, from those read so far.
    fn points(&self, wanted: &Wanted) -> Vec<(Time, f64)> {
        let mut points = Vec::new();
        for (vessel, from, to) in wanted.spans.iter().filter(|(_, from, to)| from < to) {
            let probe = ProbeKey::new(vessel.clone(), Quantity::Temperature);
            let read = self.read.get(&probe).into_iter().flat_map(|all| all.range(*from..*to));
            points.extend(read.map(|(t, v)| (*t, wanted.offsets.corrected(&probe, *t, *v))));
        }
        points
    }

    /// Every transition so far, in order of time.
    pub(super) fn changes(&self) -> &[Change] {
        &self.changes
    }

    /// What had no effect, and how often.
    pub(super) fn passed_over(&self) -> &BTreeMap<String, u64> {
        &self.passed_over
    }
}
