//! A clock of the machine that jumps, while the service runs or while it is away: nothing that waits is cut short or
//! stretched by that, and people are told. What is stored stays as it is.

use super::{Outcome, Room};
use alarms::{AlarmKey, Condition};
use serde::{Deserialize, Serialize};
use store::{OutboxChange, ReadingRow};
use units::{Span, Time};

/// Name of the note under which the last jump is kept.
pub(crate) const NOTE: &str = "clock";
/// A clock that has not jumped again for so long runs evenly. A planning value.
const CALM: Span = Span::minutes(10);
/// A clock that is so far behind the newest reading at a start has gone back meanwhile: as far as a device's clock may be
/// ahead of ours, so that none is taken for that.
const BEHIND: Span = Span::minutes(5);

/// The last jump.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
pub(super) struct Jump {
    /// When, by the clock after it.
    at: Time,
    by: Span,
}

impl Jump {
    /// What the clock showed before it.
    fn before(self) -> Time {
        self.at - self.by
    }

    /// Whether the clock shows this time twice, before and after the jump.
    fn twice(self, t: Time) -> bool {
        self.at <= t && t < self.before()
    }
}

impl Room {
    /// The clock of this machine has jumped by `by` and shows `now`. To be told before anything is judged by the new time.
    pub fn clock_moved(&mut self, by: Span, now: Time, out: &mut Outcome) {
        self.shift(by, now);
        self.tell_jump(by, now, out);
    }

    /// Moves everything that waits, and what is shown beside "since".
    pub(super) fn shift(&mut self, by: Span, now: Time) {
        self.panel.shift(by);
        self.calls.shift(by);
        self.monitors.forget();
        self.judge.clock_moved(by);
        self.newest_fresh.values_mut().for_each(|heard| *heard += by);
        for hearing in self.hearing.values_mut() {
            hearing.message = hearing.message.map(|t| t + by);
            hearing.fresh.iter_mut().for_each(|t| *t += by);
        }
        for device in self.devices.values_mut() {
            device.said = device.said.map(|(online, since)| (online, since + by));
            device.alive = device.alive.map(|t| t + by);
        }
        for row in self.last.values_mut() {
            moved(row, by);
        }
        self.refusals.values_mut().for_each(|r| r.last += by);
        self.trends.values_mut().for_each(|t| t.shift(by));
        self.water.values_mut().for_each(|w| w.shift(by));
        // The night strip is drawn by the clock: what lies ahead of it is drawn anew.
        self.air.values_mut().for_each(|log| log.forget_after(now));
    }

    fn tell_jump(&mut self, by: Span, now: Time, out: &mut Outcome) {
        let jump = Jump { at: now, by };
        self.jump = Some(jump);
        out.batch.notes.push((NOTE.to_owned(), serde_json::to_string(&jump).unwrap_or_default()));
        self.keep_moved(jump, out);
        // One that stands from a jump before would hide this one.
        self.end_jump(now, out);
        self.trouble(Condition::ClockMoved, Some(&words(by)), now, out);
    }

    /// What is kept outside the panel and waits too.
    fn keep_moved(&mut self, jump: Jump, out: &mut Outcome) {
        if !self.devices.is_empty() {
            out.batch.notes.push((super::DEVICES_NOTE.to_owned(), self.devices_note()));
        }
        let heard: Vec<_> = self.hearing.keys().cloned().collect();
        heard.iter().for_each(|probe| self.keep_held(probe, out));
        if !self.setup.calls.is_empty() && jump.by < Span::ZERO {
            out.batch.outbox_changes.push(OutboxChange::Sooner { after: jump.at, by: -jump.by });
        }
    }

    fn end_jump(&mut self, now: Time, out: &mut Outcome) {
        if self.calm_at().is_some() {
            self.trouble(Condition::ClockMoved, None, now, out);
        }
    }

    /// When the alarm of a jump is over, while it stands.
    pub(super) fn calm_at(&self) -> Option<Time> {
        let alarm = self.panel.get(&AlarmKey::room(Condition::ClockMoved))?;
        alarm.since.filter(|_| alarm.state.standing()).map(|since| since + CALM)
    }

    /// Tells of a jump while the service was away, and ends the alarm of one that is over.
    pub(super) fn watch_clock(&mut self, now: Time, out: &mut Outcome) {
        if let Some(by) = self.untold_jump.take() {
            self.tell_jump(by, now, out);
        }
        if self.calm_at().is_some_and(|calm| calm <= now) {
            self.end_jump(now, out);
        }
    }

    /// Takes in the last jump before a restart.
    pub(super) fn restore_jump(&mut self, note: &str) -> Result<(), String> {
        let jump: Jump = serde_json::from_str(note).map_err(|e| format!("note {NOTE}: {e}"))?;
        self.jump = Some(jump);
        self.troubles.insert(AlarmKey::room(Condition::ClockMoved), words(jump.by));
        Ok(())
    }

    /// The time up to which readings have come in, if the clock has gone back past that while nobody looked.
    pub(super) fn unseen_jump(&self, rows: &[Vec<ReadingRow>], now: Time) -> Option<Time> {
        let newest = rows.iter().flatten().map(|r| r.received).max()?;
        let seen = self.jump.is_some_and(|j| j.twice(now) && newest <= j.before());
        Some(newest).filter(|_| newest - now > BEHIND && !seen)
    }

    /// Takes in a probe's stored readings where the clock has gone back past some of them, which is known: what came in
    /// before the jump stands in the way of nothing.
    pub(super) fn restore_twice(&mut self, rows: &[ReadingRow], now: Time) {
        let Some(jump) = self.jump.filter(|j| j.twice(now)) else { return self.restore_probe(rows, rows) };
        let (passed, once): (Vec<_>, Vec<_>) = rows.iter().cloned().partition(|r| jump.twice(r.received));
        for row in passed {
            self.judge.stands(&super::reading_of(&row));
        }
        self.restore_probe(&once, &since_jump(rows, jump, now));
    }
}

/// The rows that have come in by now; where there are none, what came in before, moved as the clock was.
fn since_jump(rows: &[ReadingRow], jump: Jump, now: Time) -> Vec<ReadingRow> {
    let by_now: Vec<_> = rows.iter().filter(|r| r.received <= now).cloned().collect();
    if !by_now.is_empty() {
        return by_now;
    }
    let mut before = rows.to_vec();
    before.iter_mut().for_each(|row| moved(row, jump.by));
    before
}

fn moved(row: &mut ReadingRow, by: Span) {
    row.time += by;
    row.received += by;
}

/// By how much, as the alarm says it: "+1 h 00 min".
fn words(by: Span) -> String {
    let sign = if by < Span::ZERO { "" } else { "+" };
    format!("{sign}{by}")
}
