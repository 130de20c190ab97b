//! What goes into the store and comes out of it.

use crate::AnswerRow;
use crate::access::{AccessChange, AuditRow};
use units::{ProbeKey, Span, Time};

/// What is written together: all of it is on disk, or none of it is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Batch {
    /// Readings. One stands per probe and time, the first; a repeat changes nothing.
    pub readings: Vec<ReadingRow>,
    /// Refusals, kept as one counter per place and reason.
    pub refusals: Vec<RefusalRow>,
    /// Entries of the account; only ever added.
    pub entries: Vec<EntryRow>,
    /// Changes of alarms; only ever added.
    pub alarm_log: Vec<AlarmRow>,
    /// The snapshot of each alarm by its key; `None` removes it.
    pub alarm_states: Vec<(String, Option<String>)>,
    /// The projection of each clutch; replaces the one before.
    pub projections: Vec<ProjectionRow>,
    /// Shifts worth keeping; only ever added.
    pub shifts: Vec<ShiftRow>,
    /// What is to be delivered. An id that was here before changes nothing.
    pub outbox: Vec<OutboxRow>,
    /// What became of deliveries.
    pub outbox_changes: Vec<OutboxChange>,
    /// Small values by name; replace the ones before.
    pub notes: Vec<(String, String)>,
    /// Changes of who may do what, in their order; one that cannot be done refuses the whole batch.
    pub access: Vec<AccessChange>,
    /// Lines of the audit log; only ever added.
    pub audit: Vec<AuditRow>,
    /// Answers to changes; the newest under a key counts.
    pub answers: Vec<AnswerRow>,
}

impl Batch {
    /// True when there is nothing to write.
    pub fn is_empty(&self) -> bool {
        self.rows() == 0
    }

    /// Puts what came later behind what is here.
    pub fn append(&mut self, later: Batch) {
        self.readings.extend(later.readings);
        self.refusals.extend(later.refusals);
        self.entries.extend(later.entries);
        self.alarm_log.extend(later.alarm_log);
        self.alarm_states.extend(later.alarm_states);
        self.projections.extend(later.projections);
        self.shifts.extend(later.shifts);
        self.outbox.extend(later.outbox);
        self.outbox_changes.extend(later.outbox_changes);
        self.notes.extend(later.notes);
        self.access.extend(later.access);
        self.audit.extend(later.audit);
        self.answers.extend(later.answers);
    }

    /// How many rows this batch carries.
    pub fn rows(&self) -> usize {
        self.readings.len()
            + self.refusals.len()
            + self.entries.len()
            + self.alarm_log.len()
            + self.alarm_states.len()
            + self.projections.len()
            + self.shifts.len()
            + self.outbox.len()
            + self.outbox_changes.len()
            + self.notes.len()
            + self.access.len()
            + self.audit.len()
            + self.answers.len()
    }
}

/// What a commit did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Committed {
    /// Readings that were not there before.
    pub new_readings: usize,
    /// Readings whose probe and time stood already; they changed nothing.
    pub repeats: usize,
}

/// One accepted value of one probe at one time.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingRow {
    /// Which probe.
    pub probe: ProbeKey,
    /// When it was measured.
    pub time: Time,
    /// In the base unit of the probe's quantity; finite.
    pub value: f64,
    /// When it arrived.
    pub received: Time,
    /// The device's own count, where it sends one.
    pub sequence: Option<u64>,
    /// True if it told the present when it arrived; false for late and retained ones.
    pub fresh: bool,
    /// Remarks of the judge, as bits that only the judge explains.
    pub flags: u16,
}

/// One message or value that was not accepted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RefusalRow {
    /// Where it came from: a topic or a probe.
    pub place: String,
    /// Why.
    pub reason: String,
    /// When it arrived.
    pub at: Time,
    /// A piece of it to recognise it by.
    pub excerpt: String,
}

/// All refusals of one place for one reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RefusalCount {
    /// Where they came from.
    pub place: String,
    /// Why.
    pub reason: String,
    /// How many.
    pub count: u64,
    /// When the earliest arrived.
    pub first: Time,
    /// When the latest arrived.
    pub last: Time,
    /// A piece of the latest.
    pub excerpt: String,
}

/// Refusals of a stretch of time.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RefusedBetween {
    /// Place, reason and how many.
    pub counts: Vec<(String, String, u64)>,
    /// Others may have been refused then: they were counted before hours were told apart, or too long ago.
    pub more: bool,
}

/// One event of the account.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryRow {
    /// Its number, given by the caller; at most `i64::MAX`.
    pub id: u64,
    /// When it was entered.
    pub recorded: Time,
    /// Who entered it.
    pub by: String,
    /// The event as JSON.
    pub json: String,
}

/// One change of one alarm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlarmRow {
    /// Which alarm.
    pub key: String,
    /// When it changed.
    pub at: Time,
    /// The state it left.
    pub from: String,
    /// The state it entered.
    pub to: String,
    /// What it said.
    pub text: String,
}

/// A line of the alarm log with its place in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlarmLogItem {
    /// Grows with every line; give it as `before` to read on.
    pub id: u64,
    /// The change.
    pub row: AlarmRow,
}

/// The latest projection of a clutch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProjectionRow {
    /// Which clutch.
    pub clutch: String,
    /// When it was projected.
    pub at: Time,
    /// The projection as JSON.
    pub json: String,
}

/// A projected time that moved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShiftRow {
    /// Which clutch.
    pub clutch: String,
    /// When it was noticed.
    pub at: Time,
    /// Which stage moved.
    pub stage: String,
    /// The time projected before; `None` for the first projection.
    pub before: Option<Time>,
    /// The time projected now.
    pub after: Time,
    /// The cause, as JSON or as words.
    pub json: String,
}

/// Something to be delivered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutboxRow {
    /// Tells it apart for ever; the receiver knows a repeat by it.
    pub id: String,
    /// How it goes: mail, webhook, MQTT.
    pub way: String,
    /// When it was written.
    pub created: Time,
    /// Not before this time.
    pub next_try: Time,
    /// What is sent.
    pub body: String,
}

/// What has become of a delivery.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutboxFate {
    /// Tries that failed.
    pub tries: u32,
    /// Whether it has arrived.
    pub arrived: bool,
    /// When it was over with, either way.
    pub ended: Option<Time>,
    /// Why the last try failed.
    pub error: Option<String>,
}

/// A delivery and how often it was tried.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutboxItem {
    /// What is to be delivered.
    pub row: OutboxRow,
    /// Tries that failed.
    pub tries: u32,
    /// Why the last one failed.
    pub error: Option<String>,
}

/// What became of a delivery, or of all that wait. A change of an id that is unknown or done with changes nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OutboxChange {
    /// It arrived. Its body is dropped; its id stays, so that it cannot be sent again.
    Delivered {
        /// Which.
        id: String,
        /// When.
        at: Time,
    },
    /// It did not arrive.
    Failed {
        /// Which.
        id: String,
        /// When.
        at: Time,
        /// Why.
        error: String,
        /// When to try again; `None` gives it up.
        next_try: Option<Time>,
    },
    /// The clock has gone back: whatever is to be tried after `after` is tried sooner by `by`.
    Sooner {
        /// What the clock shows now.
        after: Time,
        /// How far it went back.
        by: Span,
    },
}
