//! What is gathered for one call, so that a bad minute is one message that lists and not fifty.

use super::letter::Kind;
use serde::{Deserialize, Serialize};
use units::{Span, Time};
use web::view::AlarmView;

/// After a message the next is gathered for so long, unless it is more urgent than what was said. A planning value: who has just
/// been woken reads one message before the next comes.
const GATHER: Span = Span::minutes(1);

/// One thing to be told.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Notice {
    pub(super) id: String,
    pub(super) kind: Kind,
    pub(super) at: Time,
    /// The id of the first message about the same alarm.
    pub(super) thread: Option<String>,
    pub(super) alarm: AlarmView,
}

/// One call's messages.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(super) struct Lane {
    /// When the last message went, and the most urgent priority in it.
    last: Option<(Time, u8)>,
    /// What waits to be told, oldest first.
    pub(super) waiting: Vec<Notice>,
}

impl Lane {
    /// When what waits is sent.
    pub(super) fn due(&self) -> Option<Time> {
        let first = self.waiting.first()?;
        Some(match self.last {
            Some((at, said)) if !self.waiting.iter().any(|n| n.is_more_urgent_than(said)) => at + GATHER,
            _ => first.at,
        })
    }

    pub(super) fn shift(&mut self, by: Span) {
        self.last = self.last.map(|(at, said)| (at + by, said));
    }

    /// Everything that waits, if its time has come.
    pub(super) fn take(&mut self, now: Time) -> Option<Vec<Notice>> {
        if self.due().is_none_or(|due| now < due) {
            return None;
        }
        let notices = std::mem::take(&mut self.waiting);
        let calls = notices.iter().filter(|n| n.kind.calls()).map(|n| n.alarm.priority);
        self.last = Some((now, calls.min().unwrap_or(u8::MAX)));
        Some(notices)
    }
}

impl Notice {
    fn is_more_urgent_than(&self, said: u8) -> bool {
        self.kind.calls() && self.alarm.priority < said
    }
}
