//! What flags and the passing of time do to an alarm: it is put away, comes back, calls again.

use crate::{Alarm, Cause, Flag, Flagging, State, Transition, Trigger, step};
use units::{Span, Time};

impl Alarm {
    /// Sets a flag, or renews it.
    pub(crate) fn flag(&mut self, flag: Flag, flagging: Flagging) -> Transition {
        let at = flagging.at;
        self.flags.set(flag, flagging);
        self.move_to(self.state, false, at, Cause::Flagged(flag))
    }

    /// Ends a flag. With the last one the alarm is what its condition alone would make of it, as if it had just come:
    /// what was acknowledged, unseen or latched before does not count any more (rows G, H and I of the table).
    pub(crate) fn unflag(&mut self, flag: Flag, at: Time) -> Option<Transition> {
        self.flags.take(flag)?;
        let cause = Cause::Unflagged(flag);
        if !self.flags.is_empty() {
            return Some(self.move_to(self.state, false, at, cause));
        }
        self.acknowledged = None;
        let (to, announce) = if self.state.standing() {
            step(State::Normal, Trigger::ConditionTrue, self.rules())
        } else {
            (State::Normal, false)
        };
        Some(self.move_to(to, announce, at, cause))
    }

    /// Ends the flags that are over.
    pub(crate) fn lapse(&mut self, now: Time, moved: &mut Vec<Transition>) {
        while let Some(flag) = self.flags.over(now) {
            moved.extend(self.unflag(flag, now));
        }
    }

    /// A one-shot shelving has had its turn.
    pub(crate) fn end_once(&mut self, now: Time, moved: &mut Vec<Transition>) {
        if self.flags.get(Flag::Shelved).is_some_and(|f| f.once) {
            moved.extend(self.unflag(Flag::Shelved, now));
        }
    }

    /// Lets time pass: flags end, delays run out, what nobody has taken on calls again.
    pub(crate) fn pass(&mut self, now: Time, moved: &mut Vec<Transition>) {
        self.lapse(now, moved);
        self.mature(now, moved);
        if self.again_due().is_some_and(|due| due <= now) {
            moved.extend(self.pull(Trigger::ReAlarm, now));
        }
    }

    /// When time alone moves it next.
    pub(crate) fn due(&self) -> Option<Time> {
        [self.detector.due(&self.settings), self.flags.next_end(), self.again_due()]
            .into_iter()
            .flatten()
            .min()
    }

    /// When it calls again if nobody takes it on. An alarm that was kept before announcements were has called since it
    /// stands.
    fn again_due(&self) -> Option<Time> {
        let every = self.settings.again_after.filter(|every| *every > Span::ZERO)?;
        if self.state != State::Unacknowledged || !self.flags.is_empty() {
            return None;
        }
        self.announced.or(self.since).map(|t| t + every)
    }
}
